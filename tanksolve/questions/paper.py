"""The paper method of the trade for upright-walled tanks, and whether it holds.

On a slope the surface turns about the middle of the level surface: a pickup at distance x downhill
of it gains, uphill of it loses, x tan(slope) of height. That is right as long as the surface meets
neither roof nor floor. Common practice, no source.
"""

import math
from dataclasses import dataclass

import numpy as np

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import moments
from tanksolve.model.tank import Tank

__all__ = ["PaperHeight", "paper_height", "paper_slope"]


@dataclass(frozen=True)
class PaperHeight:
    """Height by the paper method.

    Attributes
    ----------
    height_m : z of the surface over the spot, tank frame [m].
    holds : whether the method is right here.
    why_not : in words, empty where it holds.
    """

    height_m: float
    holds: bool
    why_not: str


def paper_height(
    tank: Tank, volume: float, x: float, y: float, slope: float, heading: float
) -> PaperHeight:
    """Height of the surface at (x, y) [m] on ``slope`` with uphill at ``heading`` [rad], on paper."""
    up = np.array([[0.0, 0.0, 1.0]])
    level = levels(tank.tree, up, volume)[0]
    centre = moments(tank.tree, tank.tensors, up, level).surface_centroid[0]
    uphill = np.array([math.cos(heading), math.sin(heading)])
    height = float(level[0]) - math.tan(slope) * float((np.array([x, y]) - centre[:2]) @ uphill)
    return PaperHeight(height, *_judged(tank, volume, float(level[0]), centre, slope, uphill))


def _judged(
    tank: Tank, volume: float, level: float, centre: np.ndarray, slope: float, uphill: np.ndarray
) -> tuple[bool, str]:  # fmt: skip
    up = np.array([[math.sin(slope) * uphill[0], math.sin(slope) * uphill[1], math.cos(slope)]])
    exact = float(levels(tank.tree, up, volume)[0][0])
    size = float(np.ptp(tank.vertices[:, 2]))
    if abs(exact - float((up @ np.array([*centre[:2], level]))[0])) <= 1e-9 * size:
        return True, ""
    before = tank.vertices[:, 2] - level
    after = before + math.tan(slope) * ((tank.vertices[:, :2] - centre[:2]) @ uphill)
    reasons = []
    if ((before > 0.0) & (after < -1e-12 * size)).any():
        reasons.append("the liquid meets the roof")
    if ((before < 0.0) & (after > 1e-12 * size)).any():
        reasons.append("the floor runs dry at the uphill end")
    return False, " and ".join(reasons) or "the walls are not upright where the surface moves"


def paper_slope(depth: float, pickup_height: float, distance: float) -> float:
    """Slope [rad] at which a bare pickup is lost on paper: atan((depth - height) / distance)."""
    return math.atan2(depth - pickup_height, distance)
