"""The zone of a port on a floor plan, a side elevation and a front view, with dimensions from the walls."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.zone import Region, region_of, room_body
from tanksolve.kernel.capacity.section import section_loops
from tanksolve.model.tank import Tank
from tanksolve.present.scale_views import (
    View,
    Views,
    dimension,
    extension,
    paper_axes,
    views_to_scale,
)
from tanksolve.present.style import (
    INK,
    MUTED,
    STEEL,
    closed_path,
    halo,
    mark,
    place_label,
    points_along,
    sheet,
)
from tanksolve.present.zone_cells import MOST, key_words, mm_words, spot_names, zone_cells
from tanksolve.questions.place.place import Place
from tanksolve.unit_systems import told

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["zone_figure"]

_SIZE = (11.0, 8.5)
_WALLS = ("the rear wall", "the right wall", "the floor")
_ZONE, _ADVISED = mark(2), mark(0)


def zone_figure(
    tank: Tank, result: Place, *, unit: str | None = None, ends: tuple[str, str, str] = _WALLS
) -> "Figure":
    """Draw where the port may be, to one scale: floor plan, side elevation and front view.

    unit : of volumes; lengths are in mm. ends : what places are measured from, in words.
    """
    figure = sheet(
        f"{f'Where {result.port} may be' if result.zones else f'No place for {result.port}'}: {tank.name}",
        "Nose to the right, to one scale. Bold: the place shown by a ring, where walls and plates are cut. "
        "In colour: where the zone begins and ends.",
        zone_cells(result, unit),
        _SIZE,
    )
    axes = paper_axes(figure)
    views = views_to_scale(tank, _SIZE[0], 2.25, 7.6)
    whole, taken = region_of(room_body(tank)), _wall_names(axes, views)
    for view in views:
        _tank(axes, tank, whole, result, view)
        _zone(axes, result, view)
    _zone_ends(axes, tank, result, views, taken)
    if result.recommended_point_m is not None:
        _dimensions(axes, tank, np.array(result.recommended_point_m), views, ends, taken)
    for view in views:
        spots = _spots(axes, result, view)
        if view is not views.front:  # the key will do there
            _name_spots(axes, spots, taken)
    _key(axes, result)
    return figure


def _wall_names(axes: "Axes", views: Views) -> "list[Text]":
    """Name the walls of each view just outside them, and the views above."""
    named = []
    for view, (low, high), left, right in (
        (views.plan, ("right wall", "left wall"), "rear wall", ""),
        (views.side, ("floor", "roof"), "rear wall", ""),
        (views.front, ("floor", ""), "right wall", "left wall"),
    ):
        (x, y), (far_x, far_y) = view.corner, view.far
        end: dict[str, Any] = {"size": 8.0, "color": MUTED, "ha": "right"}
        turned: dict[str, Any] = {"size": 8.0, "color": MUTED, "rotation": 90.0, "va": "center"}
        middle = y + max(0.75 * (far_y - y), 0.3)  # clear of the place, often half-way
        lift = 0.55 if view is views.plan else 0.22  # the zone's ends stand above the plan
        named += [
            axes.text(far_x - 0.05, y - 0.06, low, va="top", **end),
            axes.text(far_x - 0.05, far_y + 0.06, high, va="bottom", **end),
            axes.text(x - 0.06, middle, left, ha="right", **turned),
            axes.text(far_x + 0.06, middle, right, ha="left", **turned),
            axes.text(x, far_y + lift, view.name, size=9.5, color=INK, va="bottom"),
        ]
    return named


def _tank(axes: "Axes", tank: Tank, whole: Region | None, result: Place, view: View) -> None:
    """The outline of the tank's inside, and its walls and plates cut at the recommended place."""
    (depth,) = {0, 1, 2} - set(view.axes)
    if whole is not None:
        outline = (whole.plan, whole.front, whole.side)[{2: 0, 0: 1, 1: 2}[depth]]
        _fill(axes, [view.on_sheet(loop) for loop in outline], facecolor="white", lw=0.0)
        for loop in outline:
            _ring(axes, view.on_sheet(loop), color=INK, lw=2.0, zorder=3)
    point = result.recommended_point_m or result.best_point_m
    at = point[depth] + 1e-7 * float(tank.upper[depth] - tank.lower[depth])
    for loop in section_loops(tank.vertices, tank.faces, np.eye(3)[depth], at):
        _ring(axes, view.on_sheet(loop), color=INK, lw=0.9, zorder=3)


