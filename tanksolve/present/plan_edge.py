"""The limit on a plan: a line that is a bound between the headings listed too.

``questions.envelope.edge`` brings it in as far as it takes to prove all that lies inside.
"""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.present.plan_frame import plan_points
from tanksolve.present.style import HELD, INK, MUTED, PAPER, points_along
from tanksolve.questions.envelope.envelope import Envelope

if TYPE_CHECKING:
    from matplotlib.axes import Axes

Array = NDArray[np.float64]

__all__ = ["PER_HEADING", "draw_held", "limit_line"]

PER_HEADING = 12  # points of a line from one heading to the next, close enough to keep clear of


def limit_line(result: Envelope) -> Array:
    """The limit on the plan as a closed line (M, 2) [°]: all inside is held."""
    return _closed(result, result.edge.held_deg)


def draw_held(axes: "Axes", result: Envelope, line: Array) -> None:
    """Fill what is held and draw its edge; dots are solved limits that lie well beyond it."""
    axes.fill(*line.T, facecolor=HELD, edgecolor="none", zorder=0.6)
    axes.plot(*line.T, color=PAPER, lw=4.5, zorder=5, solid_joinstyle="round")
    axes.plot(
        *line.T, color=INK, lw=2.4, zorder=6, solid_joinstyle="round",
        label="tank limit: bound, no gap",
    )  # fmt: skip
    _solved(axes, result)
    _islands(axes, result)


def _closed(result: Envelope, slopes: Array) -> Array:
    """Points (M, 2) of a line round the plan, straight from heading to heading."""
    headings = np.array([row.heading_deg for row in result.edge.rows])
    right, ahead = plan_points(np.append(headings, headings[0]), np.append(slopes, slopes[0]))
    return points_along(np.column_stack([right, ahead]), PER_HEADING)


def _solved(axes: "Axes", result: Envelope) -> None:
    """Solved limits well beyond the bound, as dots: between them nothing is known of them."""
    beyond = [
        row
        for row in result.edge.rows
        if (row.slope_deg or result.searched_to_deg) - row.held_to_deg > 2.0 * result.tolerance_deg
    ]
    if beyond:
        x, y = plan_points(
            np.array([row.heading_deg for row in beyond]),
            np.array([row.slope_deg or result.searched_to_deg for row in beyond]),
        )
        label = "solved limit, where well beyond"
        axes.plot(x, y, color=INK, ls="", marker=".", ms=4, zorder=6, label=label)


def _islands(axes: "Axes", result: Envelope) -> None:
    label = "held again further out: do not count on it"
    for island in result.islands:
        ends = np.array([island.from_deg, island.to_deg])
        x, y = plan_points(np.full(2, island.heading_deg), ends)
        axes.plot(x, y, color=MUTED, lw=2.0, ls=(0, (1, 1)), zorder=4, label=label)
        label = "_nolegend_"
