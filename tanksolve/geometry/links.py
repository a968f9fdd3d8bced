"""Flaps in plates and balance pipes, as links of a finished tank.

The tank is built with its flaps shut: the room in such an opening, no thicker than the plate, counts
as plate. A pipe takes no room and adds none.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.booleans import Body, mesh_of, to_body
from tanksolve.geometry.solids import cuboid
from tanksolve.model.link import Link, corners, pipe
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = ["NEAR_TO_FAR", "BalancePipe", "Flap", "flap_link", "pipe_link"]

NEAR_TO_FAR = ("forward", "left", "up")
_HAIR = 1e-5  # of the tank's size: how far inside a mouth the liquid is looked for
_INWARD = 1e-3  # of an opening's half size: so as not to stand on a wall that it ends at


class Flap(NamedTuple):
    """An opening with a flap: its plate, its words, the way that it opens, and its room in the plate."""

    baffle: Baffle
    words: str
    way: str
    room: Body


@dataclass(frozen=True)
class BalancePipe:
    """A round pipe from one part of a tank to another, open both ways.

    ``run`` are the corners of its centre line from mouth to mouth [m], ``bore`` its inner diameter [m].
    Raises TankError for a run of less than two places, or of places that coincide, or without a bore.
    """

    name: str
    run: tuple[tuple[float, float, float], ...]
    bore: float

    def __post_init__(self) -> None:
        where = f"balance pipe '{self.name}'"
        steps = np.diff(np.asarray(self.run, np.float64), axis=0)
        if len(self.run) < 2 or np.linalg.norm(steps, axis=1).min() <= 0.0:
            raise TankError(
                "its run has no length",
                where=where,
                allowed="two places or more, no two in a row the same",
            )
        along = steps / np.linalg.norm(steps, axis=1)[:, None]
        if len(along) > 1 and np.einsum("ij,ij->i", along[1:], along[:-1]).min() < -0.99:
            raise TankError("its run turns back on itself", where=where)
        if not self.bore > 0.0:
            raise TankError(f"a bore of {stated(self.bore, 'length')} is not positive", where=where)

    def ends(self) -> list[Body]:
        """A small block about each mouth, to find the room that it opens into."""
        half = 0.25 * self.bore
        places = (np.asarray(self.run[0]), np.asarray(self.run[-1]))
        return [to_body(cuboid(place - half, place + half)) for place in places]


def flap_link(flap: Flap, tank: Tank, shell: Tank) -> Link:
    """The link through a flap in a plate of the finished ``tank``, measured from its ``shell``.

    Raises TankError where the opening ends in something solid.
    """
    points = mesh_of(flap.room)[0]
    foot, axes = flap.baffle.foot(shell), flap.baffle.axes
    depth = (points - foot) @ axes[:, 2]
    near = depth < 0.5 * flap.baffle.thickness
    normal = _hair(tank) * axes[:, 2]
    where = f"baffle '{flap.baffle.name}'"
    sides = [
        (corners(points[side]), _mouth(points[side], off, tank, where, flap.words))
        for side, off in ((near, -normal), (~near, normal))
    ]
    if flap.way not in NEAR_TO_FAR:
        sides.reverse()
    (first, inside), (last, outside) = sides
    name = f"{flap.baffle.name}, {flap.words}"
    return Link(name, "flap", flap.way, (first, last), (inside, outside))


def _hair(tank: Tank) -> float:
    return _HAIR * float(np.linalg.norm(tank.upper - tank.lower))


def _mouth(points: Array, off: Array, tank: Tank, where: str, words: str) -> Array:
    """Each corner moved a hair inwards and off the plate; the middle where a wall is in the way."""
    middle = points.mean(axis=0) + off
    moved = points + _INWARD * (points.mean(axis=0) - points) + off
    inside = tank.winding(np.vstack([middle, moved])) > 0.5
    if not inside[0]:
        raise TankError(
            f"the flap over the {words} opens onto something solid",
            where=where,
            next_step="check what stands beside the opening",
        )
    return np.asarray(np.where(inside[1:, None], moved, middle))


def pipe_link(balance: BalancePipe, tank: Tank) -> Link:
    """The link through a balance pipe of the finished ``tank``.

    Raises TankError where a mouth, its rim included, does not open into the liquid space.
    """
    link = pipe(balance.name, balance.run, balance.bore, _hair(tank))
    ends = (link.stations[0], link.stations[-1])
    for rows, mouth, word in zip(ends, link.mouths, ("first", "last"), strict=True):
        turns = np.linspace(0.0, 2.0 * np.pi, 8, endpoint=False)[:, None]
        rim = mouth + 0.999 * (np.cos(turns) * rows[:, 3:6] + np.sin(turns) * rows[:, 6:])
        if (tank.winding(np.vstack([mouth, rim])) < 0.5).any():
            place = stated(rows[0, :3], "length", ", ", solved=True)
            raise TankError(
                f"the mouth at its {word} place, {place}, does not open into the tank",
                where=f"balance pipe '{balance.name}'",
                allowed="a place on a wall or in the liquid space, half a bore clear of floor and roof",
                next_step="begin and end the run at the inside of a wall, at a right angle to it",
            )
    return link
