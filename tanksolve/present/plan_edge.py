"""The limit on a plan: a full line where it is a bound, a dashed one where it is from samples.

A full line is a bound between the headings listed too: ``analysis.limit_edge`` brings it in as far as
it takes to prove all that lies inside.
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

__all__ = ["DASHES", "PER_HEADING", "draw_held", "limit_line", "stretches_of"]

PER_HEADING = 12  # points of a line from one heading to the next, close enough to keep clear of
_SAMPLED_HELD = "#f1f6f9"
DASHES = (0, (2.6, 1.3))


def limit_line(result: Envelope) -> Array:
    """The limit on the plan as a closed line (M, 2) [°]: all inside is held where it is a bound."""
    return _closed(result, result.edge.told_deg)


def draw_held(axes: "Axes", result: Envelope, line: Array) -> None:
    """Fill what is held and draw its edge: full where bounded, dashed where only sampled.

    Inside a dashed stretch a thin line is the bound; beyond a full one dots are the solved limits,
    where they are well beyond.
    """
    inside = _closed(result, result.edge.held_deg)
    axes.fill(*line.T, facecolor=_SAMPLED_HELD, edgecolor="none", zorder=0.5)
    axes.fill(*inside.T, facecolor=HELD, edgecolor="none", zorder=0.6)
    axes.plot(*line.T, color=PAPER, lw=4.5, zorder=5, solid_joinstyle="round")
    words = {True: "tank limit: bound, no gap", False: "through samples: no bound"}
    stretches = sorted(stretches_of(result), key=lambda one: not one[0])
    for bound, at in stretches:
        axes.plot(
            *line[at].T, color=INK, lw=2.4, zorder=6, ls="-" if bound else DASHES,
            solid_joinstyle="round", dash_capstyle="butt", label=words[bound],
        )  # fmt: skip
        words[bound] = "_nolegend_"
    name = "bound inside the dashed line"
    for bound, at in stretches:
        if not bound:
            axes.plot(*inside[at].T, color=INK, lw=1.0, zorder=5.5, label=name)
            name = "_nolegend_"
    _solved(axes, result)
    _islands(axes, result)


def _closed(result: Envelope, slopes: Array) -> Array:
    """Points (M, 2) of a line round the plan, straight from heading to heading."""
    headings = np.array([row.heading_deg for row in result.edge.rows])
    right, ahead = plan_points(np.append(headings, headings[0]), np.append(slopes, slopes[0]))
    return points_along(np.column_stack([right, ahead]), PER_HEADING)


def stretches_of(result: Envelope) -> list[tuple[bool, NDArray[np.int64]]]:
    """Where the limit line is a bound and where not: points of it (K,), stretch by stretch."""
    bound = result.edge.bound.tolist()
    count = len(bound)
    turns = [k for k in range(count) if bound[k] != bound[k - 1]] or [0]
    ends = [*turns[1:], turns[0] + count]
    total = PER_HEADING * count
    return [
        (bound[start], np.arange(PER_HEADING * start, PER_HEADING * end + 1) % total)
        for start, end in zip(turns, ends, strict=True)
    ]


def _solved(axes: "Axes", result: Envelope) -> None:
    """Solved limits well beyond the bound, as dots: between them nothing is known of them."""
    beyond = [
        row
        for row in result.edge.rows
        if (row.slope_deg or result.searched_to_deg) - row.told_deg > 2.0 * result.tolerance_deg
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
