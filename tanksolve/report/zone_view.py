"""The zone of a port on a floor plan and a side elevation, with dimensions from the walls."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.bound_words import safe_length_words
from tanksolve.build.zone import Region, room
from tanksolve.design.place import Place
from tanksolve.model.tank import Tank
from tanksolve.report.style import INK, MUTED, STEEL, halo, mark, place_label, sheet
from tanksolve.units import length_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["zone_figure"]

_SIZE = (11.0, 8.5)


def zone_figure(tank: Tank, result: Place, *, unit: str = "L") -> "Figure":
    """Draw where the port may be: floor plan above, side elevation below, nose to the right.

    unit : of volumes.
    """
    figure = sheet(
        f"Where {result.port} may be: {tank.name}",
        "Floor plan above, side elevation from the right below, nose to the right. Sizes in mm.",
        _cells(result, unit),
        _SIZE,
    )
    axes = figure.add_axes((0.05, 0.2, 0.9, 0.68))
    axes.set_aspect("equal")
    axes.set_axis_off()
    length, width, height = (1000.0 * float(s) for s in tank.upper - tank.lower)
    apart = 0.3 * (width + height) + 0.1 * length
    axes.set_xlim(-0.3 * length, 1.12 * length)
    axes.set_ylim(-0.2 * height - 0.09 * length, height + apart + 1.1 * width + 0.12 * length)
    axes.apply_aspect()  # labels are placed by where things stand on the sheet
    whole = room(tank)
    taken: list[Text] = []
    for across, shift, title in ((2, 0.0, "side elevation"), (1, height + apart, "floor plan")):
        _view(axes, tank, whole, result, (across, shift, title), taken)
    _key(axes)
    return figure


def _cells(result: Place, unit: str) -> list[tuple[str, str]]:
    by = result.best_set_by
    slope = slope_words(math.radians(by.slope_deg))
    advised = "none that far off floor and walls"
    if result.recommended_margin_m is not None:
        margin = safe_length_words(result.recommended_margin_m, up=False)
        advised = f"margin {margin}, {length_words(result.off_floor_m)} off floor and walls"
    if not result.feasible:
        advised = f"NOT FEASIBLE: {advised}"
    return [
        ("REQUIREMENT", "\n".join(result.requirement)),
        (
            "MOST MARGIN",
            f"{safe_length_words(result.best_margin_m, up=False)}\nleast at {slope}, uphill at "
            f"{by.heading_deg % 360.0:.0f}°",
        ),
        (
            "RECOMMENDED, ZONE",
            f"{advised}\nzone {volume_words(result.zone_volume_m3, unit)}, all of it proved; its ends "
            "in colour",
        ),
    ]


def _view(
    axes: "Axes",
    tank: Tank,
    whole: Region | None,
    result: Place,
    view: tuple[int, float, str],
    taken: "list[Text]",
) -> None:
    """One view: ``across`` is the tank axis that points up on the sheet, moved up by ``shift``."""
    across, shift, title = view
    length, size = (1000.0 * float((tank.upper - tank.lower)[k]) for k in (0, across))
    datum = tank.lower - np.array(tank.from_walls(tank.lower))
    origin = 1000.0 * (datum - tank.lower)[[0, across]] + np.array([0.0, shift])

    def flat(points: Array) -> Array:
        kept = 1000.0 * (points - tank.lower[[0, across]])
        return np.asarray(kept + np.array([0.0, shift]))

    if whole is not None:
        outline = whole.side if across == 2 else whole.plan
        _fill(axes, [flat(loop) for loop in outline], facecolor="white", edgecolor=INK, lw=2.0)
    loops: list[Array] = []
    if result.zone is not None:
        look = mark(2)
        loops = [flat(loop) for loop in (result.zone.side if across == 2 else result.zone.plan)]
        _fill(axes, loops, facecolor=look.tint, edgecolor=look.colour, hatch=look.hatch, lw=1.4)
    words = {2: ("floor", "roof"), 1: ("right wall", "left wall")}[across]
    for y, text in ((float(origin[1]), words[0]), (shift + size, words[1])):
        taken.append(axes.text(1.01 * length, y, text, va="center", size=8.5, color=MUTED))
    name = f"{title}\ntail left,\nnose right"
    top = axes.text(-0.06 * length, shift + size, name, size=9.0, ha="right", va="top", color=MUTED)
    taken.append(top)
    if loops:
        _extents(axes, np.vstack(loops), origin, (length, shift + size), taken)
    best = flat(np.array(result.best_point_m)[[0, across]])
    axes.plot(*best, marker="x", ms=9, mec=INK, mew=2.0, zorder=8)
    point = result.recommended_point_m
    if point is None:
        return
    spot = flat(np.array(point)[[0, across]])
    _tube(axes, result, flat, across)
    axes.plot(*spot, marker="o", ms=9, mfc="white", mec=mark(0).colour, mew=2.2, zorder=9)
    ends = (float(spot[0]), float(spot[1]))
    _dimension(axes, (float(origin[0]), ends[1]), ends, shift - 0.09 * size, taken)
    _dimension(axes, (ends[0], float(origin[1])), ends, -0.05 * length, taken)


def _extents(
    axes: "Axes", points: Array, origin: Array, far: tuple[float, float], taken: "list[Text]"
) -> None:
    """Where the zone begins and ends: from the rear wall above the view, upwards on its right."""
    colour = mark(2).colour
    low, high = points.min(axis=0), points.max(axis=0)
    for x in (float(low[0]), float(high[0])):
        axes.plot([x, x], [low[1], far[1] + 0.012 * far[0]], color=colour, lw=0.7, ls=":")
        places = [(x, far[1] + 0.026 * far[0]), (x, far[1] + 0.04 * far[0])]
        place_label(axes, f"{x - origin[0]:.0f}", places, taken, size=8.5, colour=colour)
    for y in (float(low[1]), float(high[1])):
        axes.plot([high[0], 1.005 * far[0]], [y, y], color=colour, lw=0.7, ls=":")
        places = [(s * far[0], y) for s in (1.03, 1.12, 1.16, 0.97)]
        place_label(axes, f"{y - origin[1]:.0f}", places, taken, size=8.5, colour=colour)


def _fill(axes: "Axes", loops: Sequence[Array], **style: object) -> None:
    from matplotlib.patches import PathPatch
    from matplotlib.path import Path

    if loops:
        closed = (Path(np.vstack([loop, loop[:1]])) for loop in loops)
        axes.add_patch(PathPatch(Path.make_compound_path(*closed), **style))


def _tube(axes: "Axes", result: Place, flat: object, across: int) -> None:
    if result.tube is None or result.recommended_point_m is None:
        return
    hole, end = np.array(result.tube.leaves_m), np.array(result.recommended_point_m)
    knee = np.array([end[0], end[1], hole[2]])
    line = np.array([flat(p[[0, across]]) for p in (hole, knee, end)])  # type: ignore[operator]
    axes.plot(*line.T, color=STEEL, lw=4.0, alpha=0.8, zorder=6, solid_capstyle="butt")
    axes.plot(*line.T, color=INK, lw=0.8, ls=(0, (6, 2, 1, 2)), zorder=7)


def _dimension(
    axes: "Axes",
    start: tuple[float, float],
    end: tuple[float, float],
    offset: float,
    taken: "list[Text]",
) -> None:
    """A dimension from a wall to the recommended place, drawn outside the tank at ``offset``."""
    level = start[1] == end[1]
    if level:
        line = np.array([[start[0], offset], [end[0], offset]])
        value = end[0] - start[0]
    else:
        line = np.array([[offset, start[1]], [offset, end[1]]])
        value = end[1] - start[1]
    axes.annotate("", line[1], line[0], arrowprops={"arrowstyle": "<->", "color": INK, "lw": 0.9})
    for point, from_ in zip(line, (start, end), strict=True):
        axes.plot([from_[0], point[0]], [from_[1], point[1]], color=MUTED, lw=0.6, ls=":", zorder=3)
    middle = line.mean(axis=0)
    nudges = [(0.0, 0.0)] if level else [(-0.9 * abs(offset), 0.0), (0.0, 0.0)]
    places = [(float(middle[0] + dx), float(middle[1] + dy)) for dx, dy in nudges]
    label = place_label(axes, f"{value:.0f}", places, taken, size=9.0, weight="bold")
    if label is not None:
        label.set_path_effects(halo(4))


def _key(axes: "Axes") -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    look = mark(2)
    axes.legend(
        handles=[
            Patch(facecolor=look.tint, edgecolor=look.colour, hatch=look.hatch, label="zone"),
            Line2D([], [], ls="", marker="x", ms=9, mec=INK, mew=2.0, label="most margin"),
            Line2D(
                [], [], ls="", marker="o", ms=9, mfc="white", mec=mark(0).colour, mew=2.2,
                label="recommended, with its tube",
            ),
        ],
        loc="lower center", bbox_to_anchor=(0.5, -0.03), ncols=3, fontsize=8.5, frameon=False,
    )  # fmt: skip
