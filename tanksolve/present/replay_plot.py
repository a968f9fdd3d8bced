"""A day's margins against time, and its worst moment as a cut through the tank."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.findings import counted
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.section_view import section_figure
from tanksolve.present.style import GRID, INK, MUTED, mark, sheet
from tanksolve.questions.replay.excursions import Moment
from tanksolve.questions.replay.replay import PortReplay, Replay
from tanksolve.questions.replay.worst_moment import worst_moment
from tanksolve.unit_systems import current, told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["replay_figure", "worst_moment_figure"]

_SAME = 1e-6  # m: margins that differ by more are of different states

_SCALES = ((2.0 * 86400.0, 86400.0, "days"), (7200.0, 3600.0, "h"), (300.0, 60.0, "min"))


def replay_figure(result: Replay) -> "Figure":
    """Draw the margin of each port against time, one strip below another; below nought is broken."""
    span = result.end_s - result.start_s
    unit, name = next(((u, n) for least, u, n in _SCALES if span > least), (1.0, "s"))
    count = sum(port.excursion_count for port in result.ports)
    worst = min((port.worst for port in result.ports), key=lambda m: m.margin_m)
    smoothed = (
        "not smoothed"
        if result.time_constant_s is None
        else f"smoothed, {result.time_constant_s:g} s"
    )
    figure = sheet(
        f"Margins over the log: {result.tank}",
        f"{result.rows} rows over {span / unit:.1f} {name}. Still liquid at each row, {smoothed}.",
        [
            ("ANSWER", f"{result.verdict}\n{100 * result.outcome.not_known_share:.1f} % not known"),
            (
                "EXCURSIONS",
                f"{count} counted\n{counted(result.problem_count, 'remark', 'remarks')} on lines",
            ),
            ("LEAST MARGIN", f"{told(worst.margin_m, 'length', 'down')}\nat line {worst.line}"),
            ("SHADED", "least to greatest margin in each stretch of rows; grey: a gap in the log"),
        ],
        (8.5, 3.6 + 2.0 * len(result.ports)),
    )
    height = figure.get_size_inches()[1]
    bottom, top = 2.05 / height, 1.0 - 1.05 / height
    each = (top - bottom) / len(result.ports)
    time = 0.5 * (result.trace.start_s + result.trace.end_s)
    for k, port in enumerate(result.ports):
        low = bottom + each * (len(result.ports) - 1 - k)
        axes = figure.add_axes((0.11, low + 0.1 * each, 0.85, 0.8 * each))
        _strip(axes, result, k, port, (time - result.start_s) / unit)
        axes.tick_params(labelbottom=k == len(result.ports) - 1)
    axes.set_xlabel(f"time since the log's first row [{name}]", color=INK, size=10)
    return figure


def _strip(axes: "Axes", result: Replay, k: int, port: PortReplay, time: np.ndarray) -> None:
    unit = current().units["length"]
    least, greatest = (unit.of(m[:, k]) for m in (result.trace.least_m, result.trace.greatest_m))
    look = mark(k)
    apart = _gaps(result)
    # a line across a gap would tell what nobody knows
    when, low_line, high_line = (np.insert(v, apart, np.nan) for v in (time, least, greatest))
    axes.fill_between(when, low_line, high_line, color=look.colour, alpha=0.3, lw=0.0)
    axes.plot(when, low_line, color=look.colour, lw=1.1)
    for at in apart:
        axes.axvspan(time[at - 1], time[at], facecolor=GRID, alpha=0.45, lw=0.0, zorder=0.5)
    low, high = min(float(np.nanmin(least)), 0.0), max(float(np.nanmax(greatest)), 0.0)
    room = 0.08 * max(high - low, float(unit.of(0.001)))
    axes.set_ylim(low - room, high + room)
    axes.set_xlim(float(time[0]), max(float(time[-1]), float(time[0]) + 1e-9))
    axes.axhline(0.0, color=INK, lw=1.6)
    if low < 0.0:
        axes.axhspan(
            low - room, 0.0, facecolor="none", edgecolor=MUTED, hatch="//", lw=0.0, alpha=0.5
        )
    axes.grid(color=GRID, lw=0.6)
    axes.tick_params(labelsize=8.5, colors=INK)
    axes.set_ylabel(f"margin [{unit.symbol}]", color=INK, size=9)
    words = (
        f"{port.port}, {port.rule}: {counted(port.excursion_count, 'excursion', 'excursions')},"
        f" {port.seconds_out:.1f} s altogether, longest {port.longest_s:.1f} s"
    )
    axes.set_title(words, loc="left", size=9.5, color=INK)


def _gaps(result: Replay) -> NDArray[np.int64]:
    """Stretches of the trace that begin after a gap in the log: their indices."""
    trace = result.trace
    if result.gap_s is None:
        return np.empty(0, np.int64)
    between = trace.start_s[1:] - trace.end_s[:-1]
    return np.asarray(1 + np.flatnonzero(between > result.gap_s))


def worst_moment_figure(
    result: Replay,
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    *,
    unit: str | None = None,
) -> "Figure":
    """Draw the tank at the row with the least margin of any port, cut through that port.

    Where walls part the liquid it stands as is worst for that port, whatever the machine did before.
    The cut is a side elevation where the machine is pitched more than rolled, else a cross section.
    """
    worst = min(result.ports, key=lambda port: port.worst.margin_m)
    moment: Moment = worst.worst
    port = next(p for p in ports if p.name == worst.port)
    surface, settled = worst_moment(result, tank, ports, fill)
    side: Literal["right", "front"] = "front"
    if abs(moment.up[0]) >= abs(moment.up[1]):
        side = "right"
    at = float(port.position[1 if side == "right" else 0])
    figure = section_figure(tank, surface, ports, settled=settled, seen_from=side, at=at, unit=unit)
    words = (
        f"Worst moment of the log: {worst.port} {told(moment.margin_m, 'length', 'down')}, line {moment.line},"
        f" {moment.time_s:g} s"
    )
    figure.texts[0].set_text(words)
    room = 7.8 * figure.dpi / figure.texts[0].get_window_extent().width
    figure.texts[0].set_fontsize(15.0 * min(1.0, room))
    return figure
