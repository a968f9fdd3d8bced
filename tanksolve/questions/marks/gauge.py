"""Dipsticks and sight glasses: from a volume to a mark that is safe to read on a slight slope."""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.attitude.cells import half_spaces
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.worst_case import worst_case

Array = NDArray[np.float64]

__all__ = ["Gauge", "GaugeMarks", "gauge_marks", "level_dip", "volume_on_level"]

_UP = np.array([[0.0, 0.0, 1.0]])
_POINT = np.array([[0.0, 0.0, 0.0, 0.0, 0.0, 1.0, 0.0, 0.0]])
_CLOSE = 1e-4  # m, by how much a bounded reading may be beyond the solved one


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
    least_m3, most_m3 : what the tank holds when the liquid stands at the mark on level ground.
    """

    gauge: str
    least_mark_m: float
    most_mark_m: float
    least_m3: float
    most_m3: float


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
    low = _highest_reading(tank, gauge, least, tilt) + reading_error
    high = _lowest_reading(tank, gauge, most, tilt) - reading_error
    held = [
        volume_on_level(tank, gauge.foot[2] + mark * gauge.direction[2]) for mark in (low, high)
    ]
    return GaugeMarks(gauge.name, low, high, held[0], held[1])


def volume_on_level(tank: Tank, height: float) -> float:
    """Volume [m³] below ``height`` [m] along z, standing level."""
    return min(float(volumes(tank.tree, _UP, [height])[0][0]), tank.capacity)


def level_dip(tank: Tank, volume: float) -> float:
    """Depth [m] over the lowest point of ``volume`` [m³], standing level."""
    inside = min(max(volume, 0.0), tank.capacity)
    return float(levels(tank.tree, _UP, inside)[0][0] - tank.lower[2])


def _reading(tank: Tank, gauge: Gauge, volume: float, up: Array) -> Array:
    height = levels(tank.tree, up, volume)[0]
    return np.asarray((height - up @ np.array(gauge.foot)) / (up @ gauge.direction))


def _bounded(tank: Tank, gauge: Gauge, volume: float, up: Array, hulls: Array, dry: bool) -> Array:
    """Readings (D, J) from the half-spaces of a point that stays dry, or wet, all over a hull."""
    height = levels(tank.tree, up, volume)[0]
    normal, offset = half_spaces(tank.lower, tank.upper, _POINT, 0.0, up, hulls, height, dry=dry)
    return np.asarray((offset - normal @ np.array(gauge.foot)) / (normal @ gauge.direction))


def _highest_reading(tank: Tank, gauge: Gauge, volume: float, tilt: float) -> float:
    if volume <= 0.0 or tilt <= 0.0:
        return float(_reading(tank, gauge, max(volume, 0.0), _UP)[0])
    return worst_case(
        Requirement.every_heading(tilt),
        lambda up: _reading(tank, gauge, volume, up),
        lambda up, hulls: _bounded(tank, gauge, volume, up, hulls, True).max(axis=1),
        _CLOSE,
    ).bound


def _lowest_reading(tank: Tank, gauge: Gauge, volume: float, tilt: float) -> float:
    volume = min(volume, tank.capacity)
    if tilt <= 0.0:
        return float(_reading(tank, gauge, volume, _UP)[0])
    return -worst_case(
        Requirement.every_heading(tilt),
        lambda up: -_reading(tank, gauge, volume, up),
        lambda up, hulls: -_bounded(tank, gauge, volume, up, hulls, False).min(axis=1),
        _CLOSE,
    ).bound
