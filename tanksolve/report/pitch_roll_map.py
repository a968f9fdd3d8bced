"""The envelope as a map over pitch and roll, with contours of margin."""

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.envelope import Envelope
from tanksolve.analysis.margin_map import MarginMap
from tanksolve.kernel.direction import inclinometer_from_up
from tanksolve.model.requirement import Requirement
from tanksolve.report.plan import worst_words
from tanksolve.report.plan_frame import rim_of
from tanksolve.report.required import draw_required, outlines
from tanksolve.report.style import (
    INK,
    MUTED,
    PAPER,
    fill_words,
    halo,
    mark,
    place_label,
    sheet,
)
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["map_figure"]

_SIZE = (8.5, 10.0)
_GRADES = (10, 25, 50, 75, 100, 150)  # percent, on the second scales
_LEAST_SHOWN = 30.0  # degrees; closer in, the grid would show
_LOST, _LOST_HATCH = "#f3efe4", "#b9b2a1"
_WASH = ("#ffffff", "#dbe8f0", "#b7d2e2", "#8fb9d1")  # more margin is darker, in grey too


def map_figure(
    result: Envelope, *, required: Requirement | None = None, unit: str = "L", note: str = ""
) -> "Figure":
    """Draw the margins of one tank over pitch and roll as an inclinometer reads them.

    required : attitudes to be outlined; single ones are marked.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without allowance.
    """
    step = float(result.map.pitch_deg[1] - result.map.pitch_deg[0])
    cells = [
        ("TANK", f"{result.tank}\nholds {volume_words(result.capacity_m3, unit)}"),
        ("FILL", fill_words(result.fill, unit)),
        ("WORST HEADING", worst_words(result)),
        (
            "LINES",
            f"margin from a grid every {step:g}°; for limits see plan or table",
        ),
    ]
    figure = sheet(
        f"Margins over pitch and roll: {result.tank}",
        "Pitch and roll as an inclinometer reads them: each axis against the horizontal.",
        cells,
        _SIZE,
        note,
    )
    axes = figure.add_axes((0.125, 0.235, 0.75, 0.6375))
    wanted = max(rim_of([result]), _LEAST_SHOWN)
    around = np.empty((0, 2))
    if required is not None:
        around = np.vstack([np.column_stack(_on_map(loop)) for loop in outlines(required)])
        wanted = max(wanted, float(np.abs(around).max()))
    to_deg = float(max(reading for reading in result.map.pitch_deg if reading <= wanted))
    _scales(axes, to_deg)
    taken, limit = _contours(axes, result.map, to_deg)
    _ports(axes, result.map, to_deg, taken, np.vstack([limit, around]))
    _corners(axes, to_deg)
    if required is not None:
        draw_required(axes, required, _on_map)
    _key(axes)
    return figure


def _on_map(up: Array) -> tuple[Array, Array]:
    """Roll and pitch [°], as an inclinometer reads them, of up vectors (M, 3)."""
    pitch, roll = np.degrees(inclinometer_from_up(up))
    return roll, pitch


def _scales(axes: "Axes", to_deg: float) -> None:
    """Degrees below and to the left, grade percent above and to the right, ends in words."""
    axes.set_xlim(-to_deg, to_deg)
    axes.set_ylim(-to_deg, to_deg)
    axes.set_xlabel("left side down  ◀   roll [°]   ▶  right side down", color=INK, size=10)
    axes.set_ylabel("nose down  ◀   pitch [°]   ▶  nose up", color=INK, size=10)
    shown = [grade for grade in _GRADES if math.degrees(math.atan(grade / 100)) <= to_deg]
    ticks = [math.degrees(math.atan(grade / 100)) for grade in shown]
    places = [*(-tick for tick in reversed(ticks)), 0.0, *ticks]
    words = [f"{grade} %" for grade in (*reversed(shown), 0, *shown)]
    for scale in (axes.secondary_xaxis("top"), axes.secondary_yaxis("right")):
        scale.set_ticks(places, labels=words)
        scale.tick_params(labelsize=7.5, colors=MUTED)
    axes.tick_params(labelsize=9, colors=INK)
    for edge in axes.spines.values():
        edge.set_color(INK)
        edge.set_linewidth(1.2)


def _contours(axes: "Axes", grid: MarginMap, to_deg: float) -> "tuple[list[Text], Array]":
    """Margins as washes and lines in mm, the lost part hatched, the limit as a thick line.

    Returns the words written, and points of the limit line (M, 2), none where there is no limit.
    """
    across, ahead = np.abs(grid.roll_deg) <= to_deg, np.abs(grid.pitch_deg) <= to_deg
    margin = _without_gaps(1000.0 * grid.margin_m)[np.ix_(ahead, across)]
    at = (grid.roll_deg[across], grid.pitch_deg[ahead])
    least, most = float(margin.min()), float(margin.max())
    if most > 0.0:
        axes.contourf(*at, margin, most * np.linspace(0.0, 1.0, 5), colors=_WASH, zorder=0.5)
    if least < 0.0:
        lost = axes.contourf(
            *at, margin, [least - 1.0, 0.0], colors=[_LOST], hatches=["//"], zorder=0.6
        )
        lost.set_edgecolor(_LOST_HATCH)
        lost.set_linewidth(0.0)
    lines = axes.contour(
        *at, margin, _round_levels(least, most), colors=MUTED, linewidths=0.8, zorder=2
    )
    words = list(axes.clabel(lines, fmt=_millimetres, fontsize=7.5, colors=INK))
    for word in [*words]:
        x, y = word.get_position()
        if abs(x) + abs(y) > 85.0:  # it would stand in a covered corner
            word.remove()
            words.remove(word)
        word.set_path_effects(halo(2.5))
        word.set_zorder(7)
    edge = np.empty((0, 2))
    if least < 0.0 < most:
        axes.contour(*at, margin, [0.0], colors=PAPER, linewidths=5.0, zorder=4.0)
        limit = axes.contour(*at, margin, [0.0], colors=INK, linewidths=2.4, zorder=4.1)
        axes.plot([], [], color=INK, lw=2.4, label="tank limit (margin 0 mm)")
        edge = np.vstack([path.interpolated(4).vertices for path in limit.get_paths()])
    return words, edge


