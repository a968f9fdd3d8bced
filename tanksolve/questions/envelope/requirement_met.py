"""Whether a tank as it is, with its ports and fill, meets a requirement, and by what margin."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.one_surface import one_surface_certain
from tanksolve.state.pooled_margin import PooledMargin, least_pooled_margin
from tanksolve.state.required_margin import least_margin
from tanksolve.state.required_ways import FINE

__all__ = ["Met", "conditions_met", "requirement_met"]


@dataclass(frozen=True)
class Met:
    """The answer to one requirement.

    Attributes
    ----------
    requirement : in words.
    met : whether every port keeps its rule at every required attitude: by the bound where one free
        surface is certain or one level was asked for; else by pools, in the samples.
    margin_m : by one level: least margin solved, of the port that is worst off there; negative where it is lost.
    held_margin_m : bound with no gap between samples: no required attitude has less.
    port, slope_deg, heading_deg : where the least margin is.
    one_surface : whether one free surface is certain at every required attitude.
    pooled : the least margin by pools over a sample of the required attitudes, no bound; None where
        one surface is certain, one level was asked for, or a pump runs.
    """

    requirement: str
    met: bool
    margin_m: float
    held_margin_m: float
    port: str
    slope_deg: float
    heading_deg: float
    one_surface: bool
    pooled: PooledMargin | None = None


def requirement_met(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    requirement: Requirement,
    *,
    pickups: Pickups = "all",
    one_level: bool = False,
    tolerance: float = 1e-5,
) -> tuple[Met, ...]:
    """Judge each of the requirement's parts by itself.

    one_level : take one level through the whole tank, certain or not.
    tolerance : how far the bound may lie below the least margin [m].
    Raises PortError, FillError.
    """
    conditions = Conditions.of(tank, ports, fill, pickups)
    return conditions_met(conditions, requirement, one_level, tolerance)


def conditions_met(
    conditions: Conditions,
    requirement: Requirement,
    one_level: bool = False,
    tolerance: float = 1e-5,
) -> tuple[Met, ...]:
    """The same for conditions already put together, such as those of a running pump."""
    return tuple(_judged(conditions, part, one_level, tolerance) for part in requirement.each())


def _judged(conditions: Conditions, part: Requirement, one_level: bool, tolerance: float) -> Met:
    worst = least_margin(conditions, part, tolerance)
    up = np.array([worst.up])
    column = conditions.group_margins(conditions.margins(up[None]))[1][0, 0]
    slope, heading = (float(angle[0]) for angle in slope_heading_from_up(up))
    volume = min(conditions.least, conditions.most)
    one_surface = conditions.is_one_level_sure and (
        conditions.tank.is_convex or one_surface_certain(conditions.tank, part, volume)
    )
    pooled = None
    if conditions.is_one_level_sure and not one_surface and not one_level:
        pooled = least_pooled_margin(conditions, part, FINE)
    shown = worst.bound <= 0.0 and (one_surface or one_level)
    return Met(
        requirement=part.words[0],
        met=shown if pooled is None else pooled.holds,
        margin_m=-worst.value,
        held_margin_m=-worst.bound,
        port=conditions.ports[int(column)].name,
        slope_deg=math.degrees(slope),
        heading_deg=math.degrees(heading),
        one_surface=one_surface,
        pooled=pooled,
    )
