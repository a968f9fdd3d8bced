"""From a port's opening to the places at which its liquid is looked for.

An opening that hangs together in the liquid has one least fill: ways inside it stay below its edge.
So a wet port needs one place in each part of its opening that walls cut off, and a strainer one at each
end, since a plate may part it. A dry port is met first at its lowest point, and at the lowest of each part
that a wall cuts off; with a clearance, liquid below any part of it counts.
"""

import math
from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.model.ports import Port, Rule
from tanksolve.model.sight import ends_at_walls, parts_behind_walls
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = [
    "dry_fixed",
    "dry_places",
    "dry_places_over",
    "edge_of",
    "is_wet",
    "wet_places",
    "worst_place",
]

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
    ends = port.ends
    between = [0.5 * (ends[0] + ends[1])] if len(ends) > 1 else []
    whole = np.array([tank.seated(point) for point in (*ends, *between)])
    return np.vstack([whole, _seated_corners(tank, port), parts_behind_walls(tank, port)])


def dry_places(port: Port, up: Array, fixed: Array) -> Array:
    """Points (D, 1 + Q, 3) [m] of a dry port below which liquid counts: its opening's lowest, ``fixed`` (Q, 3)."""
    low = _lowest(port.discs, up)
    heights = np.einsum("dki,di->dk", low, up)
    lowest = low[np.arange(len(up)), np.argmin(heights, axis=1)]
    around = np.broadcast_to(fixed, (len(up), *fixed.shape))
    return np.concatenate([lowest[:, None], around], axis=1)


def dry_places_over(
    tank: Tank, port: Port, up: Array, hulls: Array, fixed: Array
) -> tuple[Array, Array]:
    """The same all over hulls (D, J, 3) about ``up``: places (D, K + Q, 3), and how far each moves there [m].

    A disc's lowest point moves by its radius times what the direction down its plane turns: of unit vectors
    p' and q' along p and q that is at most 2 |p - q| / (|p| + |q|).
    """
    unit = hulls / np.linalg.norm(hulls, axis=-1, keepdims=True)
    chord = np.linalg.norm(unit - up[:, None], axis=-1).max(axis=1)
    discs = port.discs[port.discs[:, 6:].any(axis=1)]  # a point is among ``fixed``
    low, moves = _lowest(discs, up), np.empty((len(up), len(discs)))
    for k, row in enumerate(discs):
        long = np.linalg.norm(np.cross(up, row[3:6]), axis=1)
        turn = np.minimum(2.0 * chord / np.maximum(2.0 * long - chord, 1e-300), 2.0)
        moves[:, k] = row[6] * np.where(2.0 * long > chord, turn, 2.0) + row[7] * chord
        seat, reach = tank.seated(row[:3]), row[6] + row[7]
        whole = moves[:, k] >= reach  # then any point of it may be the lowest
        low[:, k] = np.where(whole[:, None], seat, low[:, k] + (seat - row[:3]))
        shift = float(np.linalg.norm(seat - row[:3]))
        moves[:, k] = np.where(whole, reach, moves[:, k]) + shift
    places = np.concatenate([low, np.broadcast_to(fixed, (len(up), *fixed.shape))], axis=1)
    return places, np.hstack([moves, np.zeros((len(up), len(fixed)))])


def dry_fixed(tank: Tank, port: Port, *, all_round: bool) -> Array:
    """Points (Q, 3) [m] of a dry port's opening that count at any attitude, moved into the liquid.

    Its centre, its corners, and where its edges meet walls that go through it.
    all_round : also eight about each rim, and between corners, of those that are not outside the tank: for a
        clearance.
    """
    corners = _seated_corners(tank, port)
    places = [tank.seated(port.position), *corners, *ends_at_walls(tank, port)]
    if all_round and port.mouths[:, 6:].any():
        hair = 1e-7 * float(np.linalg.norm(tank.upper - tank.lower))
        for point in _between_corners(port) if port.rim else _rims(port.discs):
            if tank.winding(point)[0] > 0.5 or tank.distance_to_wall(point) <= hair:
                places.append(tank.seated(point))
    return np.array(places)


def _lowest(discs: Array, up: Array) -> Array:
    """Lowest point (D, K, 3) [m] of each of K discs."""
    across = up[:, None, :] - (up @ discs[:, 3:6].T)[..., None] * discs[None, :, 3:6]
    length = np.linalg.norm(across, axis=-1, keepdims=True)
    down = across / np.where(length > 0.0, length, 1.0)
    return np.asarray(discs[:, :3] - discs[:, 6:7] * down - discs[:, 7:8] * up[:, None, :])


def _seated_corners(tank: Tank, port: Port) -> Array:
    """Corners (K, 3) [m] of an opening that is not round, moved into the liquid; none of a round one."""
    places = [tank.seated(end + corner) for end in port.ends for corner in np.array(port.rim)]
    return np.array(places).reshape(-1, 3)


def _between_corners(port: Port) -> Array:
    """Points (M, 3) [m] that part each side of an outline in three."""
    outline = port.outline
    after = np.roll(outline, -1, axis=0)
    sides = np.concatenate([outline + (after - outline) / 3.0, outline + (after - outline) / 1.5])
    return np.concatenate([end + sides for end in port.ends])


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