def _zone(axes: "Axes", result: Place, view: View) -> None:
    if result.zone is None:
        return
    outline = {(0, 1): result.zone.plan, (0, 2): result.zone.side, (1, 2): result.zone.front}
    loops = [view.on_sheet(loop) for loop in outline[view.axes]]
    _fill(
        axes, loops, facecolor=_ZONE.tint, edgecolor=_ZONE.colour, hatch=_ZONE.hatch, lw=1.4, zorder=2
    )  # fmt: skip


def _ring(axes: "Axes", loop: Array, **style: Any) -> None:
    axes.plot(*np.vstack([loop, loop[:1]]).T, **style)


def _fill(axes: "Axes", loops: Sequence[Array], **style: Any) -> None:
    from matplotlib.patches import PathPatch

    if loops:
        axes.add_patch(PathPatch(closed_path(loops), **style))


def _zone_ends(axes: "Axes", tank: Tank, result: Place, views: Views, taken: "list[Text]") -> None:
    """Where the zone begins and ends along each axis, a tenth of a mm on the inside."""
    if result.zone_from_m is None or result.zone_to_m is None:
        return
    corners = np.array([result.zone_from_m, result.zone_to_m])
    walls = np.array([tank.from_walls(corner) for corner in corners])
    words = [
        (told(float(low), "length", "up"), told(float(high), "length", "down"))
        for low, high in walls.T
    ]
    style: dict[str, Any] = {"size": 8.5, "color": _ZONE.colour}
    low, high = views.plan.on_sheet(corners)
    top = float(views.plan.far[1]) + 0.26
    apart = max(0.0, 0.34 - 0.5 * float(high[0] - low[0]))  # words of a narrow zone move apart
    for x, shift, text in ((low[0], -apart, words[0][0]), (high[0], apart, words[0][1])):
        extension(axes, np.array([x, views.side.corner[1]]), np.array([x, top]), _ZONE.colour)
        taken.append(axes.text(x + shift, top + 0.05, text, ha="center", va="bottom", **style))
    for view, ends in ((views.plan, words[1]), (views.side, words[2])):
        (_, low), (_, high) = view.on_sheet(corners)
        right = float(view.far[0]) + 0.32
        apart = max(0.0, 0.09 - 0.5 * float(high - low))
        for y, shift, text in ((low, -apart, ends[0]), (high, apart, ends[1])):
            start = np.array([view.on_sheet(corners[1])[0], y])
            extension(axes, start, np.array([right, y]), _ZONE.colour)
            taken.append(axes.text(right + 0.05, y + shift, text, va="center", **style))


def _dimensions(
    axes: "Axes",
    tank: Tank,
    point: Array,
    views: Views,
    ends: tuple[str, str, str],
    taken: "list[Text]",
) -> None:
    """How far the recommended place is from the rear wall, the right wall and the floor."""
    away = tank.from_walls(point)
    datum = point - np.array(away)
    plan, side = views.plan, views.side
    spot, wall = plan.on_sheet(point), plan.on_sheet(datum)
    below, left = float(plan.corner[1]) - 0.28, float(plan.corner[0]) - 0.32
    extension(axes, spot, np.array([spot[0], below]))
    extension(axes, spot, np.array([left, spot[1]]))
    ends_x = np.array([wall[0], below]), np.array([spot[0], below])
    dimension(axes, *ends_x, f"{mm_words(away[0])} from {ends[0]}", taken)
    ends_y = np.array([left, wall[1]]), np.array([left, spot[1]])
    dimension(axes, *ends_y, f"{mm_words(away[1])} from\n{ends[1]}", taken)
    spot, wall = side.on_sheet(point), side.on_sheet(datum)
    extension(axes, spot, np.array([left, spot[1]]))
    way = "above" if away[2] >= -0.5e-4 else "below"
    ends_z = np.array([left, wall[1]]), np.array([left, spot[1]])
    dimension(axes, *ends_z, f"{mm_words(abs(away[2]))} {way}\n{ends[2]}", taken)


