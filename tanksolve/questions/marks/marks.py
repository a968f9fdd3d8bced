"""The fill marks: least and most fill for a requirement, as volume, as dip and on gauges."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FillError
from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import FillLimits, Needs, SetBy, fill_limits
from tanksolve.questions.marks.gauge import Gauge, GaugeMarks, gauge_marks, stick_of
from tanksolve.result import Result
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.one_surface import one_surface_certain

Array = NDArray[np.float64]

__all__ = ["Allowances", "AttitudeNeed", "Marks", "marks"]


@dataclass(frozen=True)
class Allowances:
    """What moves both marks inwards.

    Attributes
    ----------
    reading_error : of the dipstick [m], either way.
    tilt : the machine may stand this far from level while the dipstick is read [rad].
    thermal_growth : share by which the liquid may grow or shrink after it was read (0.07 is 7 %).
    draw_down : liquid that leaves the tank, or comes back, after it was read [m³]: cylinders,
        hoses.

    Raises FillError for a negative figure, or a growth of all the liquid.
    """

    reading_error: float = 0.0
    tilt: float = 0.0
    thermal_growth: float = 0.0
    draw_down: float = 0.0

    def __post_init__(self) -> None:
        figures = (self.reading_error, self.tilt, self.thermal_growth, self.draw_down)
        if not all(np.isfinite(figures)) or min(figures) < 0.0 or self.thermal_growth >= 1.0:
            raise FillError(
                "an allowance is negative, not finite, or a growth of all the liquid",
                allowed="figures from 0; a thermal growth below 100 %",
            )

    @property
    def any_given(self) -> bool:
        """Whether there is any allowance."""
        return any((self.reading_error, self.tilt, self.thermal_growth, self.draw_down))


@dataclass(frozen=True)
class AttitudeNeed:
    """What the wet ports leave unusable at one required attitude [m³], whatever came before.

    That is what they need there: their own pools up to their edges, and all that other hollows hold.
    usable_m3 : what is left of the most fill for use there; negative where the mark is below.
    port : the one that gives out first as the tank is emptied; None without wet ports.
    """

    slope_deg: float
    heading_deg: float
    unusable_m3: float
    usable_m3: float
    port: str | None


@dataclass(frozen=True, eq=False, repr=False)
class Marks(Result):
    """Fill marks for a requirement; see :func:`marks`.

    Attributes
    ----------
    least_m3, most_m3 : volumes on level ground at the marks, allowances taken in.
    least_dip_m, most_dip_m : the same as depth over the lowest point, standing level, on the stick
        ``dip``: a reading of the least or more is sure of enough, one of the most or less of not too much.
    least_set_by, most_set_by : port and attitude; None where no port sets that end.
    feasible : whether the least is not above the most, and no port is out of reach.
    short_by_m3, short_by_dip_m : by how much the least is above the most, 0 where feasible.
    out_of_reach_m : by how much some port's edge is above the tank's top, or below its bottom, at
        a required attitude: no fill meets that.
    one_surface : whether one free surface is certain at every required attitude with the least fill.
    limits : roots and bounds without allowances.
    gauges : marks on the dipsticks and sight glasses asked for.
    attitudes : unusable and usable volume at level ground and at the corners of the requirement.
    """

    rows_of: ClassVar[str] = "attitudes"

    tank: str
    capacity_m3: float
    requirement: tuple[str, ...]
    source: str
    least_m3: float
    most_m3: float
    dip: GaugeMarks
    least_dip_m: float
    most_dip_m: float
    least_set_by: SetBy | None
    most_set_by: SetBy | None
    feasible: bool
    short_by_m3: float
    short_by_dip_m: float
    out_of_reach_m: float
    tolerance_m: float
    one_surface: bool
    allowances: Allowances
    limits: FillLimits
    gauges: tuple[GaugeMarks, ...]
    attitudes: tuple[AttitudeNeed, ...]


def marks(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    *,
    pickups: Pickups = "all",
    allowances: Allowances | None = None,
    gauges: Sequence[Gauge] = (),
    tolerance: float = 1e-4,
) -> Marks:
    """Find the marks between which every port keeps its rule at every required attitude.

    allowances : none by default. Reading error and tilt act on an upright dipstick in the middle
        of a convex tank, elsewhere on one that reaches the lowest point (``stick_of``), for ``least_m3``
        and ``most_m3``, and on each gauge for its own marks.
    tolerance : how far the bounds may lie beyond the roots, as a mean depth of liquid [m].

    The marks are bounds with no gap between samples, whatever the machine did before.
    Raises PortError where no port has a rule.
    """
    allow = allowances or Allowances()
    limits = fill_limits(tank, ports, requirement, pickups=pickups, tolerance=tolerance)
    brimful = Conditions.of(tank, ports, tank.capacity, pickups)
    low = (limits.least_m3 + allow.draw_down) / (1.0 - allow.thermal_growth)
    high = (limits.most_m3 - allow.draw_down) / (1.0 + allow.thermal_growth)
    stick = stick_of(tank, ports)
    dip, *rest = (_on(tank, gauge, low, high, allow) for gauge in (stick, *gauges))
    # a mark is never laxer than its volume, not even by the rounding of the level solve; where bays do
    # not join below it, no volume answers to it, and what must be poured in stands
    one = _one_volume(tank, dip.at_least_mark_m3) and not dip.over_a_sill
    least = max(dip.least_m3, low) if one else low
    most = min(dip.most_m3, high) if _one_volume(tank, dip.at_most_mark_m3) else high
    out = max(limits.least_short_m, limits.most_short_m)
    feasible = out == 0.0 and least <= most
    return Marks(
        tank=tank.name,
        capacity_m3=tank.capacity,
        requirement=requirement.words,
        source=requirement.source,
        least_m3=least,
        most_m3=most,
        dip=dip,
        least_dip_m=dip.least_mark_m,
        most_dip_m=dip.most_mark_m,
        least_set_by=limits.least_set_by,
        most_set_by=limits.most_set_by,
        feasible=feasible,
        short_by_m3=max(0.0, least - most),
        short_by_dip_m=max(0.0, dip.least_mark_m - dip.most_mark_m),
        out_of_reach_m=out,
        tolerance_m=tolerance,
        one_surface=one_surface_certain(tank, requirement, limits.least_m3),
        allowances=allow,
        limits=limits,
        gauges=tuple(rest),
        attitudes=_attitudes(brimful, requirement, most),
    )


def _one_volume(tank: Tank, held: tuple[float, float]) -> bool:
    return held[1] - held[0] <= 1e-9 * tank.capacity


def _on(tank: Tank, gauge: Gauge, low: float, high: float, allow: Allowances) -> GaugeMarks:
    inside = (min(max(volume, 0.0), tank.capacity) for volume in (low, high))
    return gauge_marks(tank, gauge, *inside, reading_error=allow.reading_error, tilt=allow.tilt)


def _attitudes(
    conditions: Conditions, requirement: Requirement, most: float
) -> tuple[AttitudeNeed, ...]:
    """Level ground and the corners of the requirement's cells, each attitude once."""
    up = np.vstack([[[0.0, 0.0, 1.0]], attitude_cells.corners(requirement.cells())])
    up = up[np.sort(np.unique(np.round(up, 12), axis=0, return_index=True)[1])]
    slope, heading = slope_heading_from_up(up)
    heading = np.where(slope < 1e-9, 0.0, np.where(heading > 2 * np.pi - 1e-9, 0.0, heading))
    up = up[np.lexsort((heading, np.round(slope, 9)))]
    need, ports = _unusable(conditions, up)
    rows = []
    for k, volume in enumerate(need):
        slope, heading = slope_heading_from_up(up[k])
        angles = float(np.degrees(slope)), float(np.degrees(heading))
        rows.append(AttitudeNeed(*angles, float(volume), most - float(volume), ports[k]))
    return tuple(rows)


def _unusable(conditions: Conditions, up: Array) -> tuple[Array, list[str | None]]:
    """What the wet ports leave unusable at attitudes (A, 3) [m³], and the first to give out."""
    wet = Needs(conditions, Rule.WET)
    if not wet.groups:
        return np.zeros(len(up)), [None] * len(up)
    return wet.volume(up), [wet.setter(up[k : k + 1]).name for k in range(len(up))]
