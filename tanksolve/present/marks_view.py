"""The fill marks in a side elevation and a cross section: on level ground, and where they are set."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.bound_words import safe_length_words, safe_volume_words
from tanksolve.kernel.capacity.section import section_loops
from tanksolve.model.attitude import uphill_words
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.present.style import (
    INK,
    LIQUID,
    MUTED,
    STEEL,
    mark,
    place_label,
    points_along,
    sheet,
)
from tanksolve.questions.envelope.rows import SURE
from tanksolve.questions.marks.gauge import Gauge, GaugeMarks
from tanksolve.questions.marks.marks import Marks
from tanksolve.units import slope_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["marks_figure"]

_VIEWS = ((1, 0, "tail", "nose", "side elevation"), (0, 1, "right side", "left side", "front view"))


def marks_figure(
    tank: Tank,
    ports: Sequence[Port],
    result: Marks,
    gauges: Sequence[Gauge] = (),
    *,
    unit: str | None = None,
) -> "Figure":
    """Draw least and most fill as levels in the tank, and the gauges with their marks.

    tank, ports, gauges : as given to ``marks``. unit : of volumes.
    """
    verdict = "the marks leave room between them" if result.feasible else "NOT FEASIBLE"
    shown = _cut_through(ports)
    where = "the middle of the tank" if shown is None else shown.name
    cells = [
        ("REQUIREMENT", "\n".join((*result.requirement, SURE))),
        ("LEAST", _end_words(result, "least", unit)),
        ("MOST", _end_words(result, "most", unit)),
    ]
    figure = sheet(
        f"Fill marks: {tank.name}",
        f"Standing level, {_allowance_words(result)}; cut through {where}: {verdict}.",
        cells,
        (11.0, 6.8),
    )
    axes = figure.add_axes((0.04, 0.25, 0.92, 0.6))
    axes.set_aspect("equal")
    axes.set_axis_off()
    length, width, height = (1000.0 * float(s) for s in tank.upper - tank.lower)
    apart = 0.18 * (length + width)
    axes.set_xlim(-0.1 * length, length + apart + 1.1 * width)
    head = 1.85 if gauges else 1.45  # room for what the gauges read
    axes.set_ylim(-0.15 * height, head * height)
    axes.apply_aspect()  # labels are placed by where things stand on the sheet
    taken: list[Text] = []
    _view(axes, tank, ports, result, gauges, _VIEWS[0], 0.0, taken)
    _view(axes, tank, ports, result, gauges, _VIEWS[1], length + apart, taken)
    return figure


def _cut_through(ports: Sequence[Port]) -> Port | None:
    """The port that both views are cut through: the first that must stay wet."""
    return next((port for port in ports if port.effective_rule is Rule.WET), None)


def _allowance_words(result: Marks) -> str:
    return "allowances taken in" if result.allowances.any_given else "no allowances given"


def _end_words(result: Marks, end: Literal["least", "most"], unit: str | None) -> str:
    up = end == "least"
    volume, dip, by = (
        (result.least_m3, result.least_dip_m, result.least_set_by)
        if up
        else (result.most_m3, result.most_dip_m, result.most_set_by)
    )
    first = f"{safe_volume_words(volume, unit, up=up)}, dip {safe_length_words(dip, up=up)}"
    if by is None:
        return f"{first}\nset by no port"
    slope = slope_words(math.radians(by.slope_deg))
    return f"{first}\n{by.port} at {slope}, uphill at heading {uphill_words(by.heading_deg)}"


def _view(
    axes: "Axes",
    tank: Tank,
    ports: Sequence[Port],
    result: Marks,
    gauges: Sequence[Gauge],
    view: tuple[int, int, str, str, str],
    shift: float,
    taken: "list[Text]",
) -> None:
    """One view, ``shift`` [mm] to the right on the sheet; ``taken`` are the words written so far."""
    depth, across, low_end, high_end, title = view
    start = tank.lower - np.eye(3)[across] * shift / 1000.0
    shown = _cut_through(ports)
    middle = float(tank.centre[depth]) if shown is None else shown.position[depth]
    flat = _cut(tank, depth, middle, start)
    _liquid(axes, flat, 1000.0 * result.least_dip_m)
    for loop in flat:
        axes.plot(*np.vstack([loop, loop[:1]]).T, color=INK, lw=2.0, zorder=4)
    _other_cuts(axes, tank, ports, depth, start, flat)
    width, height = (1000.0 * float((tank.upper - tank.lower)[k]) for k in (across, 2))
    for words, end, dip in (
        (low_end, 0.0, None),
        (high_end, width, None),
        (title, 0.5 * width, axes.get_ylim()[1] - 0.05 * height),
    ):
        y = -0.06 * height if dip is None else dip
        taken.append(axes.text(shift + end, y, words, ha="center", va="top", size=9.0, color=MUTED))
    for dip, line in ((result.least_dip_m, "-"), (result.most_dip_m, (0, (6, 2)))):
        y = 1000.0 * dip
        axes.plot([shift, shift + width], [y, y], color=INK, lw=1.6, ls=line, zorder=5)
    spots = [1000.0 * (np.asarray(port.position) - start)[[across, 2]] for port in ports]
    drawn = [np.array([[shift, z], [shift + width, z]]) for z in (0.0, height)]
    drawn += [np.asarray(line.get_xydata(), float) for line in axes.lines]
    for gauge, marks in zip(gauges, result.gauges, strict=True):
        drawn.append(_gauge(axes, gauge, marks, start, across, height))
    ring = np.array([(dx, dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]) * 0.025 * height
    clear = np.vstack(
        [*(points_along(line, 60) for line in drawn), *(spot + ring for spot in spots)]
    )
    for k, (gauge, marks) in enumerate(zip(gauges, result.gauges, strict=True)):
        _readings(axes, gauge, marks, drawn[k - len(gauges)][1], height, taken, clear)
    for name, dip, side in (
        ("least", result.least_dip_m, -0.07),
        ("most", result.most_dip_m, 0.07),
    ):
        places = [
            (shift + s * width, 1000.0 * dip + sign * side * height)
            for sign in (1, -1)
            for s in (0.5, 0.25, 0.75, 0.35, 0.65)
        ]
        if across == 0:  # beyond the nose there is room in any tank
            places += [(shift + far * width, 1000.0 * dip) for far in (1.1, 1.13, 1.16)]
        words = f"{name}: depth {safe_length_words(dip, up=name == 'least')}"
        for told in (words, words.replace(": ", "\n")):  # on two lines where there is little room
            if place_label(axes, told, places, taken, clear_of=clear, size=9.0, weight="bold"):
                break
    for k, (port, (x, y)) in enumerate(zip(ports, spots, strict=True)):
        look = mark(k)
        axes.plot(x, y, marker=look.point, ms=8, mfc="white", mec=look.colour, mew=2.0, zorder=8)
        _name(axes, port.name, (float(x), float(y)), 0.1 * height, taken, clear)


def _name(
    axes: "Axes",
    name: str,
    at: tuple[float, float],
    gap: float,
    taken: "list[Text]",
    clear: Array,
) -> None:
    turns = ((1.6, 0.9), (-1.6, 0.9), (0, -1), (0, 1), (2, 0), (-2, 0), (1.6, -0.9), (-1.6, -0.9))
    places = [
        (at[0] + far * dx * gap, at[1] + far * dy * gap)
        for far in (1, 1.5, 2.2, 3.0, 4.0)
        for dx, dy in turns
    ]
    place_label(axes, name, places, taken, clear_of=clear, size=9.0)


def _gauge(
    axes: "Axes", gauge: Gauge, marks: GaugeMarks, start: Array, across: int, height: float
) -> Array:
    """Draw a gauge from its foot to the roof with its two marks; return its line (2, 2) [mm]."""
    foot, along = np.asarray(gauge.foot), gauge.direction
    reach = max(height / 1000.0 - (foot[2] - start[2]), marks.most_mark_m) / along[2]
    ends = 1000.0 * (np.array([foot, foot + reach * along]) - start)[:, [across, 2]]
    axes.plot(*ends.T, color=STEEL, lw=4.0, zorder=6, solid_capstyle="butt")
    tick = np.array([0.012 * height, 0.0])
    for reading in (marks.least_mark_m, marks.most_mark_m):
        at = 1000.0 * (foot + reading * along - start)[[across, 2]]
        axes.plot(*np.array([at - 2 * tick, at + 2 * tick]).T, color=INK, lw=2.6, zorder=7)
    return ends


def _readings(
    axes: "Axes",
    gauge: Gauge,
    marks: GaugeMarks,
    top: Array,
    height: float,
    taken: "list[Text]",
    clear: Array,
) -> None:
    """Write over a gauge what it reads itself at its two marks, along its own scale, with a leader."""
    words = (
        f"{gauge.name}, from its nought\nmost mark {safe_length_words(marks.most_mark_m, up=False)}"
        f"\nleast mark {safe_length_words(marks.least_mark_m, up=True)}"
    )
    places = [
        (float(top[0]) + side * height, (1.2 + over) * height)
        for over in (0.0, 0.2, 0.4)
        for side in (0.0, -0.15, 0.15, -0.3, 0.3, -0.45, 0.45)
    ]
    label = place_label(axes, words, places, taken, clear_of=clear, size=8.5, frame=STEEL)
    if label is not None:
        axes.plot(*zip(top, label.get_position(), strict=True), color=STEEL, lw=0.9, zorder=4.5)


def _cut(tank: Tank, depth: int, at: float, start: Array) -> list[Array]:
    """Outlines (M, 2) [mm] on the sheet of a cut across axis ``depth`` at the place ``at`` [m]."""
    hair = 1e-7 * float(
        tank.upper[depth] - tank.lower[depth]
    )  # off the vertices of a symmetric mesh
    loops = section_loops(tank.vertices, tank.faces, np.eye(3)[depth], at + hair)
    return [1000.0 * (loop - start)[:, [1 - depth, 2]] for loop in loops]


def _other_cuts(
    axes: "Axes",
    tank: Tank,
    ports: Sequence[Port],
    depth: int,
    start: Array,
    shown: Sequence[Array],
) -> None:
    """Where a port is in no room of the cut, as in a sump elsewhere: the cut through it, thin, dashed."""
    from matplotlib.path import Path

    for port in ports:
        spot = 1000.0 * (np.asarray(port.position) - start)[[1 - depth, 2]]
        at = (float(spot[0]), float(spot[1]))
        room = sum(bool(Path(loop).contains_point(at, radius=1e-3)) for loop in shown)
        if room % 2 == 0 and not _on_outline(spot, shown):
            for loop in _cut(tank, depth, port.position[depth], start):
                line = np.vstack([loop, loop[:1]])
                axes.plot(*line.T, color=MUTED, lw=0.9, ls=(0, (4, 2)), zorder=3)


def _on_outline(spot: Array, loops: Sequence[Array]) -> bool:
    """Whether a place [mm] is on a wall in the cut, as a breather in the roof is."""
    lines = [points_along(np.vstack([loop, loop[:1]]), 60) for loop in loops]
    return any(float(np.hypot(*(line - spot).T).min()) < 3.0 for line in lines)


def _liquid(axes: "Axes", loops: Sequence[Array], level: float) -> None:
    """Wash what stands below the least mark, inside the cut."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    if not loops:
        return
    outline = Path.make_compound_path(*(Path(np.vstack([loop, loop[:1]])) for loop in loops))
    patch = PathPatch(outline, facecolor="none", lw=0.0)
    axes.add_patch(patch)
    wash = axes.axhspan(-1e6, level, color=LIQUID, lw=0.0, zorder=1)
    wash.set_clip_path(patch)
