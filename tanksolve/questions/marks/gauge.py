"""Dipsticks and sight glasses: from a volume to a mark that is safe to read on a slight slope.

A stick tells of the pool that it stands in. A least mark stands where that pool alone holds enough, a
most mark where all other hollows may be full besides: ``state.stick``.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.stick import held_at, levels_over
from tanksolve.state.worst_case import worst_case
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = ["Gauge", "GaugeMarks", "deepest", "gauge_marks", "level_dip", "place_on", "stick_of"]

_UP = np.array([[0.0, 0.0, 1.0]])
_CLOSE = 1e-4  # m, by how much a bounded reading may be beyond the solved one
_DEEP = 1e-3  # of the tank's depth: a floor this near to the lowest point is as low
_ABOVE_A_SILL = 1e-4  # m: at the sill itself the bay may be brim-full and the next one empty


@dataclass(frozen=True)
class Gauge:
    """A straight scale that liquid climbs: a dipstick, or a sight glass on the wall.

    Attributes
    ----------
    name : how the user calls it.
    foot : where its scale reads nought [m], tank frame: a stick's tip, a glass's lower end.
    lean : angle between the scale and the tank's z axis [rad].
    towards : heading to which its upper end leans [rad]: 0 forward, 90° left.

    Raises PortError for a lean at or past 80 degrees.
    """

    name: str
    foot: tuple[float, float, float]
    lean: float = 0.0
    towards: float = 0.0

    def __post_init__(self) -> None:
        if not 0.0 <= self.lean < math.radians(80.0):
            raise PortError(
                f"a scale that leans {math.degrees(self.lean):g}° cannot be read",
                where=f"gauge '{self.name}'",
                allowed="0° to below 80°",
            )

    @property
    def direction(self) -> Array:
        """Unit vector (3,) up the scale."""
        flat = math.sin(self.lean)
        return np.array(
            [flat * math.cos(self.towards), flat * math.sin(self.towards), math.cos(self.lean)]
        )


@dataclass(frozen=True)
class GaugeMarks:
    """Two marks on one gauge, readings from its nought along the scale.

    Attributes
    ----------
    least_mark_m, most_mark_m : allowances taken in [m]; negative is below the nought.
    least_m3, most_m3 : what the tank holds with the liquid at the mark on level ground: at least at
        the least mark, at most at the most mark.
    at_least_mark_m3, at_most_mark_m3 : least and most that it may hold there; the two differ where bays
        do not join below the mark.
    over_a_sill : whether the least mark stands just above a sill, since below it a bay may hold it all:
        much less, poured in and known, may be enough.
    """

    gauge: str
    least_mark_m: float
    most_mark_m: float
    least_m3: float
    most_m3: float
    at_least_mark_m3: tuple[float, float]
    at_most_mark_m3: tuple[float, float]
    over_a_sill: bool

    @property
    def tells(self) -> bool:
        """Whether some reading is sure of both: the least mark is not above the most."""
        return self.least_mark_m <= self.most_mark_m


def gauge_marks(
    tank: Tank,
    gauge: Gauge,
    least: float,
    most: float,
    *,
    reading_error: float = 0.0,
    tilt: float = 0.0,
) -> GaugeMarks:
    """Place marks so that any reading at or between them means a volume from least to most [m³].

    reading_error : of the scale [m], either way.
    tilt : the machine may stand this far from level, in any heading, while it is read [rad].
    """
    low = _extreme_reading(tank, gauge, least, tilt, highest=True)
    over_a_sill = low > 0.0 and _held(tank, gauge, low)[0] < least * (1.0 - 1e-9)
    low += _ABOVE_A_SILL if over_a_sill else 0.0
    low += reading_error
    high = _extreme_reading(tank, gauge, most, tilt, highest=False) - reading_error
    below, above = _held(tank, gauge, low), _held(tank, gauge, high)
    return GaugeMarks(gauge.name, low, high, below[0], above[1], below, above, over_a_sill)


def level_dip(tank: Tank, volume: float) -> float:
    """Depth [m] over the lowest point of ``volume`` [m³] at one level, standing level."""
    inside = min(max(volume, 0.0), tank.capacity)
    return float(levels(tank.tree, _UP, inside)[0][0] - tank.lower[2])


def stick_of(tank: Tank, ports: Sequence[Port]) -> Gauge:
    """The upright dipstick of a tank that none is given for; its nought is the lowest point of the liquid.

    In the middle of a convex tank, elsewhere at :func:`deepest`.
    """
    words, at = "in the middle of the tank", tank.centre
    if not tank.is_convex:
        words, at = deepest(tank, ports)
    return Gauge(words, (float(at[0]), float(at[1]), float(tank.lower[2])))


def deepest(
    tank: Tank, ports: Sequence[Port], up: Sequence[float] = (0.0, 0.0, 1.0)
) -> tuple[str, Array]:
    """Where a stick reaches the lowest point of the liquid, in words, and a place (3,) [m] a hair above that.

    At the filler or a pickup that stands over it, else over the lowest corner.
    """
    direction = np.array(up, float)
    heights = tank.vertices @ direction
    floor = heights.min() + _DEEP * np.ptp(heights)
    for kind in (PortKind.FILLER, PortKind.PICKUP):
        for port in ports:
            at = np.array(port.position) + (floor - direction @ port.position) * direction
            if port.kind is kind and tank.winding(at)[0] > 0.5:
                return f"at '{port.name}'", at
    return "over the lowest point", tank.seated(tank.vertices[np.argmin(heights)])


def place_on(tank: Tank, gauge: Gauge, height: float) -> Array:
    """The place (3,) [m] on a gauge that is in the liquid space and nearest to a height over its nought.

    Raises PortError where no part of it is in the tank.
    """
    foot, way = np.array(gauge.foot), gauge.direction
    at = float(np.clip(height / way[2], 0.0, None))
    reach = float(np.linalg.norm(tank.upper - tank.lower)) / way[2]
    steps = np.concatenate([[at], np.linspace(0.0, reach, 401)])
    for step in steps[np.argsort(np.abs(steps - at), kind="stable")]:
        place = tank.seated(foot + step * way)
        if tank.winding(place)[0] > 0.5:
            return place
    raise PortError(
        f"no part of the scale is in the liquid space: it begins at {stated(foot, 'length', ', ')}",
        where=f"gauge '{gauge.name}'",
        allowed="a place between the walls, clear of plates",
        next_step=tank.origin_words,
    )


def _held(tank: Tank, gauge: Gauge, mark: float) -> tuple[float, float]:
    """Least and most volume [m³] with the liquid at a mark, standing level."""
    height = gauge.foot[2] + mark * gauge.direction[2]
    place = place_on(tank, gauge, mark) if not tank.is_convex else np.array(gauge.foot)
    least, most = held_at(tank, place, height)
    return float(least[0]), float(most[0])


def _extreme_reading(
    tank: Tank, gauge: Gauge, volume: float, tilt: float, *, highest: bool
) -> float:
    """The highest or the lowest reading [m] of a volume on slopes up to ``tilt`` [rad], or on level ground."""
    volume = min(max(volume, 0.0), tank.capacity)
    foot, way = np.array(gauge.foot), gauge.direction
    level = float(levels(tank.tree, _UP, volume)[0][0]) - foot[2]
    place = foot if tank.is_convex else place_on(tank, gauge, level)
    sign = 1.0 if highest else -1.0

    def reading(up: Array, hulls: Array | None = None) -> Array:
        over = sign * levels_over(tank, place, volume, up, hulls)[int(highest)]
        least = most = up @ way
        if hulls is not None:
            apart = np.linalg.norm(hulls - up[:, None], axis=2)
            least = (hulls @ way / np.linalg.norm(hulls, axis=2)).min(axis=1)
            most = np.minimum(most + apart.max(axis=1), 1.0)
        # the place lies on the scale, or a hair beside it
        return np.maximum(over / least, over / most) + sign * float((place - foot) @ way)

    if volume <= 0.0 or tilt <= 0.0:
        return sign * float(reading(_UP)[0])
    return sign * worst_case(Requirement.every_heading(tilt), reading, reading, _CLOSE).bound
