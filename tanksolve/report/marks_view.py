"""The fill marks in a side elevation and a cross section: on level ground, and where they are set."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.fill_limits import SetBy
from tanksolve.analysis.marks import Marks
from tanksolve.kernel.section import section_loops
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.report.style import INK, LIQUID, MUTED, STEEL, halo, mark, place_label, sheet
from tanksolve.units import length_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

__all__ = ["marks_figure"]

_VIEWS = ((1, 0, "tail", "nose", "side elevation"), (0, 1, "right side", "left side", "front view"))


def marks_figure(tank: Tank, ports: Sequence[Port], result: Marks, *, unit: str = "L") -> "Figure":
    """Draw least and most fill as levels in the tank.

    tank, ports : as given to ``marks``. unit : of volumes.
    """
    verdict = "the marks leave room between them" if result.feasible else "NOT FEASIBLE"
    cells = [
        ("REQUIREMENT", "\n".join(result.requirement)),
        ("LEAST", _end_words(result.least_m3, result.least_dip_m, result.least_set_by, unit)),
        ("MOST", _end_words(result.most_m3, result.most_dip_m, result.most_set_by, unit)),
    ]
    figure = sheet(
        f"Fill marks: {tank.name}",
        f"Standing level, allowances taken in; cut through the middle of the tank: {verdict}.",
        cells,
        (11.0, 6.8),
    )
    size = tank.upper - tank.lower
    wide = 0.78 * float(size[0] / (size[0] + size[1]))
    wide = min(max(wide, 0.25), 0.53)
    for view, box in zip(
        _VIEWS, ((0.06, 0.27, wide, 0.57), (0.14 + wide, 0.27, 0.78 - wide, 0.57)), strict=True
    ):
        axes = figure.add_axes(box)
        axes.set_aspect("equal")
        axes.set_axis_off()
        _view(axes, tank, ports, result, view, unit)
    return figure


def _end_words(volume: float, dip: float, by: SetBy | None, unit: str) -> str:
    first = f"{volume_words(volume, unit)}, dip {length_words(dip)}"
    if by is None:
        return f"{first}\nset by no port"
    slope = slope_words(math.radians(by.slope_deg))
    return f"{first}\n{by.port} at {slope}, uphill at {by.heading_deg % 360.0:.0f}°"


def _view(
    axes: "Axes",
    tank: Tank,
    ports: Sequence[Port],
    result: Marks,
    view: tuple[int, int, str, str, str],
    unit: str,
) -> None:
    depth, across, low_end, high_end, title = view
    normal = np.eye(3)[depth]
    at = float(tank.centre[depth]) + 1e-7 * float(tank.upper[depth] - tank.lower[depth])
    loops = section_loops(tank.vertices, tank.faces, normal, at)
    flat = [1000.0 * (loop - tank.lower)[:, [across, 2]] for loop in loops]
    _liquid(axes, flat, 1000.0 * result.least_dip_m)
    for loop in flat:
        axes.plot(*np.vstack([loop, loop[:1]]).T, color=INK, lw=2.0, zorder=4)
    width, height = (1000.0 * (tank.upper - tank.lower)[k] for k in (across, 2))
    taken: list[object] = []
    for words, dip, line in (
        (f"least {length_words(result.least_dip_m)}", result.least_dip_m, "-"),
        (f"most {length_words(result.most_dip_m)}", result.most_dip_m, (0, (6, 2))),
    ):
        y = 1000.0 * dip
        axes.plot([0.0, width], [y, y], color=INK, lw=1.6, ls=line, zorder=5)
        places = [(s * width, y + d * height) for d in (0.045, -0.045) for s in (0.5, 0.25, 0.75)]
        place_label(axes, words, places, taken, size=9.0, weight="bold")  # type: ignore[arg-type]
    for k, port in enumerate(ports):
        x, y = 1000.0 * (np.asarray(port.position) - tank.lower)[[across, 2]]
        look = mark(k)
        axes.plot(x, y, marker=look.point, ms=8, mfc="white", mec=look.colour, mew=2.0, zorder=8)
        places = [
            (x + dx * width, y + dy * height)
            for dx, dy in ((0.07, 0.07), (-0.07, 0.07), (0.07, -0.07), (-0.07, -0.07), (0.0, 0.12))
        ]
        place_label(axes, port.name, places, taken, size=9.0)  # type: ignore[arg-type]
    axes.set_xlim(-0.06 * width, 1.06 * width)
    axes.set_ylim(-0.12 * height, 1.16 * height)
    for x, words in ((0.0, low_end), (width, high_end)):
        axes.text(x, -0.05 * height, words, ha="center", va="top", size=8.5, color=MUTED)
    top = axes.text(0.5 * width, 1.09 * height, title, ha="center", size=9.5, color=MUTED)
    top.set_path_effects(halo())


def _liquid(axes: "Axes", loops: Sequence[Array], level: float) -> None:
    """Wash what stands below the least mark, inside the cut."""
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    if not loops:
        return
    outline = Path.make_compound_path(*(Path(np.vstack([loop, loop[:1]])) for loop in loops))
    patch = PathPatch(outline, facecolor="none", edgecolor=STEEL, lw=0.0)
    axes.add_patch(patch)
    wash = axes.axhspan(-1e6, level, color=LIQUID, lw=0.0, zorder=1)
    wash.set_clip_path(patch)
