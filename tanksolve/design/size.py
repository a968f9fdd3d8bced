"""The smallest tank that meets a requirement, and what a sump would gain."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.conditions import Conditions, Pickups
from tanksolve.analysis.fill_limits import fill_limits
from tanksolve.analysis.required_margin import least_margin
from tanksolve.errors import FillError, PortError, TankError
from tanksolve.model.link import mapped
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Dimension = Literal["length", "width", "height", "scale"]

__all__ = ["DIMENSIONS", "Dimension", "Smallest", "smallest", "stretched"]

DIMENSIONS: dict[str, tuple[int, ...]] = {
    "length": (0,),
    "width": (1,),
    "height": (2,),
    "scale": (0, 1, 2),
}
_LEAST, _MOST, _STEP = 0.02, 50.0, 1.25  # factors searched, and the step of the bracket
_CLOSE = 1e-10  # of the size


@dataclass(frozen=True)
class Smallest:
    """The smallest size in one dimension; see :func:`smallest`.

    Attributes
    ----------
    now_m, smallest_m : outside of the tank's enclosing box along the dimension, for ``scale`` its
        length; the smallest is solved. None where no size from 2 % to 50 times meets it, or where
        none down to 2 % ceases to.
    factor : smallest over now.
    held_m : a size, not smaller, that is proved to meet it with no gap between samples.
    residual : of the equation solved, at ``smallest_m``, in ``residual_unit``.
    solves : sizes at which the tank was solved.
    meets_now : whether the tank as it is meets the requirement.
    """

    dimension: str
    now_m: float
    smallest_m: float | None
    factor: float | None
    held_m: float | None
    residual: float | None
    residual_unit: str
    solves: int
    meets_now: bool


def stretched(
    tank: Tank, ports: Sequence[Port], dimension: Dimension, factor: float
) -> tuple[Tank, tuple[Port, ...]]:
    """The tank stretched about its rear right bottom corner, its ports moved along with it.

    Each port keeps its distance from the nearer of the two walls along an axis that is stretched;
    one that stands in the middle (within 1 % of the size) stays in the middle.
    Raises TankError for a factor that is not positive.
    """
    if not (math.isfinite(factor) and factor > 0.0):
        raise TankError(f"a factor of {factor:g} makes no tank", allowed="more than 0")
    stretch = np.ones(3)
    stretch[list(DIMENSIONS[dimension])] = factor
    vertices = tank.lower + (tank.vertices - tank.lower) * stretch
    moved = []
    for port in ports:
        place = np.array(port.position)
        for axis in DIMENSIONS[dimension]:
            size = float(tank.upper[axis] - tank.lower[axis])
            behind, ahead = place[axis] - tank.lower[axis], tank.upper[axis] - place[axis]
            if abs(behind - ahead) <= 0.02 * size:
                place[axis] = tank.lower[axis] + behind * factor
            elif ahead < behind:
                place[axis] += size * (factor - 1.0)
        x, y, z = (float(c) for c in place)
        moved.append(replace(port, position=(x, y, z)))
    links = tuple(mapped(link, np.diag(stretch), tank.lower) for link in tank.links)
    return replace(tank, vertices=vertices, links=links), tuple(moved)


def smallest(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    dimension: Dimension,
    *,
    fill: Fill | float | None = None,
    usable: float | None = None,
    pickups: Pickups = "all",
    tolerance: float = 1e-4,
) -> Smallest:
    """Solve for the smallest size along ``dimension`` at which the requirement is met.

    fill : the volume stays as it is [m³] and every port must keep its rule; the equation is
        'least margin = 0'. A tank too small for the fill does not meet it.
    usable : or the marks must leave this volume between them [m³]: 'most - least = usable'.
    tolerance : of the bounds, a depth [m].

    The search goes from the present size in steps of a quarter until met and not met are bracketed,
    then by Brent's method: the answer is the end of the stretch of sizes next to the present one,
    smaller sizes further off are not looked at.
    Raises ValueError unless one of fill and usable is given; PortError, FillError.
    """
    if (fill is None) == (usable is None):
        raise ValueError("give a fill or a usable volume")
    now = float((tank.upper - tank.lower)[DIMENSIONS[dimension][0]])
    solves = 0

    def over(factor: float, bound: bool = False) -> float:
        nonlocal solves
        solves += 1
        other, moved = stretched(tank, ports, dimension, factor)
        try:
            if usable is not None:
                return _room(other, moved, requirement, pickups, tolerance, bound) - usable
            return _margin(
                other, moved, requirement, pickups, tolerance, bound, Fill.of(fill or 0.0)
            )
        except (FillError, PortError):  # too small for the fill, or a port is left outside
            return -now

    first = over(1.0)
    bracket = _bracket(over, first >= 0.0)
    unit = "m" if usable is None else "m³"
    if bracket is None:
        return Smallest(dimension, now, None, None, None, None, unit, solves, first >= 0.0)
    factor = _root(over, *bracket)
    held = _held(over, factor)
    return Smallest(
        dimension=dimension,
        now_m=now,
        smallest_m=now * factor,
        factor=factor,
        held_m=None if held is None else now * held,
        residual=over(factor),
        residual_unit=unit,
        solves=solves,
        meets_now=first >= 0.0,
    )


def _bracket(over: Callable[[float], float], met: bool) -> tuple[float, float] | None:
    """Neighbouring factors: the smaller does not meet the requirement, the greater does."""
    factor = 1.0
    while _LEAST < factor < _MOST:
        nearby = factor / _STEP if met else factor * _STEP
        if (over(nearby) >= 0.0) is not met:
            return (nearby, factor) if met else (factor, nearby)
        factor = nearby
    return None


def _root(over: Callable[[float], float], low: float, high: float) -> float:
    """Brent's root, on the side that meets it."""
    from scipy.optimize import brentq

    found = float(brentq(over, low, high, xtol=_CLOSE, rtol=1e-14))
    for _ in range(60):
        if over(found) >= 0.0:
            return found
        found += _CLOSE * found
    return high


def _held(over: Callable[..., float], factor: float) -> float | None:
    """A factor, from the root on, that is proved."""
    step = 1e-4
    for _ in range(20):
        if over(factor * (1.0 + step), True) >= 0.0:
            return factor * (1.0 + step)
        step *= 1.6
    return None


def _margin(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    pickups: Pickups,
    tolerance: float,
    bound: bool,
    fill: Fill,
) -> float:
    worst = least_margin(Conditions.of(tank, ports, fill, pickups), requirement, tolerance)
    return -(worst.bound if bound else worst.value)


def _room(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    pickups: Pickups,
    tolerance: float,
    bound: bool,
) -> float:
    found = fill_limits(tank, ports, requirement, pickups=pickups, tolerance=tolerance)
    if bound:
        return found.most_m3 - found.least_m3
    return found.most_root_m3 - found.least_root_m3
