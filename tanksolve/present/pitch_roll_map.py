"""The envelope as a map over pitch and roll, with contours of margin."""

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import inclinometer_from_up
from tanksolve.model.requirement import Requirement
from tanksolve.present.map_parts import name_parts, without_gaps
from tanksolve.present.plan import worst_words
from tanksolve.present.plan_frame import rim_of
from tanksolve.present.required import draw_required, outlines
from tanksolve.present.style import (
    INK,
    MUTED,
    PAPER,
    fill_words,
    halo,
    place_label,
    sheet,
)
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.questions.envelope.map import MarginMap
from tanksolve.unit_systems import current
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.contour import ContourSet
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["map_figure"]

_SIZE = (8.5, 10.0)
_GRADES = (10, 25, 50, 75, 100, 150)  # percent, on the second scales
_LEAST_SHOWN = 30.0  # degrees; closer in, the grid would show
_LOST, _LOST_HATCH = "#f3efe4", "#b9b2a1"
_WASH = ((0.87, 0.925, 0.955), (0.44, 0.66, 0.78))  # least to most margin: darker, in grey too
_SHORT = (0, (3.7, 1.6))


def map_figure(
    result: Envelope,
    *,
    required: Requirement | None = None,
    unit: str | None = None,
    note: str = "",
    clear_of: Array | None = None,
    cell: tuple[str, str] | None = None,
) -> "Figure":
    """Draw the margins of one tank over pitch and roll as an inclinometer reads them.

    required : attitudes to be outlined; single ones are marked.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without cover.
    cell : heading and text of the title block, in place of those of the worst heading.
    clear_of : points (M, 2) of roll and pitch [°] that no port's name should stand on.
    """
    steps = len(result.map.pitch_deg)
    cells = [
        ("TANK", f"{result.tank}\nholds {volume_words(result.capacity_m3, unit)}"),
        ("FILL", fill_words(result.fill, unit)),
        ("WORST HEADING", worst_words(result)) if cell is None else cell,
        (
            "LINES",
            f"margin from a grid of {steps} x {steps}; for limits see plan or table",
        ),
    ]
    figure = sheet(
        f"Margins over pitch and roll: {result.tank}",
        "Pitch and roll as an inclinometer reads them: each axis against the horizontal.",
        cells,
        _SIZE,
        note,
    )
    axes = figure.add_axes((0.14, 0.282, 0.7, 0.595))
    wanted = max(rim_of([result]), _LEAST_SHOWN)
    around = np.empty((0, 2)) if clear_of is None else clear_of
    if required is not None:
        loops = np.vstack([np.column_stack(_on_map(loop)) for loop in outlines(required)])
        wanted = max(wanted, float(np.abs(loops).max()))
        around = np.vstack([around, loops])
    to_deg = float(max(reading for reading in result.map.pitch_deg if reading <= wanted))
    _scales(axes, to_deg)
    grid = _shown_part(result.map, to_deg)
    taken, limit, bands = _contours(axes, grid, "tank limit (margin 0)")
    name_parts(axes, grid, taken, np.vstack([limit, around]))
    _corners(axes, to_deg, taken)
    if required is not None:
        draw_required(axes, required, _on_map)
    _key(axes, bands, to_deg)
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
        edge.set_zorder(5.5)


def _shown_part(grid: MarginMap, to_deg: float) -> MarginMap:
    """The grid out to ``to_deg``."""
    across, ahead = np.abs(grid.roll_deg) <= to_deg, np.abs(grid.pitch_deg) <= to_deg
    both = np.ix_(ahead, across)
    return MarginMap(
        grid.pitch_deg[ahead],
        grid.roll_deg[across],
        grid.margin_m[both],
        grid.port_index[both],
        grid.ports,
        grid.lead_m[:, ahead][:, :, across],
    )


