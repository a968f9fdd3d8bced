"""The sizes solved for: one panel each, the smallest tank filled in, the tank as it is dashed."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.bound_words import safe_length_words
from tanksolve.model.attitude import uphill_words
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.present.scale_views import dimension, paper_axes
from tanksolve.present.style import INK, MUTED, dashed, mark, sheet, wrapped
from tanksolve.questions.size.size import Smallest
from tanksolve.questions.size.stretch import DIMENSIONS
from tanksolve.units import length_words, slope_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

__all__ = ["size_figure"]

_SIZE = (11.0, 8.2)
_BOTTOM, _TOP, _MARGIN = 1.6, 7.0, 0.35  # inch: of the panels, and left and right of them
_HEAD, _FOOT, _BESIDE = 0.76, 0.72, 2.3  # inch in a panel: words above, dimensions below and left
_LETTERS = 15.0  # an inch, of the words above a panel


def size_figure(
    tank: Tank,
    sizes: Sequence[Smallest],
    requirement: Requirement,
    *,
    wanted: str = "",
    note: str = "",
) -> "Figure":
    """Draw a panel for each size: the smallest over the tank as it is, with dimensions.

    wanted : what the tank is sized for, in words. note : what must be seen before the picture.
    """
    cells = [
        ("REQUIREMENT", "\n".join([*requirement.words, *([f"with {wanted}"] if wanted else [])])),
        (f"SMALLEST, {'PROVED'}", "\n".join(_words(one) for one in sizes)),
    ]
    figure = sheet(
        f"Smallest sizes: {tank.name}",
        "Enclosing boxes, each panel to its own scale. Filled: the smallest in one dimension, the "
        "others kept. Dashed: as it is.",
        cells,
        _SIZE,
        note,
    )
    axes = paper_axes(figure)
    columns = min(2, len(sizes))
    rows = -(-len(sizes) // 2)
    width, height = (_SIZE[0] - 2 * _MARGIN) / columns, (_TOP - _BOTTOM) / rows
    for k, one in enumerate(sizes):
        corner = np.array(
            [_MARGIN + width * (k % columns), _TOP - height * (k // columns + 1)], float
        )
        _panel(axes, tank, one, corner, np.array([width, height]))
    return figure


def _panel(axes: "Axes", tank: Tank, one: Smallest, corner: Array, room: Array) -> None:
    """One size in its place on the sheet, ``corner`` and ``room`` (2,) [inch]."""
    view, across = ("floor plan", 1) if one.dimension == "width" else ("side elevation", 2)
    axis = DIMENSIONS[one.dimension]
    now = (tank.upper - tank.lower)[[0, across]]
    proved = one.told_m
    grown = np.array([proved / one.now_m if proved and a in axis else 1.0 for a in (0, across)])
    new = now * grown
    free = room - np.array([_BESIDE + 0.3, _HEAD + _FOOT + 0.1])
    scale = float((free / np.maximum(now, new)).min())
    spare = free - scale * np.maximum(now, new)
    start = corner + np.array([_BESIDE + 0.5 * spare[0], _FOOT + 0.5 * spare[1]])
    top = corner[1] + room[1]
    axes.text(
        corner[0], top - 0.1, f"{_words(one)}   ({view})", size=10.5, weight="bold", color=INK,
        va="center",
    )  # fmt: skip
    why = wrapped(_why(one), int(_LETTERS * (room[0] - 0.2)))[:3]
    axes.text(corner[0], top - 0.24, "\n".join(why), size=8, color=MUTED, va="top")
    if proved:
        look = mark(0)
        axes.fill(
            *_box(start, scale * new).T,
            facecolor=look.tint,
            edgecolor=look.colour,
            lw=2.0,
            zorder=3,
        )
    dashed(axes, _box(start, scale * now))
    if 0 in axis:
        _across(axes, start, scale * new[0], scale * now[0], one)
    else:
        _upright(axes, start, scale * new[1], scale * now[1], one)


def _across(axes: "Axes", start: Array, new: float, now: float, one: Smallest) -> None:
    """Dimension lines below, the smallest first."""
    for down, size, words in _dimensions(one, new, now):
        left = start - np.array([0.0, 0.12 + 0.3 * down])
        dimension(axes, left, left + np.array([size, 0.0]), words, [])


def _upright(axes: "Axes", start: Array, new: float, now: float, one: Smallest) -> None:
    """Dimension lines to the left, the smallest first."""
    for out, size, words in _dimensions(one, new, now):
        low = start - np.array([0.15 + 0.9 * out, 0.0])
        dimension(axes, low, low + np.array([0.0, size]), words, [])


def _dimensions(one: Smallest, new: float, now: float) -> list[tuple[int, float, str]]:
    """(which line, its length on the sheet [inch], words) of each dimension."""
    lines = [(new, safe_length_words(one.told_m, up=True))] if one.told_m else []
    lines.append((now, f"now {length_words(one.now_m)}"))
    return [(k, size, words) for k, (size, words) in enumerate(lines)]


def _box(start: Array, size: Array) -> Array:
    return start + np.array([[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]]) * size


def _words(one: Smallest) -> str:
    name = "scaled: length" if one.dimension == "scale" else one.dimension
    if one.told_m is None:
        return f"{name}: none found"
    return f"{name} {safe_length_words(one.told_m, up=True)}, now {length_words(one.now_m)}"


def _why(one: Smallest) -> str:
    """What sets a smallest size, or why there is none."""
    if one.smallest_m is None:
        return "met down to 2 % of it" if one.meets_now else "not met up to 50 times it"
    if one.jump_words:
        return f"ends on a jump, not on a root: it {one.jump_words}"
    ends = "; ".join(
        f"{by.port} on level ground"
        if by.slope_deg < 0.05
        else f"{by.port} at {slope_words(math.radians(by.slope_deg))}, uphill at "
        f"heading {uphill_words(by.heading_deg)}"
        for by in one.set_by
    )
    return f"set by {ends}"
