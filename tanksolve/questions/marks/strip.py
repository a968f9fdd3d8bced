"""A scale to be stuck on a dipstick or beside a sight glass: where on it each volume stands.

A stick reads the pool that it stands in. A volume gets a line only where the level over the stick is one,
whatever the machine did before; where bays may share it out otherwise, the scale is silent.
"""

import math
from dataclasses import dataclass

import numpy as np

from tanksolve.errors import FillError
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.gauge import Gauge, GaugeMarks, place_on
from tanksolve.state.stick import levels_over
from tanksolve.unit_systems import stated

__all__ = ["Graduation", "Strip", "strip"]

_UP = np.array([[0.0, 0.0, 1.0]])
_SAME = 5e-5  # m: readings closer than this are one line
_MOST_LINES = 1000


@dataclass(frozen=True)
class Graduation:
    """A volume [m³] and its reading along the scale from its nought [m]."""

    volume_m3: float
    reading_m: float


@dataclass(frozen=True)
class Strip:
    """A scale.

    Attributes
    ----------
    length_m : from the nought to the height of the tank's top, along the scale.
    graduations : from low to high.
    silent_m3 : volumes at which this scale alone is sure of nothing; those below its nought are not told.
    marks : least and most, where something is required.
    """

    tank: str
    gauge: Gauge
    length_m: float
    graduations: tuple[Graduation, ...]
    silent_m3: tuple[float, ...]
    marks: GaugeMarks | None


def strip(tank: Tank, gauge: Gauge, step: float, marks: GaugeMarks | None = None) -> Strip:
    """Lines at every ``step`` [m³], standing level.

    Raises FillError for a step that makes no scale, PortError for a gauge outside the tank.
    """
    if not step > 0.0 or tank.capacity / step > _MOST_LINES:
        raise FillError(
            f"a step of {stated(step, 'volume')} makes no scale of a tank of {stated(tank.capacity, 'volume')}",
            where="--step",
            allowed=f"{stated(tank.capacity / _MOST_LINES, 'volume')} or more",
        )
    rise = float(gauge.direction[2])
    length = (float(tank.upper[2]) - gauge.foot[2]) / rise
    found, silent = [], []
    for k in range(1, math.floor(tank.capacity / step + 1e-9) + 1):
        volume = k * step
        low, high = (reading / rise for reading in _heights(tank, gauge, volume))
        if high <= 0.0:
            continue
        if high - low > _SAME:
            silent.append(volume)
        elif high <= length + _SAME:
            found.append(Graduation(volume, min(high, length)))
    return Strip(tank.name, gauge, length, tuple(found), tuple(silent), marks)


def _heights(tank: Tank, gauge: Gauge, volume: float) -> tuple[float, float]:
    """Lowest and highest level [m] of a volume over the scale's nought, upright."""
    held = min(volume, tank.capacity)
    foot = np.array(gauge.foot)
    place = foot if tank.is_convex else place_on(tank, gauge, 0.0)
    low, high = levels_over(tank, place, held, _UP)
    if (
        not tank.is_convex
    ):  # the part of the scale that the liquid reaches decides which pool it reads
        over = float(place[2] - foot[2] + high[0])
        place = place_on(tank, gauge, over)
        low, high = levels_over(tank, place, held, _UP)
    shift = float(place[2] - foot[2])
    return float(low[0]) + shift, float(high[0]) + shift
