"""The bare plan that envelopes are drawn on: rings of slope, sides in words, the machine."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.envelope import Envelope
from tanksolve.report.style import GRID, INK, MUTED, PAPER

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["plan_axes", "plan_points", "rim_of"]

_RIM_WORDS = (
    (180.0, "NOSE DOWN"),
    (135.0, "nose and\nright side down"),
    (90.0, "RIGHT SIDE DOWN"),
    (45.0, "tail and\nright side down"),
    (0.0, "NOSE UP (tail down)"),
    (315.0, "tail and\nleft side down"),
    (270.0, "LEFT SIDE DOWN"),
    (225.0, "nose and\nleft side down"),
)


def rim_of(results: Sequence[Envelope]) -> float:
    """Slope at the rim [°]: all that was searched, or less where every limit is well inside."""
    searched = max(result.searched_to_deg for result in results)
    rows = [limit for result in results for limit in result.limits]
    if any(not limit.limited for limit in rows):
        return searched
    islands = [island.to_deg for result in results for island in result.islands]
    farthest = max([limit.slope_deg or 0.0 for limit in rows] + islands)
    return min(searched, max(5.0, 5.0 * math.ceil(1.2 * farthest / 5.0)))


def plan_points(heading_deg: Array, slope_deg: Array) -> tuple[Array, Array]:
    """Place on the plan: right and nose-ward part of ``slope_deg`` towards the side that is down."""
    k = np.radians(heading_deg)
    return slope_deg * np.sin(k), -slope_deg * np.cos(k)


def plan_axes(
    figure: "Figure", rim: float, rect: tuple[float, float, float, float], lines: Array
) -> "tuple[Axes, list[Text]]":
    """Draw rings, spokes, rim words and the machine; return the axes and the words written.

    lines : points (M, 2) of the limits to come; the names of the rings keep clear of them.
    """
    from matplotlib.patches import Circle, Polygon

    axes = figure.add_axes(rect)
    axes.set_aspect("equal")
    axes.set_axis_off()
    reach = 1.30 * rim
    axes.set_xlim(-reach, reach)
    axes.set_ylim(-1.2 * rim, 1.2 * rim)
    axes.add_patch(Circle((0, 0), rim, facecolor="white", edgecolor=INK, lw=1.4, zorder=0))
    hull = np.array([(-0.5, -1), (0.5, -1), (0.5, 0.55), (0.22, 1), (-0.22, 1), (-0.5, 0.55)])
    axes.add_patch(
        Polygon(hull * 0.14 * rim, facecolor="none", edgecolor=MUTED, lw=1.0, alpha=0.8, zorder=3)
    )
    for spoke in range(0, 360, 15):
        x, y = plan_points(np.full(2, float(spoke)), np.array([0.0, rim]))
        whole = spoke % 45 == 0
        start = 0.0 if whole else 0.98
        colour = GRID if whole else INK
        axes.plot([start * x[1], x[1]], [start * y[1], y[1]], color=colour, lw=0.7, zorder=1)
    taken = [_rim_label(axes, heading, words, rim) for heading, words in _RIM_WORDS]
    step = next(s for s in (1.0, 2.0, 5.0, 10.0, 15.0) if rim / s <= 6.0)
    rings = np.arange(step, rim + 0.1, step)
    for slope in rings:
        axes.add_patch(Circle((0, 0), slope, facecolor="none", edgecolor=GRID, lw=0.8, zorder=1))
    taken += _ring_labels(axes, rings[rings <= rim - 0.5 * step], rim, lines)
    return axes, taken


def _ring_labels(axes: "Axes", rings: Array, rim: float, lines: Array) -> "list[Text]":
    """Name each ring in degrees and grade, along the ray where the limits are least in the way.

    A name that a limit would still run through is left out, as long as two rings are named.
    """

    def clearance(ray: float) -> Array:
        labels = np.column_stack(plan_points(np.full(len(rings), ray), rings))
        gaps = np.abs(labels[:, None, :] - lines[None, :, :]) / (0.12 * rim, 0.035 * rim)
        return np.asarray(gaps.max(axis=2).min(axis=1))

    ray = max((157.5, 22.5, 202.5, 337.5), key=lambda ray: int((clearance(ray) > 1.0).sum()))
    clear = clearance(ray) > 1.0
    shown = rings[clear] if clear.sum() >= 2 else rings
    made = []
    for slope, x, y in zip(shown, *plan_points(np.full(len(shown), ray), shown), strict=True):
        words = f"{slope:g}° = {100.0 * math.tan(math.radians(slope)):.0f} %"
        box = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.0, "alpha": 0.9}
        label = axes.text(x, y, words, size=7.5, color=MUTED, ha="center", zorder=4, bbox=box)
        label.set_verticalalignment("center")
        made.append(label)
    return made


def _rim_label(axes: "Axes", heading: float, words: str, rim: float) -> "Text":
    x, y = plan_points(np.array([heading]), np.array([1.03 * rim]))
    right, ahead = float(x[0]), float(y[0])
    ha = "center" if abs(right) < 0.1 * rim else ("left" if right > 0 else "right")
    va = "center" if abs(ahead) < 0.1 * rim else ("bottom" if ahead > 0 else "top")
    main = words.isupper() or "(" in words
    grade = 100.0 * math.tan(math.radians(rim))
    tail = f"\nrim: {rim:g}° = {grade:.0f} %" if heading == 180.0 else ""
    if main and abs(ahead) < 0.1 * rim:
        words = words.replace(" SIDE ", "\nSIDE ")
    return axes.text(
        right,
        ahead,
        f"{words}\nheading {heading:.0f}°{tail}",
        size=8.5 if main else 7.5,
        weight="bold" if main else "normal",
        color=INK if main else MUTED,
        ha=ha,
        va=va,
        linespacing=1.15,
    )
