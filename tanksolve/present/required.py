"""Required attitudes on a picture: an outline around each range, a mark at a single attitude."""

from collections.abc import Callable
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.cells import SLOPE_HEADING
from tanksolve.kernel.attitude.direction import (
    projected_from_up,
    slope_heading_from_up,
    up_from_projected,
)
from tanksolve.model.requirement import Patch, Requirement
from tanksolve.present.style import INK, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

__all__ = ["draw_required", "outlines", "steepest_deg"]

_ON_AN_EDGE = 90
_TURN = 2.0 * np.pi


def outlines(requirement: Requirement) -> list[Array]:
    """Up vectors (M, 3) once round each requirement, closed; a single one where it has no extent."""
    return [_outline(part) for part in requirement.each()]


def steepest_deg(requirement: Requirement) -> float:
    """The steepest slope that is required [°]."""
    loops = np.vstack(outlines(requirement))
    return float(np.degrees(slope_heading_from_up(loops)[0]).max())


def draw_required(
    axes: "Axes", requirement: Requirement, place: Callable[[Array], tuple[Array, Array]]
) -> None:
    """Draw each outline where ``place`` puts its up vectors (M, 3) on the axes."""
    label = "required"
    for loop in outlines(requirement):
        right, ahead = place(loop)
        if len(loop) == 1:
            (mark,) = axes.plot(right, ahead, ls="", marker="D", ms=6, zorder=8, label=label)
            mark.set(markerfacecolor="white", markeredgecolor=INK, markeredgewidth=1.4)
        else:
            axes.plot(right, ahead, color=PAPER, lw=3.4, zorder=6.4)
            axes.plot(
                right, ahead, color=INK, lw=1.5, ls=(0, (7, 2, 1.5, 2)), zorder=6.5, label=label
            )
        label = "_nolegend_"


def _outline(part: Requirement) -> Array:
    """Several patches of one requirement make up a range that is convex in projected slopes."""
    loops = [_rim(patch) for patch in part.patches]
    if len(loops) == 1:
        return loops[0]
    from scipy.spatial import ConvexHull

    slopes = np.tan(np.stack(projected_from_up(np.vstack(loops)), axis=1))
    around = slopes[ConvexHull(slopes).vertices]
    return np.asarray(up_from_projected(*np.arctan(np.vstack([around, around[:1]])).T))


def _rim(patch: Patch) -> Array:
    """Up vectors once round a patch; every heading has no rim but its steepest slope."""
    (a0, a1), (b0, b1) = patch.a, patch.b
    if a0 == a1 and b0 == b1:
        return patch.ups(np.array([a0]), np.array([b0]))
    if patch.chart == SLOPE_HEADING and b1 - b0 >= _TURN and a0 == 0.0:
        heading = np.linspace(b0, b1, 4 * _ON_AN_EDGE + 1)
        return patch.ups(np.full(len(heading), a1), heading)
    corners = np.array([(a0, b0), (a1, b0), (a1, b1), (a0, b1), (a0, b0)])
    along = np.linspace(0.0, 4.0, 4 * _ON_AN_EDGE + 1)
    return patch.ups(*(np.interp(along, np.arange(5.0), corners[:, k]) for k in (0, 1)))
