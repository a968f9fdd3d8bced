"""The look of every picture: a drawing sheet with a title above and a title block below.

Colours are those of M. Okabe and K. Ito, "Color Universal Design" (2008, from memory), which
colour-blind eyes can tell apart; no meaning hangs on colour alone: each port has a hatch and a
line style of its own, and names stand beside what they name.
"""

import re
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.liquid import Fill
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.backend_bases import RendererBase
    from matplotlib.figure import Figure
    from matplotlib.path import Path
    from matplotlib.patheffects import AbstractPathEffect
    from matplotlib.text import Text
    from matplotlib.transforms import Bbox

Array = NDArray[np.float64]

__all__ = [
    "CAUTION",
    "GRID",
    "HELD",
    "INK",
    "LIQUID",
    "MUTED",
    "PAPER",
    "STEEL",
    "Mark",
    "PoolLook",
    "closed_path",
    "dashed",
    "fill_words",
    "halo",
    "mark",
    "place_label",
    "points_along",
    "pool_look",
    "sheet",
    "wrapped",
]

PAPER, INK, MUTED, GRID = "#fdfbf5", "#1d2126", "#625f57", "#c9c3b4"
HELD, LIQUID, STEEL = "#e3eef4", "#a9d0e6", "#8b8577"
CAUTION = (
    "Tank limit: still liquid, this mesh. It says nothing about roll-over. "
    "The machine maker's slope limit and local codes come first."
)


_LETTERS, _BLOCK_LINES = 16.2, 6  # per inch of a title block cell, and per cell


class Mark(NamedTuple):
    """How one port, or one contender, is told from the others."""

    colour: str
    hatch: str
    line: str | tuple[int, tuple[float, ...]]
    point: str

    @property
    def tint(self) -> tuple[str, float]:
        """The colour as a light wash, for areas."""
        return self.colour, 0.25


_MARKS = (
    Mark("#d55e00", "////", "-", "o"),
    Mark("#0072b2", "....", (0, (6, 2)), "s"),
    Mark("#009e73", "----", (0, (2, 1.5)), "^"),
    Mark("#cc79a7", "xxxx", (0, (8, 2, 2, 2)), "D"),
    Mark("#e69f00", "||||", (0, (4, 1, 1, 1, 1, 1)), "v"),
    Mark("#56b4e9", "\\\\\\\\", (0, (1, 1)), "P"),
    Mark("#3d3d3d", "oo", (0, (10, 3)), "X"),
)


def mark(index: int) -> Mark:
    """The mark of the port or contender with this index; they repeat after seven."""
    return _MARKS[index % len(_MARKS)]


class PoolLook(NamedTuple):
    """How one pool is told from the others: a wash, and a hatch in a darker shade of it."""

    wash: str
    ink: str
    hatch: str


_POOLS = (
    PoolLook(LIQUID, "#2f6f96", ""),
    PoolLook("#f3d9a4", "#9a6a00", "////"),
    PoolLook("#bfe3cf", "#00694c", "...."),
    PoolLook("#e9cfe0", "#8c3f6e", "\\\\\\\\"),
    PoolLook("#dedacb", "#55503f", "xxxx"),
    PoolLook("#c9e4f5", "#1d5c86", "----"),
)


def pool_look(index: int) -> PoolLook:
    """The look of the pool with this place in the list; they repeat after six."""
    return _POOLS[index % len(_POOLS)]


def fill_words(fill: Fill, unit: str | None = None) -> str:
    """A fill, or its range, in words with the unit."""
    if fill.least == fill.most:
        return volume_words(fill.least, unit)
    return f"{volume_words(fill.least, unit)} to {volume_words(fill.most, unit)}"


def sheet(
    title: str,
    subtitle: str,
    cells: Sequence[tuple[str, str]],
    size: tuple[float, float],
    note: str = "",
    caution: str = CAUTION,
) -> "Figure":
    """Make an empty sheet of ``size`` [inch] with its title, subtitle and title block.

    cells : (heading, text) for each cell of the title block; ``caution`` is added as the last.
    note : what a reader must see before the picture, such as a missing allowance.
    """
    from matplotlib.backends.backend_agg import FigureCanvasAgg
    from matplotlib.figure import Figure

    figure = Figure(figsize=size, facecolor=PAPER)
    FigureCanvasAgg(figure)
    width, height = size
    left = 0.35 / width
    head = figure.text(left, 1.0 - 0.42 / height, title, size=15, weight="bold", color=INK)
    head.set_verticalalignment("center")
    room = (width - 0.7) * figure.dpi / head.get_window_extent().width
    head.set_fontsize(15.0 * min(1.0, room))
    under = figure.text(left, 1.0 - 0.74 / height, subtitle, size=9.5, color=MUTED, va="center")
    room = (width - 0.7) * figure.dpi / under.get_window_extent().width
    under.set_fontsize(9.5 * min(1.0, room))
    if note:
        lines = wrapped(f"NOTE: {note}", int(12 * width), max_lines=2, placeholder=" …")
        y = 1.0 - 0.88 / height
        told = figure.text(left, y, "\n".join(lines), size=9, va="top", weight="bold")
        told.set_color(_MARKS[0].colour)
    _title_block(figure, [*cells, ("READ THIS FIRST", caution)])
    return figure


