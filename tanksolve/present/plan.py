"""The envelope as a plan: the machine from above, slopes outwards, towards the side that is down."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.model.attitude import heading_words
from tanksolve.model.requirement import Requirement
from tanksolve.present.plan_edge import PER_HEADING, draw_held, limit_line
from tanksolve.present.plan_frame import PLAN_WORDS, machine_outline, plan_axes, plan_points, rim_of
from tanksolve.present.required import draw_required, outlines, steepest_deg
from tanksolve.present.sides import sides_of
from tanksolve.present.style import (
    INK,
    PAPER,
    fill_words,
    halo,
    mark,
    place_label,
    sheet,
)
from tanksolve.questions.envelope.envelope import Envelope, Limit
from tanksolve.questions.envelope.rows import SURE
from tanksolve.unit_systems import told
from tanksolve.units import floor_to, slope_words, volume_words
from tanksolve.units import limit_words as bound_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["limit_words", "plan_figure", "worst_words"]

_SIZE = (8.5, 10.0)


def plan_figure(
    result: Envelope,
    *,
    required: Requirement | None = None,
    unit: str | None = None,
    note: str = "",
) -> "Figure":
    """Draw the envelope of one tank as a plan.

    required : attitudes to be outlined; single ones are marked.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without cover.
    """
    cells = [
        ("TANK", f"{result.tank}\nholds {volume_words(result.capacity_m3, unit)}"),
        ("FILL", fill_words(result.fill, unit)),
        ("WORST HEADING", worst_words(result)),
        ("LINE", f"bound, {SURE}, of any heading"),
    ]
    figure = sheet(
        f"Tank limits: {result.tank}",
        PLAN_WORDS,
        cells,
        _SIZE,
        note,
    )
    rim = rim_of([result])
    around: list[Array] = []
    if required is not None:
        rim = max(rim, 5.0 * math.ceil(steepest_deg(required) / 5.0))
        around = [np.column_stack(_on_plan(loop)) for loop in outlines(required)]
    line = limit_line(result)
    beyond = line + 0.07 * rim * line / np.maximum(np.hypot(*line.T), 1e-9)[:, None]
    written = np.vstack([line, beyond, *around])
    axes, taken = plan_axes(figure, rim, (0.03, 0.165, 0.94, 0.73), written)
    drawn = np.vstack([written, machine_outline(rim)])
    if result.ok_at_level:
        draw_held(axes, result, line)
        _bands(axes, result, rim, line, taken)
        _worst(axes, result.worst, rim, drawn, taken)
    else:
        short = told(-result.margin_at_level_m, "length", "up")
        words = f"NOT HELD ON LEVEL GROUND\nshort by {short}"
        label = axes.text(0, 0, words, ha="center", va="center", size=13, color=INK, zorder=9)
        label.set_path_effects(halo(5))
        taken.append(label)
    if required is not None:
        draw_required(axes, required, _on_plan)
    _key(axes, result)
    return figure


def _on_plan(up: Array) -> tuple[Array, Array]:
    """Places on the plan of up vectors (M, 3)."""
    slope, heading = np.degrees(slope_heading_from_up(up))
    return plan_points(heading, slope)


def limit_words(limit: Limit, searched_to_deg: float) -> str:
    """A limit as people read it: the bound rounded down, with its grade, side and port."""
    side = heading_words(math.radians(limit.heading_deg))
    if not limit.limited:
        return f"nothing gives out up to {slope_words(math.radians(searched_to_deg))}"
    return f"{bound_words(limit.held_to_deg)}, {side}: {limit.port}"


def worst_words(result: Envelope) -> str:
    """The worst limit in words, or that the tank is lost already on level ground."""
    if not result.ok_at_level:
        return f"not held on level ground: {result.worst.port or 'a port'} gives out"
    worst = result.worst
    if not worst.limited:
        return limit_words(worst, result.searched_to_deg)
    return f"{bound_words(worst.held_to_deg)}, {sides_of(result)}: {worst.port}"


def _runs(limits: Sequence[Limit]) -> list[tuple[str | None, list[int]]]:
    """Stretches of neighbouring headings that one port (or none) limits, wrapped round the circle."""
    count = len(limits)
    ports = [limit.port for limit in limits]
    turns = [k for k in range(count) if ports[k] != ports[k - 1]]
    first = turns[0] if turns else 0
    runs: list[tuple[str | None, list[int]]] = []
    for k in range(first, first + count):
        port = ports[k % count]
        if runs and runs[-1][0] == port:
            runs[-1][1].append(k)
        else:
            runs.append((port, [k]))
    return runs


def _bands(axes: "Axes", result: Envelope, rim: float, line: Array, taken: "list[Text]") -> None:
    """A hatched band beyond the line wherever a port gives out, with the port's name."""
    rows = result.edge.rows
    headings = np.array([row.heading_deg for row in rows])
    for port, indices in _runs(rows):
        at = np.array(indices)
        slopes = result.edge.held_deg[at % len(rows)]
        centre = headings[at % len(rows)] + 360.0 * (at // len(rows))
        if port is None:
            words = f"nothing gives out\nup to {result.searched_to_deg:g}°"
            _name_run(axes, words, centre, slopes, rim, line, taken)
            continue
        half = PER_HEADING // 2  # to the middle of the gap on either side
        along = np.arange(PER_HEADING * at[0] - half, PER_HEADING * at[-1] + half + 1)
        inner = line[along % (len(line) - 1)]
        reach = np.hypot(*inner.T)
        outer = inner * (np.clip(reach + 0.07 * rim, None, max(rim, *reach)) / reach)[:, None]
        look = mark(result.map.ports.index(port))
        band = np.vstack([inner, outer[::-1]])
        axes.fill(
            *band.T, facecolor=look.tint, edgecolor=look.colour, hatch=look.hatch, lw=0.0, zorder=2
        )
        _name_run(axes, port, centre, slopes, rim, line, taken)


def _name_run(
    axes: "Axes",
    words: str,
    headings: Array,
    slopes: Array,
    rim: float,
    line: Array,
    taken: "list[Text]",
) -> None:
    """Write a name near the middle of its stretch, outside the line if there is room."""
    middle, half = 0.5 * (headings[0] + headings[-1]), 0.5 * (headings[-1] - headings[0])
    spots = [
        (heading, float(np.interp(heading, headings, slopes)) + beyond * rim)
        for beyond in (0.13, 0.18, -0.10, -0.16, 0.24)
        for heading in middle + half * np.array([0, 0.3, -0.3, 0.6, -0.6, 0.9, -0.9])
    ]
    inside = np.array([(k, b) for k, b in spots if 0.05 * rim < b < 0.93 * rim])
    if len(inside):
        places = list(zip(*plan_points(inside[:, 0], inside[:, 1]), strict=True))
        place_label(axes, words, places, taken, clear_of=line, weight="bold", size=9.5)


def _worst(axes: "Axes", worst: Limit, rim: float, line: Array, taken: "list[Text]") -> None:
    if not worst.limited:
        return
    x, y = plan_points(np.array([worst.heading_deg]), np.array([worst.held_to_deg]))
    axes.plot(x, y, marker="o", ms=8, mfc=PAPER, mec=INK, mew=2.0, zorder=10)
    words = f"worst: {floor_to(worst.held_to_deg, 0.1):.1f}° ({worst.grade_percent:.1f} %)"
    turn = np.radians(np.arange(0.0, 360.0, 22.5) - worst.heading_deg)
    places = [
        (float(x[0] + out * rim * np.sin(t)), float(y[0] + out * rim * np.cos(t)))
        for out in (0.1, 0.16, 0.24, 0.34)
        for t in turn
    ]
    label = place_label(axes, words, places, taken, clear_of=line, size=9.0)
    if label is not None:
        right, ahead = label.get_position()
        axes.plot([x[0], right], [y[0], ahead], color=INK, lw=0.8, zorder=8)


def _key(axes: "Axes", result: Envelope) -> None:
    """Hatches in the free corner at the lower left, lines in the one at the lower right."""
    from matplotlib.patches import Patch

    limiting = {row.port for row in result.edge.rows if result.ok_at_level}
    bands = [
        Patch(
            facecolor=mark(k).tint,
            edgecolor=mark(k).colour,
            hatch=mark(k).hatch,
            label=f"{name} gives out",
        )
        for k, name in enumerate(result.map.ports)
        if name in limiting
    ]
    lines = axes.get_legend_handles_labels()[0]
    style = {"fontsize": 8.5, "frameon": False, "handlelength": 2.6, "borderaxespad": 0.0}
    if bands:
        axes.add_artist(axes.legend(handles=bands, loc="lower left", **style))
    axes.legend(handles=lines, loc="lower right", **style)
