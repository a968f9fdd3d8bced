"""Sumps: pots under the floor of a tank, open to it."""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np

from tanksolve.errors import TankError
from tanksolve.geometry.booleans import Body, intersection, subtract, to_body
from tanksolve.geometry.profile import CHORD_TOLERANCE
from tanksolve.geometry.sizes import nominal_box
from tanksolve.geometry.solids import Solid, cuboid, loft, revolve
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

__all__ = ["Pot", "Sump", "box_sump", "hang", "round_sump"]

_OVERLAP = (
    1e-3  # of the tank's height: how far a pot's throat reaches into the tank, for the boolean
)


@dataclass(frozen=True)
class Sump:
    """A pot that hangs under the floor.

    Attributes
    ----------
    name : how the user calls it.
    at : centre of the pot in plan, (forward, left) from the rear right corner of the tank [m].
    depth : below the lowest point of the floor inside the rim [m].
    top, bottom : (forward, across) sizes at the rim and at the bottom [m].
    is_round : the sizes are diameters.
    chord_tolerance : for a round one [m].
    """

    name: str
    at: tuple[float, float]
    depth: float
    top: tuple[float, float]
    bottom: tuple[float, float]
    is_round: bool = False
    chord_tolerance: float = CHORD_TOLERANCE

    def __post_init__(self) -> None:
        sizes = {"depth": self.depth, "size at the rim": min(self.top)}
        for what, size in sizes.items():
            if not (np.isfinite(size) and size > 0.0):
                raise TankError(
                    f"a {what} of {stated(size, 'length')} is not positive",
                    where=f"sump '{self.name}'",
                )
        least = min(self.bottom)
        if not (np.isfinite(least) and (least > 0.0 or (self.is_round and least == 0.0))):
            raise TankError(
                f"a size at the bottom of {stated(least, 'length')}", where=f"sump '{self.name}'"
            )

    def solid(self, throat: float, wider: float = 0.0) -> Solid:
        """The pot about its axis, floor at z = 0, its straight throat reaching up to ``throat`` [m]."""
        grow = np.array([wider, wider])
        top, bottom = np.add(self.top, grow), np.add(self.bottom, grow)
        if self.is_round:
            wall = [(0.5 * top[0], 0.0), (0.5 * top[0], throat), (0.0, throat)]
            foot = [(0.0, -self.depth)] + (
                [(0.5 * bottom[0], -self.depth)] if bottom[0] > 0.0 else []
            )
            return revolve(foot + wall, self.chord_tolerance)
        square = np.array([[-0.5, -0.5], [0.5, -0.5], [0.5, 0.5], [-0.5, 0.5]])
        return loft([square * bottom, square * top, square * top], [-self.depth, 0.0, throat])


def box_sump(
    name: str,
    at: tuple[float, float],
    length: float,
    width: float,
    depth: float,
    *,
    bottom_length: float | None = None,
    bottom_width: float | None = None,
) -> Sump:
    """A rectangular pot, ``length`` forward and ``width`` across [m]; narrower at the bottom if told."""
    bottom = (
        length if bottom_length is None else bottom_length,
        width if bottom_width is None else bottom_width,
    )
    return Sump(name, at, depth, (length, width), bottom)


def round_sump(
    name: str,
    at: tuple[float, float],
    diameter: float,
    depth: float,
    *,
    bottom_diameter: float | None = None,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Sump:
    """A round pot [m]: a cylinder, or a cone that narrows to ``bottom_diameter`` (0 is a point)."""
    low = diameter if bottom_diameter is None else bottom_diameter
    return Sump(name, at, depth, (diameter, diameter), (low, low), True, chord_tolerance)


class Pot(NamedTuple):
    """A sump in place: its solid, the same as a body, and a wider one that plates must keep out of."""

    solid: Solid
    body: Body
    wider: Body
    under_plane_floor: bool


def hang(sump: Sump, shell: Body, tank: Tank) -> Pot:
    """Hang a sump under a tank's shell, its throat reaching into the tank.

    Raises TankError where the rim is not wholly under the floor.
    """
    low, high = _floor_inside_rim(sump, shell, tank)
    height = float(tank.upper[2] - tank.lower[2])
    throat = high - low + _OVERLAP * height
    place = (*_place(sump, tank), low)
    solid = sump.solid(throat).moved(place)
    wider = sump.solid(throat, 1e-3 * min(sump.top)).moved(place)
    return Pot(solid, to_body(solid), to_body(wider), high - low <= 1e-9 * height)


def _floor_inside_rim(sump: Sump, shell: Body, tank: Tank) -> tuple[float, float]:
    """Lowest and highest height [m] of the tank's floor inside the rim of the pot."""
    size = tank.upper - tank.lower
    middle = float(tank.centre[2])
    x, y = _place(sump, tank)
    a, b = 0.5 * sump.top[0], 0.5 * sump.top[1]
    below = float(tank.lower[2] - 0.1 * size[2])
    column = to_body(cuboid((x - a, y - b, below), (x + a, y + b, middle)))
    if sump.is_round:
        straight = round_sump(
            sump.name, sump.at, sump.top[0], middle - below, chord_tolerance=sump.chord_tolerance
        )
        column = to_body(straight.solid(0.0).moved((x, y, middle)))
    outside = subtract(column, [shell])
    wet = intersection(column, shell)
    floor_top = float(outside.bounding_box()[5])
    if wet.is_empty() or floor_top >= middle:
        raise TankError(
            f"the rim, {stated(sump.top, 'length')}, is not wholly under the tank's floor",
            where=f"sump '{sump.name}'",
            allowed=f"a centre and size inside {stated(size[:2], 'length')}, seen from above",
            next_step="measure its centre from the rear wall and from the right wall",
        )
    return float(wet.bounding_box()[2]), floor_top


def _place(sump: Sump, tank: Tank) -> tuple[float, float]:
    corner, _ = nominal_box(tank)
    return float(corner[0]) + sump.at[0], float(corner[1]) + sump.at[1]
