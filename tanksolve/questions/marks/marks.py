"""The fill marks: least and most fill for a requirement, as volume, as dip and on gauges."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FillError
from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import FillLimits, Needs, SetBy
from tanksolve.questions.marks.gauge import Gauge, GaugeMarks, gauge_marks
from tanksolve.questions.marks.pooled_fill import judged_fill_limits, only
from tanksolve.questions.marks.usable import usable_by_pools
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.one_surface import JudgedBy
from tanksolve.state.ways import Start

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
    """What the wet ports leave unusable at one required attitude [m³].

    By pools it is what stays behind of the most fill when each port has drawn its own pool down.
    usable_m3 : what is left of the most fill for use there; negative where the mark is below.
    port : the one that gives out first as the tank is emptied; None without wet ports.
    """

    slope_deg: float
    heading_deg: float
    unusable_m3: float
    usable_m3: float
    port: str | None


@dataclass(frozen=True)
class Marks:
    """Fill marks for a requirement; see :func:`marks`.

    Attributes
    ----------
    least_m3, most_m3 : volumes on level ground at the marks, allowances taken in.
    least_dip_m, most_dip_m : the same as depth over the lowest point, standing level.
    least_set_by, most_set_by : port and attitude; None where no port sets that end.
    feasible : whether the least is not above the most, and no port is out of reach.
    short_by_m3, short_by_dip_m : by how much the least is above the most, 0 where feasible.
    out_of_reach_m : by how much some port's edge is above the tank's top, or below its bottom, at
        a required attitude: no fill meets that.
    judged_by : "one surface", certain at every required attitude, so that the marks are bounded;
        "pools", a sample without a bound; "one level", asked for though liquid may part.
    filled : with pools, how the tank was filled.
    limits : roots and bounds without allowances; with pools the roots found, unbounded.
    gauges : marks on the dipsticks and sight glasses asked for.
    attitudes : unusable and usable volume at level ground and at the corners of the requirement.
    """

    tank: str
    capacity_m3: float
    requirement: tuple[str, ...]
    source: str
    least_m3: float
    most_m3: float
    least_dip_m: float
    most_dip_m: float
    least_set_by: SetBy | None
    most_set_by: SetBy | None
    feasible: bool
    short_by_m3: float
    short_by_dip_m: float
    out_of_reach_m: float
    tolerance_m: float
    judged_by: JudgedBy
    filled: str | None
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
    one_level: bool = False,
) -> Marks:
    """Find the marks between which every port keeps its rule at every required attitude.

    allowances : none by default. Reading error and tilt act on an upright dipstick in the middle
        of the tank's plan for ``least_m3`` and ``most_m3``, and on each gauge for its own marks.
    tolerance : how far the bounds may lie beyond the roots, as a mean depth of liquid [m].
    one_level : take one level through the whole tank, even where liquid may part.

    Where one surface is certain at every required attitude with the least fill, the marks are
    bounded. Elsewhere they are solved by pools at a sample of them, unless one level is asked for.
    Raises PortError where no port has a rule.
    """
    allow = allowances or Allowances()
    limits, by = judged_fill_limits(
        tank, ports, requirement, pickups=pickups, tolerance=tolerance, one_level=one_level
    )
    brimful = Conditions.of(tank, ports, tank.capacity, pickups)
    low = (limits.least_m3 + allow.draw_down) / (1.0 - allow.thermal_growth)
    high = (limits.most_m3 - allow.draw_down) / (1.0 + allow.thermal_growth)
    middle = tank.centre
    stick = Gauge("dip", (float(middle[0]), float(middle[1]), float(tank.lower[2])))
    dip, *rest = (_on(tank, gauge, low, high, allow) for gauge in (stick, *gauges))
    # a mark is never laxer than its volume, not even by the rounding of the level solve
    least, most = max(dip.least_m3, low), min(dip.most_m3, high)
    out = max(limits.least_short_m, limits.most_short_m)
    feasible = out == 0.0 and least <= most
    return Marks(
        tank=tank.name,
        capacity_m3=tank.capacity,
        requirement=requirement.words,
        source=requirement.source,
        least_m3=least,
        most_m3=most,
        least_dip_m=dip.least_mark_m,
        most_dip_m=dip.most_mark_m,
        least_set_by=limits.least_set_by,
        most_set_by=limits.most_set_by,
        feasible=feasible,
        short_by_m3=max(0.0, least - most),
        short_by_dip_m=max(0.0, dip.least_mark_m - dip.most_mark_m),
        out_of_reach_m=out,
        tolerance_m=tolerance,
        judged_by=by,
        filled=Start.of(tank, ports).words if by == "pools" else None,
        allowances=allow,
        limits=limits,
        gauges=tuple(rest),
        attitudes=_attitudes(brimful, requirement, most, by_pools=by == "pools"),
    )


def _on(tank: Tank, gauge: Gauge, low: float, high: float, allow: Allowances) -> GaugeMarks:
    inside = (min(max(volume, 0.0), tank.capacity) for volume in (low, high))
    return gauge_marks(tank, gauge, *inside, reading_error=allow.reading_error, tilt=allow.tilt)


def _attitudes(
    conditions: Conditions, requirement: Requirement, most: float, *, by_pools: bool
) -> tuple[AttitudeNeed, ...]:
    """Level ground and the corners of the requirement's cells, each attitude once."""
    up = np.vstack([[[0.0, 0.0, 1.0]], attitude_cells.corners(requirement.cells())])
    up = up[np.sort(np.unique(np.round(up, 12), axis=0, return_index=True)[1])]
    slope, heading = slope_heading_from_up(up)
    heading = np.where(slope < 1e-9, 0.0, np.where(heading > 2 * np.pi - 1e-9, 0.0, heading))
    up = up[np.lexsort((heading, np.round(slope, 9)))]
    need, ports = (_left_by_pools if by_pools else _left_by_one_level)(conditions, up, most)
    rows = []
    for k, volume in enumerate(need):
        slope, heading = slope_heading_from_up(up[k])
        angles = float(np.degrees(slope)), float(np.degrees(heading))
        rows.append(AttitudeNeed(*angles, float(volume), most - float(volume), ports[k]))
    return tuple(rows)


def _left_by_one_level(
    conditions: Conditions, up: Array, most: float
) -> tuple[Array, list[str | None]]:
    """What the wet ports leave unusable at attitudes (A, 3) [m³], and the first to give out."""
    wet = Needs(conditions, Rule.WET)
    if not wet.groups:
        return np.zeros(len(up)), [None] * len(up)
    return wet.volume(up), [wet.setter(up[k : k + 1]).name for k in range(len(up))]


def _left_by_pools(
    conditions: Conditions, up: Array, most: float
) -> tuple[Array, list[str | None]]:
    """The same where each port draws its own pool down, beginning with ``most`` in the tank."""
    wet = only(conditions, Rule.WET)
    if not wet.groups or most <= 0.0:
        return np.zeros(len(up)), [None] * len(up)
    usable, port = usable_by_pools(replace(wet, fill=Fill.of(most)), up)
    return most - usable, [wet.ports[column].name for column in port]