def _millimetres(value: float) -> str:
    return f"{value:g} mm".replace("-", "−")


def _without_gaps(values: Array) -> Array:
    """Fill NaN from the nearest readings beside it, so that contours run on under the corners."""
    filled = values.copy()
    while np.isnan(filled).any():
        padded = np.pad(filled, 1, constant_values=np.nan)
        around = np.stack(
            [padded[:-2, 1:-1], padded[2:, 1:-1], padded[1:-1, :-2], padded[1:-1, 2:]]
        )
        known = ~np.isnan(around)
        first = np.take_along_axis(around, known.argmax(axis=0)[None], axis=0)[0]
        fill = np.isnan(filled) & known.any(axis=0)
        if not fill.any():
            return np.nan_to_num(filled)
        filled[fill] = first[fill]
    return filled


def _corners(axes: "Axes", to_deg: float) -> None:
    """Cover the corners past |pitch| + |roll| = 90 degrees, where no attitude has such readings."""
    if 2.0 * to_deg <= 90.0:
        return
    short = 90.0 - to_deg
    for across in (-1, 1):
        for ahead in (-1, 1):
            x, y = (
                np.array([to_deg, to_deg, short]) * across,
                np.array([short, to_deg, to_deg]) * ahead,
            )
            axes.fill(x, y, facecolor=PAPER, edgecolor=INK, lw=0.8, zorder=5)
            if to_deg > 52.0:
                place = (across * (to_deg - 1.0), ahead * (to_deg - 1.0))
                axes.annotate(
                    "no such\nattitude",
                    place,
                    size=7.5,
                    color=MUTED,
                    zorder=6,
                    ha="right" if across > 0 else "left",
                    va="top" if ahead > 0 else "bottom",
                )


def _round_levels(least: float, most: float) -> list[float]:
    """Margins [mm] worth a line: multiples of a round step, without nought."""
    span = max(most - max(least, -2.0 * abs(most)), 1e-9)
    raw = span / 8.0
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(f * power for f in (1.0, 2.0, 5.0, 10.0) if f * power >= raw)
    count = range(math.ceil(max(least, -2.0 * abs(most)) / step), math.floor(most / step) + 1)
    return [k * step for k in count if k != 0]


def _ports(
    axes: "Axes", grid: MarginMap, to_deg: float, taken: "list[Text]", keep_clear: Array
) -> None:
    """Name the port that sets each part, and draw where one hands over to another."""
    across, ahead = np.abs(grid.roll_deg) <= to_deg, np.abs(grid.pitch_deg) <= to_deg
    index = _without_gaps(np.where(grid.port_index < 0, np.nan, grid.port_index))
    index = index[np.ix_(ahead, across)]
    real = grid.port_index[np.ix_(ahead, across)] >= 0
    roll, pitch = grid.roll_deg[across], grid.pitch_deg[ahead]
    shown = [k for k in range(len(grid.ports)) if (index == k).any()]
    for k in shown:
        mine = index == k
        if len(shown) > 1:
            edge = axes.contour(
                roll, pitch, _softened(mine), [0.5], colors=INK, linewidths=1.2, zorder=3
            )
            edge.set_linestyle((0, (5, 2, 1, 2)))
        depth = _depth(mine & real)
        order = np.argsort(depth, axis=None)[::-1][: depth.size // 4 : 5]
        rows, columns = np.unravel_index(order, depth.shape)
        places = [(float(roll[c]), float(pitch[r])) for r, c in zip(rows, columns, strict=True)]
        label = place_label(
            axes, grid.ports[k], places, taken, clear_of=keep_clear, size=10, weight="bold"
        )
        if label is not None:
            frame = {"facecolor": "white", "edgecolor": mark(k).colour, "lw": 1.6}
            label.set_bbox({**frame, "boxstyle": "round,pad=0.25"})


def _softened(mine: NDArray[np.bool_]) -> Array:
    """Average over neighbours, so that an edge between grid points is no staircase."""
    soft = mine.astype(float)
    for _ in range(2):
        p = np.pad(soft, 1, mode="edge")
        soft = (p[:-2, 1:-1] + p[2:, 1:-1] + p[1:-1, :-2] + p[1:-1, 2:] + 2.0 * soft) / 6.0
    return soft


def _depth(inside: NDArray[np.bool_]) -> Array:
    """How many grid steps each place is from the nearest one outside, the border included."""
    padded = np.pad(inside, 1)
    depth = np.zeros(inside.shape)
    while padded.any():
        depth += padded[1:-1, 1:-1]
        core = padded[1:-1, 1:-1] & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2]
        padded = np.pad(core & padded[1:-1, 2:], 1)
    return depth


def _key(axes: "Axes") -> None:
    from matplotlib.patches import Patch

    handles = [
        *axes.get_legend_handles_labels()[0],
        Patch(facecolor=_WASH[1], edgecolor=INK, lw=0.5, label="held: more margin is darker"),
        Patch(facecolor=_LOST, edgecolor=_LOST_HATCH, hatch="//", lw=0.5, label="not held"),
    ]
    axes.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.085),
        ncols=len(handles),
        fontsize=8.5,
        frameon=False,
    )
