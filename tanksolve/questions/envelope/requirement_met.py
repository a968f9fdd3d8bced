"""Whether a tank as it is, with its ports and fill, meets a requirement, and by what margin."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.cells import SLOPE_HEADING
from tanksolve.kernel.attitude.direction import slope_heading_from_up, up_from_slope_heading
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.one_surface import one_surface_certain
from tanksolve.state.worst_case import Worst, worst_case

Array = NDArray[np.float64]

__all__ = ["Met", "conditions_met", "requirement_met"]

_ALIKE = 5e-5  # m: margins this near are told by one figure
_LEVEL = math.radians(0.05)  # a slope, or headings apart, that counts as none


@dataclass(frozen=True)
class Met:
    """The answer to one requirement, whatever the machine does before and in between.

    Attributes
    ----------
    requirement : in words.
    met : whether every port is proved to keep its rule at every required attitude.
    margin_m : the margin solved at the attitude that is worst: of the least margin where one free
        surface is certain, else of the greatest need of liquid, or of air; negative where it is broken.
    held_margin_m : bound with no gap between samples: no required attitude has less.
    port, slope_deg, heading_deg : where that is.
    one_surface : whether one free surface is certain at every required attitude.
    alike_deg : other headings where the margin is as small, to 0.05 mm, of a slope that is required in
        every heading; not looked for where walls may part the liquid.
    """

    requirement: str
    met: bool
    margin_m: float
    held_margin_m: float
    port: str
    slope_deg: float
    heading_deg: float
    one_surface: bool
    alike_deg: tuple[float, ...] = ()


def requirement_met(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    requirement: Requirement,
    *,
    pickups: Pickups = "all",
    tolerance: float = 1e-5,
) -> tuple[Met, ...]:
    """Judge each of the requirement's parts by itself.

    tolerance : how far the bound may lie below the least margin [m].
    Raises PortError, FillError.
    """
    return conditions_met(Conditions.of(tank, ports, fill, pickups), requirement, tolerance)


def conditions_met(
    conditions: Conditions, requirement: Requirement, tolerance: float = 1e-5
) -> tuple[Met, ...]:
    """The same for conditions already put together, such as those of a running pump."""
    return tuple(_judged(conditions, part, tolerance) for part in requirement.each())


def _judged(conditions: Conditions, part: Requirement, tolerance: float) -> Met:
    volume = min(conditions.least, conditions.most)
    certain = not conditions.walls_may_part or one_surface_certain(conditions.tank, part, volume)
    worst = (_least_margin if certain else _greatest_need)(conditions, part, tolerance)
    up = np.array([worst.up])
    margin, column = conditions.group_margins(conditions.margins(up[None]))
    slope, heading = (float(angle[0]) for angle in slope_heading_from_up(up))
    # what is to spare, spread over the greatest surface there can be, is a margin everywhere
    spread = 1.0 if certain else 2.0 / conditions.tank.wall_area
    return Met(
        requirement=part.words[0],
        met=worst.bound <= 0.0,
        margin_m=-worst.value if certain else float(margin[0, 0]),
        held_margin_m=-worst.bound * spread if certain or worst.bound <= 0.0
        else min(float(margin[0, 0]), 0.0),
        port=conditions.ports[int(column[0, 0])].name,
        slope_deg=math.degrees(slope),
        heading_deg=math.degrees(heading),
        one_surface=certain,
        alike_deg=_alike(conditions, part, slope, heading, float(margin[0, 0])) if certain else (),
    )  # fmt: skip


def _alike(
    conditions: Conditions, part: Requirement, slope: float, heading: float, margin: float
) -> tuple[float, ...]:
    """Headings [°] but the worst itself at which the slope [rad] leaves no more than ``margin`` [m]."""
    (first, *others) = part.patches
    whole = first.b[1] - first.b[0] >= 2.0 * math.pi - 1e-9 and not any(first.shift)
    if others or first.chart != SLOPE_HEADING or not whole or slope < _LEVEL:
        return ()
    mirrored = heading + np.pi, -heading, np.pi - heading
    around = np.mod([*mirrored, *np.radians(np.arange(0.0, 360.0, 22.5))], 2.0 * np.pi)
    ups = up_from_slope_heading(np.full(len(around), slope), around)
    found = conditions.group_margins(conditions.margins(ups[:, None, :]))[0][:, 0]
    apart = np.abs(np.mod(around - heading + np.pi, 2.0 * np.pi) - np.pi) > _LEVEL
    return tuple(float(one) for one in np.degrees(around[(found <= margin + _ALIKE) & apart]))


def _least_margin(conditions: Conditions, part: Requirement, tolerance: float) -> Worst:
    """Worst loss of margin [m]: solved, and bounded."""

    def loss(up: Array, hulls: Array | None = None) -> Array:
        if hulls is not None:
            return np.asarray(-conditions.group_margins(conditions.margins_within(up, hulls))[0])
        return np.asarray(-conditions.group_margins(conditions.margins(up[:, None, :]))[0][:, 0])

    amounts = conditions.amounts(conditions.groups)

    def closes(up: Array, hulls: Array, most: float) -> NDArray[np.bool_]:
        """Whether every rule is kept by a margin of ``-most`` all over each hull."""
        if most >= 0.0:  # below its edge a place may be dry, and has no need then
            return np.zeros(len(up), bool)
        lifted = replace(conditions, beyond=conditions.beyond - most)
        needs = lifted.needs_of_one_surface(conditions.groups, up, hulls)
        return np.asarray((needs <= amounts).all(axis=1))

    # without walls one level is cheap to bound by many cells, and no merge tree is compiled for a box
    closer = closes if conditions.walls_may_part and conditions.at_rest else None
    return worst_case(part, loss, loss, tolerance, closes=closer)


def _greatest_need(conditions: Conditions, part: Requirement, tolerance: float) -> Worst:
    """By how much the ports need more liquid, or air, than there is [m³]: solved, and bounded."""
    amounts = conditions.amounts(conditions.groups)

    def over(up: Array, hulls: Array | None = None) -> Array:
        found = conditions.needs(conditions.groups, up, hulls)
        return np.asarray((found - amounts).max(axis=1))

    size = conditions.tank.upper - conditions.tank.lower
    return worst_case(part, over, over, tolerance * conditions.tank.capacity / float(size[2]))
