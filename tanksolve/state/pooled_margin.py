"""The least margin of a tank's ports over a sample of the required attitudes, judged by pools.

The liquid is settled along several ways to each attitude (``analysis.required_ways``), each port
is held against the pool that it stands in or over, and the worst counts. It is a sample: a margin
jumps where pools part, meet or spill, and nothing bounds it in between.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.requirement import Requirement
from tanksolve.state.conditions import Conditions
from tanksolve.state.required_ways import COARSE, Fineness, Ways, required_ways
from tanksolve.state.ways import Settling

Array = NDArray[np.float64]

__all__ = ["PooledMargin", "least_along", "least_pooled_margin", "slope_heading_deg"]


@dataclass(frozen=True)
class PooledMargin:
    """The least margin found in the samples.

    Attributes
    ----------
    margin_m : of the port that is worst off; negative where its rule is broken.
    port, slope_deg, heading_deg, path : where that is, and the way that leads there.
    attitudes : required attitudes judged, each way counted.
    """

    margin_m: float
    port: str
    slope_deg: float
    heading_deg: float
    path: str
    attitudes: int

    @property
    def holds(self) -> bool:
        """Whether every rule is kept in the samples."""
        return self.margin_m >= 0.0


def least_pooled_margin(
    conditions: Conditions, requirement: Requirement, fineness: Fineness = COARSE
) -> PooledMargin:
    """Judge all ports by pools over a sample of the required attitudes."""
    return least_along(conditions, required_ways(requirement, fineness))[0]


def least_along(conditions: Conditions, ways: list[Ways]) -> tuple[PooledMargin, list[Array]]:
    """The least margin over all required stops, and all margins (H, P) [m]; infinite if not required."""
    settling = Settling(conditions)
    worst: PooledMargin | None = None
    own, count = [], 0
    for way in ways:
        margin, port = settling.margins(way.paths, poured=True)
        margin = np.where(way.required, margin, math.inf)
        own.append(margin)
        count += int(way.required.sum())
        row, stop = np.unravel_index(int(np.argmin(margin)), margin.shape)
        if worst is None or margin[row, stop] < worst.margin_m:
            slope, heading = slope_heading_deg(way.paths[row, stop])
            name = conditions.ports[int(port[row, stop])].name
            worst = PooledMargin(float(margin[row, stop]), name, slope, heading, way.names[row], 0)
    if worst is None:
        raise ValueError("no way was given")
    return (
        PooledMargin(
            worst.margin_m, worst.port, worst.slope_deg, worst.heading_deg, worst.path, count
        ),
        own,
    )


def slope_heading_deg(up: Array) -> tuple[float, float]:
    """Slope and heading [°] of an up vector (3,)."""
    slope, heading = slope_heading_from_up(up)
    return float(np.degrees(slope)), float(np.degrees(heading))
