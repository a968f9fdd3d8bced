"""The bare plan that envelopes are drawn on: rings of slope, sides in words, the machine."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.present.style import GRID, INK, MUTED, PAPER, points_along
from tanksolve.questions.envelope.envelope import Envelope

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["PLAN_WORDS", "machine_outline", "plan_axes", "plan_points", "rim_of"]

PLAN_WORDS = (
    "Seen from above; outwards the slope, towards the side that is down. "
    "Heading: where uphill is, 0° at the nose."
)
_RIM_WORDS = (
    (180.0, "NOSE DOWN", "uphill at the tail: "),
    (135.0, "nose and\nright side down", ""),
    (90.0, "RIGHT\nSIDE DOWN", "uphill: left\n"),
    (45.0, "tail and\nright side down", ""),
    (0.0, "NOSE UP (tail down)", "uphill at the nose: "),
    (315.0, "tail and\nleft side down", ""),
    (270.0, "LEFT\nSIDE DOWN", "uphill: right\n"),
    (225.0, "nose and\nleft side down", ""),
)
_MACHINE = 0.11  # half its length, as part of the rim: the names of the rings pass outside it
_HULL = np.array([(-0.5, -1), (0.5, -1), (0.5, 0.55), (0.22, 1), (-0.22, 1), (-0.5, 0.55)])
_RAYS = (157.5, 22.5, 202.5, 337.5, 165.0, 15.0, 195.0, 345.0, 112.5, 67.5, 247.5, 292.5)


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
    hull = Polygon(_HULL * _MACHINE * rim, facecolor="none", edgecolor=MUTED, lw=1.0, alpha=0.8)
    hull.set_zorder(3)
    axes.add_patch(hull)
    for spoke in range(0, 360, 15):
        x, y = plan_points(np.full(2, float(spoke)), np.array([0.0, rim]))
        whole = spoke % 45 == 0
        start = 0.0 if whole else 0.98
        colour = GRID if whole else INK
        axes.plot([start * x[1], x[1]], [start * y[1], y[1]], color=colour, lw=0.7, zorder=1)
    taken = [_rim_label(axes, rim, *words) for words in _RIM_WORDS]
    step = next(s for s in (1.0, 2.0, 5.0, 10.0, 15.0) if rim / s <= 6.0)
    rings = np.arange(step, rim + 0.1, step)
    for slope in rings:
        axes.add_patch(Circle((0, 0), slope, facecolor="none", edgecolor=GRID, lw=0.8, zorder=1))
    taken += _ring_labels(axes, rings[rings <= rim - 0.5 * step], rim, lines)
    return axes, taken


def machine_outline(rim: float) -> Array:
    """Points (M, 2) of the machine drawn in the middle, close enough together to be kept clear of."""
    return points_along(np.vstack([_HULL, _HULL[:1]]) * _MACHINE * rim, 20)


def _ring_labels(axes: "Axes", rings: Array, rim: float, lines: Array) -> "list[Text]":
    """Name each ring in degrees and grade, where limits and machine are least in the way.

    Rings are named along one ray as far as that is free.
    """
    avoid = np.vstack([lines, machine_outline(rim)])

    def clearance(slope: float, ray: float) -> float:
        label = np.ravel(plan_points(np.array(ray), np.array(slope)))
        gaps = np.abs(label - avoid) / (0.115 * rim, 0.03 * rim)
        return float(gaps.max(axis=1).min())

    free = {ray: sum(clearance(slope, ray) > 1.0 for slope in rings) for ray in _RAYS}
    rays = sorted(_RAYS, key=lambda ray: -free[ray])
    made = []
    for slope in rings:
        clear = [ray for ray in rays if clearance(slope, ray) > 1.0]
        ray = clear[0] if clear else rays[int(np.argmax([clearance(slope, r) for r in rays]))]
        x, y = plan_points(np.array(ray), np.array(slope))
        words = f"{slope:g}° = {100.0 * math.tan(math.radians(slope)):.0f} %"
        box = {"facecolor": PAPER, "edgecolor": "none", "pad": 1.0, "alpha": 0.9}
        label = axes.text(
            float(x), float(y), words, size=7.5, color=MUTED, ha="center", zorder=4, bbox=box
        )
        label.set_verticalalignment("center")
        made.append(label)
    return made


def _rim_label(axes: "Axes", rim: float, heading: float, words: str, uphill: str) -> "Text":
    x, y = plan_points(np.array([heading]), np.array([1.03 * rim]))
    right, ahead = float(x[0]), float(y[0])
    ha = "center" if abs(right) < 0.1 * rim else ("left" if right > 0 else "right")
    va = "center" if abs(ahead) < 0.1 * rim else ("bottom" if ahead > 0 else "top")
    grade = 100.0 * math.tan(math.radians(rim))
    tail = f"\nrim: {rim:g}° = {grade:.0f} %" if heading == 180.0 else ""
    main = bool(uphill)
    return axes.text(
        right,
        ahead,
        f"{words}\n{uphill}heading {heading:.0f}°{tail}",
        size=8.2 if main else 7.5,
        weight="bold" if main else "normal",
        color=INK if main else MUTED,
        ha=ha,
        va=va,
        linespacing=1.15,
    )