def _title_block(figure: "Figure", cells: Sequence[tuple[str, str]]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Rectangle

    width, height = figure.get_size_inches()
    margin, tall = 0.35, 1.18
    inner = width - 2 * margin
    block = Rectangle(
        (margin / width, 0.25 / height),
        inner / width,
        tall / height,
        transform=figure.transFigure,
        facecolor="white",
        edgecolor=INK,
        lw=1.2,
    )
    figure.add_artist(block)
    shares = np.array([*(1.0 for _ in cells[1:]), 1.5])  # the caution is the longest
    edges = margin + inner * np.concatenate([[0.0], np.cumsum(shares) / shares.sum()])
    top = 0.25 + tall
    for k, (heading, text) in enumerate(cells):
        x, room = edges[k], edges[k + 1] - edges[k]
        if k:
            rule = Line2D([x / width] * 2, [0.25 / height, top / height], color=INK, lw=0.8)
            figure.add_artist(rule)
        at = (x + 0.1) / width
        figure.text(at, (top - 0.14) / height, heading, size=7, color=MUTED, va="center")
        words = _wrapped(text, int((room - 0.18) * _LETTERS), _BLOCK_LINES)
        figure.text(
            at, (top - 0.28) / height, words, size=7.6, color=INK, va="top", linespacing=1.25
        )


def _wrapped(text: str, letters: int, lines: int) -> str:
    """Break ``text`` into at most so many lines of so many letters; what is cut off ends in '…'."""
    parts = [part for line in text.split("\n") for part in wrapped(line, letters) or [""]]
    if len(parts) > lines:
        parts = [*parts[: lines - 1], parts[lines - 1][: letters - 2] + " …"]
    return "\n".join(parts)


def wrapped(text: str, letters: int, **options: Any) -> list[str]:
    """Lines of at most so many letters, as ``textwrap.wrap``; a number stays with its unit."""
    unit = r"[^\W\d]\S{0,11}(?:\s|$)"  # no longer: a number does not stay with a hash
    glued = re.sub(rf"(?<=\d) (?={unit}|[%°²]|\d+/\d)|(?<=%) (?=grade)", "\u00a0", text)
    return [
        line.replace("\u00a0", " ")
        for line in textwrap.wrap(glued, letters, break_on_hyphens=False, **options)
    ]


def halo(width: float = 3.0) -> "list[AbstractPathEffect]":
    """A paper-coloured rim that keeps a line or a word readable over a hatch."""
    from matplotlib import patheffects

    return [patheffects.withStroke(linewidth=width, foreground=PAPER)]


def place_label(
    axes: "Axes",
    words: str,
    places: Sequence[tuple[float, float]],
    taken: "list[Text]",
    *,
    clear_of: Array | None = None,
    size: float = 9.0,
    colour: str = INK,
    weight: str = "normal",
    ha: str = "center",
    frame: str | None = None,
    wash: str = "white",
) -> "Text | None":
    """Write ``words`` at the first of ``places`` (data coordinates) where nothing in ``taken`` is hit.

    clear_of : points (M, 2) of lines that must not be written over, data coordinates.
    frame : colour of a box around the words, filled with ``wash``; none by default.
    Where every place is taken nothing is written and None is returned: the key names it as well.
    """
    renderer = axes.figure.canvas.get_renderer()  # type: ignore[attr-defined]
    boxes = [_extent(text, renderer).padded(2.0) for text in taken]
    points = np.empty((0, 2)) if clear_of is None else axes.transData.transform(clear_of)
    label = axes.text(
        0.0, 0.0, words, size=size, color=colour, weight=weight, ha=ha, va="center", zorder=9
    )
    label.set_path_effects(halo())
    if frame is not None:
        label.set_bbox(
            {"facecolor": wash, "edgecolor": frame, "lw": 1.2, "boxstyle": "round,pad=0.3"}
        )
    for place in places:
        label.set_position(place)
        extent = _extent(label, renderer)
        near = extent.padded(3.0)
        over_line = bool(np.all((points >= near.min) & (points <= near.max), axis=1).any())
        outside = not (axes.bbox.contains(*near.min) and axes.bbox.contains(*near.max))
        if not outside and not over_line and not any(extent.overlaps(box) for box in boxes):
            taken.append(label)
            return label
    label.remove()
    return None


def points_along(corners: Array, per: int) -> Array:
    """A broken line (N, 2) with ``per`` points on each piece, close enough together to keep clear of."""
    along = np.linspace(0.0, len(corners) - 1.0, per * (len(corners) - 1) + 1)
    return np.column_stack([np.interp(along, np.arange(len(corners)), c) for c in corners.T])


def closed_path(loops: Sequence[Array]) -> "Path":
    """One path of closed loops (M, 2), holes left out where they turn the other way."""
    from matplotlib.path import Path

    return Path.make_compound_path(*(Path(np.vstack([p, p[:1]]), closed=True) for p in loops))


def dashed(axes: "Axes", loop: Array) -> None:
    """Outline a closed loop (M, 2) with a thin dashed line."""
    closed = np.vstack([loop, loop[:1]])
    axes.plot(*closed.T, color=MUTED, lw=0.9, ls=(0, (4, 3)), zorder=3.5)


def _extent(text: "Text", renderer: "RendererBase") -> "Bbox":
    """The place on the sheet [pixel] that a text takes, its frame included."""
    box = text.get_bbox_patch()
    if box is None:
        return text.get_window_extent(renderer)
    text.update_bbox_position_size(renderer)
    return box.get_window_extent(renderer)
