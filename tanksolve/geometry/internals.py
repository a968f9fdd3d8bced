"""Solid things in a tank that take room from the liquid: blocks, pump bodies, tubes, ribs."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.profile import CHORD_TOLERANCE, circle
from tanksolve.geometry.sizes import nominal_box
from tanksolve.geometry.solids import Solid, axis_of, cuboid, prism
from tanksolve.model.tank import Tank

__all__ = ["WALLS", "Internal", "block", "drop_tube", "rib", "rod", "tube"]

WALLS = {
    "rear": (0, 0),
    "front": (0, 1),
    "right": (1, 0),
    "left": (1, 1),
    "floor": (2, 0),
    "roof": (2, 1),
}
_BEYOND = (
    0.1  # of the tank's size: how far what ends at a wall is carried through it, for the boolean
)
_FLUSH = 1e-6  # of the tank's size: closer to a wall than this is against it
Array = NDArray[np.float64]


@dataclass(frozen=True)
class Internal:
    """A solid displacer.

    Attributes
    ----------
    name : how the user calls it.
    kind : ``block`` or ``round``.
    low, high : rear right bottom and front left top corner of its enclosing box (3,) [m], from the
        tank's own; infinite where it runs through the wall.
    lies : axis of a round one.
    """

    name: str
    kind: str
    low: tuple[float, float, float]
    high: tuple[float, float, float]
    lies: str = "upright"
    chord_tolerance: float = CHORD_TOLERANCE

    def __post_init__(self) -> None:
        size = np.subtract(self.high, self.low)
        if not (np.all(size > 0.0) and not np.any(np.isnan(size))):
            raise TankError(
                "a size is not positive",
                where=f"internal '{self.name}'",
                allowed="lengths above 0, with their unit",
            )

    @property
    def axis(self) -> int:
        """Number of the tank axis that a round one lies along."""
        return axis_of(self.lies)

    def solid(self, tank: Tank) -> Solid:
        """The displacer in tank axes; an end at a wall of the enclosing box is carried through it."""
        corner, far = nominal_box(tank)
        size = far - corner
        if np.any(np.asarray(self.low) >= size) or np.any(np.asarray(self.high) <= 0.0):
            raise TankError(
                "it lies outside the tank",
                where=f"internal '{self.name}'",
                next_step="check its place and size",
            )
        reach, flush = _BEYOND * float(size.max()), _FLUSH * float(size.max())
        low, high = np.array(self.low), np.array(self.high)
        low = np.where(np.isinf(low) | (np.abs(low) <= flush), -reach, low)
        high = np.where(np.isinf(high) | (np.abs(high - size) <= flush), size + reach, high)
        if self.kind == "round":
            across = [k for k in range(3) if k != self.axis]
            low[across], high[across] = np.asarray(self.low)[across], np.asarray(self.high)[across]
            diameter = float(high[across[0]] - low[across[0]])
            round_one = circle(0.5 * diameter, self.chord_tolerance).moved(
                0.5 * diameter, 0.5 * diameter
            )
            return prism(round_one, float(high[self.axis] - low[self.axis]), self.lies).moved(
                corner + low
            )
        return cuboid(corner + low, corner + high)


def block(
    name: str, corner: tuple[float, float, float], length: float, width: float, height: float
) -> Internal:
    """A rectangular block from its rear right bottom ``corner``; sizes forward, left, up [m]."""
    x, y, z = corner
    return Internal(name, "block", (x, y, z), (x + length, y + width, z + height))


def rod(
    name: str,
    at: tuple[float, float, float],
    diameter: float,
    length: float,
    lies: str = "upright",
    *,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Internal:
    """A round block, such as a pump body, from the centre of its rear, right or bottom end [m]."""
    axis = _axis(name, lies)
    low, high = np.array(at, float) - 0.5 * diameter, np.array(at, float) + 0.5 * diameter
    low[axis], high[axis] = at[axis], at[axis] + length
    return Internal(name, "round", _three(low), _three(high), lies, chord_tolerance)


def tube(
    name: str,
    at: tuple[float, float],
    diameter: float,
    lies: str = "upright",
    *,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Internal:
    """A closed tube from wall to wall, ``diameter`` over the outside [m].

    ``at`` is where its axis runs: (from the right wall, from the floor) for one along the machine,
    (from the rear wall, from the floor) across, (from the rear wall, from the right wall) upright.
    """
    axis = _axis(name, lies)
    centre = np.insert(np.array(at, float), axis, 0.0)
    low, high = centre - 0.5 * diameter, centre + 0.5 * diameter
    low[axis], high[axis] = -np.inf, np.inf
    return Internal(name, "round", _three(low), _three(high), lies, chord_tolerance)


def drop_tube(
    name: str,
    at: tuple[float, float],
    diameter: float,
    mouth: float,
    *,
    chord_tolerance: float = CHORD_TOLERANCE,
) -> Internal:
    """A pipe that comes down through the roof to ``mouth`` above the floor [m].

    It displaces its full outside diameter: what stands in its bore is in the line, not in the tank.
    """
    radius = 0.5 * diameter
    low, high = (at[0] - radius, at[1] - radius, mouth), (at[0] + radius, at[1] + radius, np.inf)
    return Internal(name, "round", low, high, "upright", chord_tolerance)


def rib(
    name: str,
    on: str,
    runs: str,
    at: float,
    height: float,
    thickness: float,
    tank: Tank,
    *,
    start: float | None = None,
    stop: float | None = None,
) -> Internal:
    """A flat bar on edge, welded to a plane wall.

    Parameters
    ----------
    on : floor, roof, right, left, rear or front.
    runs : ``along`` the machine, ``across`` it, or ``upright``.
    at : from the rear wall, right wall or floor (whichever the bar does not run or stand along) to
        its near side [m].
    height : how far it stands into the tank [m].
    start, stop : where it begins and ends along its run [m]; from wall to wall where not given.
    """
    where = f"internal '{name}'"
    if on not in WALLS:
        raise TankError(f"'{on}' is not a wall", where=where, allowed=", ".join(WALLS))
    run = _axis(name, runs)
    wall, end = WALLS[on]
    if run == wall:
        raise TankError(
            f"a rib on the {on} cannot run {runs}", where=where, allowed="a direction in the wall"
        )
    third = 3 - run - wall
    low, high = np.empty(3), np.empty(3)
    low[run] = -np.inf if start is None else start
    high[run] = np.inf if stop is None else stop
    low[third], high[third] = at, at + thickness
    corner, far = nominal_box(tank)
    size = float((far - corner)[wall])
    low[wall], high[wall] = (-np.inf, height) if end == 0 else (size - height, np.inf)
    return Internal(name, "block", _three(low), _three(high))


def _axis(name: str, lies: str) -> int:
    try:
        return axis_of(lies)
    except TankError as error:
        raise error.at(f"internal '{name}'") from None


def _three(values: Array) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in values)
    return x, y, z
