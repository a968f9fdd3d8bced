"""From a port's opening to the places at which its liquid is looked for.

An opening that hangs together in the liquid has one least fill: ways inside it stay below its edge.
So a wet port needs one place, and a strainer one at each end, since a plate may part it. A dry port
is met first at its lowest point; with a clearance, liquid below any part of it counts.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["dry_places", "edge_of", "is_wet", "wet_places", "worst_place"]

_AROUND = np.radians(np.arange(0.0, 360.0, 45.0))


def is_wet(port: Port) -> bool:
    """Whether a port must stay wet."""
    return port.effective_rule is Rule.WET


def edge_of(port: Port, up: Array) -> Array:
    """Height that liquid must reach over a wet port, or stay below at a dry one: (...,) [m].

    up : (..., 3)   not necessarily of unit length: the height is that of ``up`` times as much. For a
        wet port it is convex in ``up``, for a dry one concave.
    """
    size = np.linalg.norm(up, axis=-1)
    flat = (up / size[..., None]).reshape(-1, 3)
    support, cover = (support_high, 1.0) if is_wet(port) else (support_low, -1.0)
    edge = support(port.discs, flat) + cover * port.required_cover
    return np.asarray(size * edge.reshape(size.shape))


def wet_places(tank: Tank, port: Port) -> Array:
    """Places (Q, 3) [m] in the liquid space, one in each part of the opening that a plate may cut off."""
    ends = port.discs[:, :3]
    between = [0.5 * (ends[0] + ends[1])] if len(ends) > 1 else []
    return np.array([tank.seated(point) for point in (*ends, *between)])


def dry_places(tank: Tank, port: Port, up: Array, *, all_round: bool) -> Array:
    """Points (D, Q, 3) [m] of a dry port's opening below which liquid counts: its lowest, its centre.

    all_round : eight about the rim of each end too, for a clearance or for more than one attitude.
    """
    discs, rows = port.discs, np.arange(len(up))
    across = up[:, None, :] - (up @ discs[:, 3:6].T)[..., None] * discs[None, :, 3:6]
    length = np.linalg.norm(across, axis=-1, keepdims=True)
    down = across / np.where(length > 0.0, length, 1.0)
    low = discs[:, :3] - discs[:, 6:7] * down - discs[:, 7:8] * up[:, None, :]
    lowest = low[rows, np.argmin(np.einsum("dki,di->dk", low, up), axis=1)]
    centre = np.broadcast_to(tank.seated(port.position), (len(up), 3))
    places = [lowest[:, None], centre[:, None]]
    if all_round and discs[:, 6:].any():
        places.append(np.broadcast_to(_rims(discs), (len(up), 8 * len(discs), 3)))
    return np.concatenate(places, axis=1)


def _rims(discs: Array) -> Array:
    """Eight points about each rim (8 K, 3) [m]."""
    out = []
    for row in discs:
        axis = row[3:6]
        side = np.cross(axis, np.eye(3)[np.argmin(np.abs(axis))])
        side /= math.sqrt(float(side @ side))
        ring = np.cos(_AROUND)[:, None] * side + np.sin(_AROUND)[:, None] * np.cross(axis, side)
        out.append(row[:3] + (row[6] + row[7]) * ring)
    return np.concatenate(out)


def worst_place(
    of: Callable[[NDArray[np.intp]], Array], group: tuple[int, ...], owner: NDArray[np.intp]
) -> Array:
    """The greatest value over the ways to take one place of each of a group's ports.

    of : places taken, one for each of the group's ports -> (D,); owner : (Q,), the place in
    the group of the port that each place is of.
    """
    choices = [np.flatnonzero(owner == member) for member in range(len(group))]
    most = max(len(one) for one in choices)
    rounds = [np.array([one[min(r, len(one) - 1)] for one in choices]) for r in range(most)]
    return np.asarray(np.max([of(at) for at in rounds], axis=0))