def _contours(
    axes: "Axes", grid: MarginMap, name: str
) -> "tuple[list[Text], Array, ContourSet | None]":
    """Margins as washes and lines in the unit of length, the lost part hatched, the limit as a thick line.

    Washes change at the lines. Returns the words written, points of the limit line (M, 2), none
    where there is no limit, and the washes of what is held. ``name`` is that of the limit.
    """
    known = grid.margin_m / current().units["length"].size
    least, most = float(np.nanmin(known)), float(np.nanmax(known))
    margin = without_gaps(known)
    at = (grid.roll_deg, grid.pitch_deg)
    held, short = _round_levels(least, most)
    bands = None
    if most > 0.0:
        tones = np.linspace(*_WASH, max(2, len(held)))[: len(held)]
        bands = axes.contourf(
            *at, np.minimum(margin, held[-1]), [0.0, *held], colors=tones, zorder=0.5
        )
    if least < 0.0:
        lost = axes.contourf(
            *at,
            margin,
            [float(margin.min()) - 1.0, 0.0],
            colors=[_LOST],
            hatches=["//"],
            zorder=0.6,
        )
        lost.set_edgecolor(_LOST_HATCH)
        lost.set_linewidth(0.0)
    lines = [
        axes.contour(*at, margin, levels, colors=MUTED, linewidths=0.9, zorder=2, linestyles=[dash])
        for levels, dash in ((held[:-1], "-"), (short, _SHORT))
        if levels
    ]
    words = [word for line in lines for word in _values(axes, line)]
    edge = np.empty((0, 2))
    if least < 0.0 < most:
        axes.contour(*at, margin, [0.0], colors=PAPER, linewidths=5.0, zorder=4.0)
        limit = axes.contour(*at, margin, [0.0], colors=INK, linewidths=2.4, zorder=4.1)
        axes.plot([], [], color=INK, lw=2.4, label=name)
        edge = np.vstack([path.interpolated(4).vertices for path in limit.get_paths()])
    if short:
        axes.plot([], [], color=MUTED, lw=0.9, ls=_SHORT, label="−: short by so much")
    return words, edge, bands


def _values(axes: "Axes", lines: "ContourSet") -> "list[Text]":
    """Write the margin on each line; not in a covered corner."""
    words = []
    for word in axes.clabel(lines, fmt=_margin_words, fontsize=7.5, colors=INK):
        x, y = word.get_position()
        if abs(x) + abs(y) > 85.0:
            word.remove()
            continue
        word.set_path_effects(halo(2.5))
        word.set_zorder(7)
        words.append(word)
    return words


def _margin_words(value: float) -> str:
    return f"{value:g} {current().units['length'].symbol}".replace("-", "−")


def _corners(axes: "Axes", to_deg: float, taken: "list[Text]") -> None:
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
                place = (across * (to_deg - 5.2), ahead * (to_deg - 3.3))
                look = {"size": 7.5, "colour": MUTED}
                place_label(axes, "no such\nattitude", [place], taken, **look)  # type: ignore[arg-type]


def _round_levels(least: float, most: float) -> tuple[list[float], list[float]]:
    """Margins [mm] worth a line: held ones, the last of which is not reached, and those short."""
    raw = max(abs(most), 0.05 * abs(least), 1e-9) / 5.0
    power = 10.0 ** math.floor(math.log10(raw))
    step = next(f * power for f in (1.0, 2.0, 5.0, 10.0) if f * power >= raw)
    low = math.ceil(max(least, -2.0 * abs(most), -100.0 * step) / step)
    held = [k * step for k in range(1, math.ceil(most / step) + 1)]
    return held, [k * step for k in range(low, 0)]


def _key(axes: "Axes", bands: "ContourSet | None", to_deg: float) -> None:
    """Lines and areas in words, and the washes of held margins on a scale of their own."""
    from matplotlib.patches import Patch

    handles = [
        *axes.get_legend_handles_labels()[0],
        Patch(facecolor=_LOST, edgecolor=_LOST_HATCH, hatch="//", lw=0.5, label="not held"),
    ]
    if 2.0 * to_deg > 90.0:
        corner = Patch(facecolor=PAPER, edgecolor=INK, lw=0.8, label="no such attitude")
        handles.append(corner)
    axes.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, -0.075),
        ncols=3,
        fontsize=8.5,
        frameon=False,
        handlelength=3.0,
    )
    if bands is None:
        return
    figure = axes.figure
    scale = figure.add_axes((0.36, 0.174, 0.49, 0.011))
    bar = figure.colorbar(bands, cax=scale, orientation="horizontal", spacing="proportional")
    ends = list(bands.levels)
    bar.set_ticks(ends)
    bar.ax.xaxis.set_major_formatter(lambda value, _: f"{value:g}")
    bar.ax.tick_params(labelsize=7.5, colors=INK, length=2.5, pad=1.5)
    bar.outline.set_linewidth(0.6)
    figure.text(
        0.35,
        0.1795,
        f"held: margin [{current().units['length'].symbol}]",
        size=8.5,
        color=INK,
        ha="right",
        va="center",
    )