def _spots(axes: "Axes", result: Place, view: View) -> dict[str, Array]:
    """Mark the recommended place with its tube, and that of most margin; return them by name."""
    most, kept_off = spot_names(result)
    best = view.on_sheet(np.array(result.best_point_m))
    axes.plot(*best, "x", ms=6, mec=INK, mew=1.8, zorder=9)
    point = result.recommended_point_m
    if point is None:
        return {most: best}
    advised = view.on_sheet(np.array(point))
    axes.plot(*advised, "o", ms=10, mfc="white", mec=_ADVISED.colour, mew=2.2, zorder=8)
    _tube(axes, result, np.array(point), view)
    if float(np.hypot(*(advised - best))) < 0.06:
        return {f"{kept_off}, {most}": advised}
    return {kept_off: advised, most: best}


def _name_spots(axes: "Axes", spots: dict[str, Array], taken: "list[Text]") -> None:
    """Write the name of each spot where there is room, with a line that leads to it."""
    lines = [np.asarray(line.get_xydata(), float) for line in axes.lines]
    ring = np.array([(dx, dy) for dx in (-1, 0, 1) for dy in (-1, 0, 1)]) * 0.07
    clear = np.vstack(
        [*(points_along(line, 60) for line in lines if len(line) > 1), *(s + ring for s in spots.values())]
    )  # fmt: skip
    for name, spot in spots.items():
        wide = 0.5 * 0.08 * len(name)
        rises: tuple[float, ...] = (0.24, 0.4, 0.56, 0.15, 0.8, 1.0, -0.25, -0.35)
        if name in MOST:
            rises = (-0.25, -0.2, -0.35, *rises)
        places = [
            (float(spot[0]) + side * (wide + out), float(spot[1]) + rise)
            for rise in rises
            for side in (1, -1)
            for out in (0.25, 0.55)
        ]
        label = place_label(axes, name, places, taken, clear_of=clear, size=8.5)
        if label is None:
            continue
        label.set_path_effects(halo(4))
        x, y = label.get_position()
        near = x - math.copysign(wide, x - float(spot[0]))
        axes.plot([near, spot[0]], [y, spot[1]], color=INK, lw=0.7, zorder=7.5)


def _tube(axes: "Axes", result: Place, point: Array, view: View) -> None:
    """Draw the tube proposed, from its hole to the recommended place."""
    if result.tube is None:
        return
    hole = np.array(result.tube.leaves_m)
    line = view.on_sheet(np.array([hole, [point[0], point[1], hole[2]], point]))
    axes.plot(*line.T, color=STEEL, lw=4.0, alpha=0.8, zorder=6, solid_capstyle="butt")
    axes.plot(*line.T, color=INK, lw=0.8, ls=(0, (6, 2, 1, 2)), zorder=7)


def _key(axes: "Axes", result: Place) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    most, kept_off = spot_names(result)
    handles: list[Any] = []
    if result.zones:
        handles += [
            Patch(
                facecolor=_ZONE.tint, edgecolor=_ZONE.colour, hatch=_ZONE.hatch,
                label=key_words(result),
            )
        ]  # fmt: skip
    handles += [Line2D([], [], ls="", marker="x", ms=6, mec=INK, mew=1.8, label=most)]
    if result.recommended_point_m is not None:
        ring: dict[str, Any] = {"ms": 10, "mfc": "white", "mec": _ADVISED.colour, "mew": 2.2}
        handles += [Line2D([], [], ls="", marker="o", label=kept_off, **ring)]
    if result.tube is not None:
        handles += [Line2D([], [], color=STEEL, lw=4.0, label="drop tube proposed")]
    axes.legend(
        handles=handles,
        loc="lower center", bbox_to_anchor=(0.5, 1.5 / _SIZE[1]), ncols=4, fontsize=9.0,
        frameon=False,
    )  # fmt: skip
