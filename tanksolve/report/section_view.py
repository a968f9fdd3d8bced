"""A cut through the tank at one attitude, turned so that the liquid's surface is level."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.surface import Level
from tanksolve.kernel.section import section_loops
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.report.style import INK, LIQUID, MUTED, Mark, halo, mark, place_label, sheet
from tanksolve.units import length_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.path import Path
    from matplotlib.text import Text

Array = NDArray[np.float64]
Side = Literal["right", "front"]

__all__ = ["section_figure"]

_WORDS = {
    "right": ("seen from the right side", "tail", "nose", "right wall"),
    "front": ("seen from the front", "right side", "left side", "rear wall"),
}


class _View(NamedTuple):
    """How tank coordinates [m] land on the sheet: the rows of ``turn`` (2, 3) are right and up."""

    turn: Array
    depth: int
    at: float


def section_figure(
    tank: Tank,
    level: Level,
    ports: Sequence[Port] = (),
    *,
    seen_from: Side = "right",
    at: float | None = None,
    unit: str = "L",
    note: str = "",
) -> "Figure":
    """Draw a cut through the tank with its liquid and its ports.

    level : the surface at this attitude, from ``analysis.surface.level`` with the same ports.
    seen_from : ``right`` for a side elevation (nose to the right), ``front`` for a cross section.
    at : where to cut [m]: y for a side elevation, x for a cross section; the first port's place,
        else the middle, by default.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without allowance.
    """
    depth = 1 if seen_from == "right" else 0
    if at is None:
        at = float(ports[0].position[depth] if ports else tank.centre[depth])
    view = _view(level, depth, at)
    words = _WORDS[seen_from]
    away = length_words(at - float(tank.lower[depth]))
    figure = sheet(
        f"Level: {tank.name}",
        f"Cut {away} from the {words[3]}, {words[0]}, turned to level. Dashed: the whole surface.",
        _cells(tank, level, unit),
        (8.5, 7.2),
        note,
    )
    axes = figure.add_axes((0.05, 0.235, 0.9, 0.6))
    axes.set_aspect("equal")
    axes.set_axis_off()
    taken = _tank(axes, tank, level, view, words)
    for k, port in enumerate(ports):
        _port(axes, port, level, view, mark(k), taken)
    _scale_bar(axes, tank)
    return figure


def _view(level: Level, depth: int, at: float) -> _View:
    across = 1 - depth
    lean = math.atan2(level.up[across], level.up[2])
    turn = np.zeros((2, 3))
    turn[0, across], turn[0, 2] = math.cos(lean), -math.sin(lean)
    turn[1, across], turn[1, 2] = math.sin(lean), math.cos(lean)
    return _View(turn, depth, at)


def _cells(tank: Tank, level: Level, unit: str) -> list[tuple[str, str]]:
    attitude = Attitude(level.up)
    slope = slope_words(attitude.slope)
    side = "" if level.slope_deg < 0.05 else f"\n{heading_words(attitude.heading)}"
    ports = [
        f"{port.name}: {length_words(port.margin_m)}{'' if port.holds else ' LOST'}"
        for port in level.ports
    ]
    return [
        ("TANK", f"{tank.name}\nholds {volume_words(tank.capacity, unit)}"),
        ("FILL", volume_words(level.volume_m3, unit)),
        ("SLOPE", f"{slope}{side}"),
        ("MARGINS", "\n".join(ports[:5]) or "no ports"),
    ]


def _tank(
    axes: "Axes", tank: Tank, level: Level, view: _View, words: tuple[str, ...]
) -> "list[Text]":
    """Draw the walls, the liquid up to the surface, and which end is which."""
    from matplotlib.patches import PathPatch, Rectangle

    normal = np.zeros(3)
    normal[view.depth] = -1.0 if view.depth == 1 else 1.0
    sign = float(normal[view.depth])
    loops = section_loops(tank.vertices, tank.faces, normal, sign * view.at)
    outline = [loop @ view.turn.T for loop in loops]
    flat = tank.vertices @ view.turn.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    pad = 0.14 * float((high - low).max())
    axes.set_xlim(low[0] - pad, high[0] + pad)
    axes.set_ylim(low[1] - pad, high[1] + pad)
    if outline:
        path = _path(outline)
        walls = PathPatch(path, facecolor="white", edgecolor=INK, lw=2.0, zorder=3, fill=False)
        axes.add_patch(PathPatch(path, facecolor="white", edgecolor="none", zorder=1))
        axes.add_patch(walls)
        surface = _surface_height(level, view)
        wet = Rectangle(
            (low[0] - pad, low[1] - pad),
            high[0] - low[0] + 2 * pad,
            surface - low[1] + pad,
            facecolor=LIQUID,
            edgecolor=INK,
            lw=1.4,
            zorder=2,
        )
        axes.add_patch(wet)
        wet.set_clip_path(walls)
    _free_surface(axes, tank, level, view)
    return _ends(axes, tank, view, words)


def _surface_height(level: Level, view: _View) -> float:
    """Height on the sheet [m] of the surface where the cut meets it."""
    in_cut = level.level_height_m - level.up[view.depth] * view.at
    across = level.up[1 - view.depth]
    return in_cut / math.hypot(across, level.up[2])


def _free_surface(axes: "Axes", tank: Tank, level: Level, view: _View) -> None:
    """Outline the whole surface, dashed: where the machine leans towards the viewer it shows."""
    loops = section_loops(tank.vertices, tank.faces, level.up, level.level_height_m)
    for loop in loops:
        flat = np.vstack([loop, loop[:1]]) @ view.turn.T
        axes.plot(*flat.T, color=MUTED, lw=0.9, ls=(0, (4, 3)), zorder=3.5)


def _path(loops: Sequence[Array]) -> "Path":
    from matplotlib.path import Path

    return Path.make_compound_path(*(Path(np.vstack([p, p[:1]]), closed=True) for p in loops))


def _ends(axes: "Axes", tank: Tank, view: _View, words: tuple[str, ...]) -> "list[Text]":
    """Write which end is which beside the tank, along its floor."""
    across = 1 - view.depth
    middle = tank.centre.copy()
    lean = math.degrees(math.atan2(view.turn[1, across], view.turn[0, across]))
    made = []
    gap = 0.05 * float((tank.upper - tank.lower).max())
    for name, end in ((words[1], tank.lower[across] - gap), (words[2], tank.upper[across] + gap)):
        middle[across] = end
        x, y = view.turn @ middle
        made.append(
            axes.text(
                x, y, name, rotation=lean + 90.0, size=9, color=MUTED, ha="center", va="center"
            )
        )
    return made


def _port(
    axes: "Axes", port: Port, level: Level, view: _View, look: Mark, taken: "list[Text]"
) -> None:
    """Draw an opening to scale with its name and margin beside it."""
    shape = _opening(port, view)
    axes.fill(*shape.T, facecolor=look.tint, edgecolor=look.colour, lw=2.2, zorder=5)
    x, y = (float(c) for c in 0.5 * (shape.min(axis=0) + shape.max(axis=0)))
    axes.plot(x, y, ls="", marker=look.point, ms=5, mfc=look.colour, mec=INK, mew=0.7, zorder=6)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    places = [
        (x + far * (right - left) * math.cos(t), y + far * (high - low) * math.sin(t))
        for far in (0.16, 0.22, 0.28, 0.34)
        for t in np.radians([45, 135, 90, 0, 180, -45, -135, -90])
    ]
    aside, over = 0.12 * (right - left), 0.06 * (high - low)  # room for half a label
    inside = [
        (px, py)
        for px, py in places
        if left + aside < px < right - aside and low + over < py < high - over
    ]
    words = _port_words(port, level, view)
    label = place_label(axes, words, inside, taken, clear_of=shape, size=8.5)
    if label is not None:
        frame = {"facecolor": "white", "edgecolor": look.colour, "lw": 1.4}
        label.set_bbox({**frame, "boxstyle": "round,pad=0.3"})
        end = label.get_position()
        leader = axes.plot([x, end[0]], [y, end[1]], color=INK, lw=0.8, zorder=4.5)[0]
        leader.set_path_effects(halo(2.0))


def _port_words(port: Port, level: Level, view: _View) -> str:
    words = port.name
    for found in level.ports:
        if found.name == port.name:
            words += f"\nmargin {length_words(found.margin_m)}{'' if found.holds else ' (LOST)'}"
    off = port.position[view.depth] - view.at
    if abs(off) > 0.0005:
        towards_viewer = (off < 0.0) == (view.depth == 1)
        words += (
            f"\n{length_words(abs(off))} {'in front of' if towards_viewer else 'behind'} the cut"
        )
    return words


def _opening(port: Port, view: _View) -> Array:
    """Outline (M, 2) of an opening on the sheet: the hull of its rims and balls."""
    turns = np.linspace(0.0, 2.0 * math.pi, 48, endpoint=False)[:, None]
    points = []
    for row in port.discs:
        centre, axis, radius, ball = row[:3], row[3:6], row[6], row[7]
        first = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
        first /= np.linalg.norm(first)
        second = np.cross(axis, first)
        rim = centre + radius * (np.cos(turns) * first + np.sin(turns) * second)
        points.append(rim @ view.turn.T + ball * np.hstack([np.cos(turns), np.sin(turns)]))
    return _hull(np.vstack(points))


def _hull(points: Array) -> Array:
    """Convex hull of points (M, 2), counter-clockwise: A. M. Andrew's monotone chain (1979)."""
    ordered = points[np.lexsort(points.T[::-1])]
    chains = []
    for run in (ordered, ordered[::-1]):
        chain: list[Array] = []
        for point in run:
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-1] - chain[-2], point - chain[-1]
                if ax * by > ay * bx:
                    break
                chain.pop()
            chain.append(point)
        chains += chain[:-1]
    return np.array(chains)


def _scale_bar(axes: "Axes", tank: Tank) -> None:
    """A bar of a round length at the lower left."""
    size = 0.25 * float((tank.upper - tank.lower).max())
    power = 10.0 ** math.floor(math.log10(size))
    bar = max(f * power for f in (1.0, 2.0, 5.0) if f * power <= size)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    x, y = left + 0.01 * (right - left), low + 0.01 * (high - low)
    axes.plot([x, x + bar], [y, y], color=INK, lw=3.0, solid_capstyle="butt", zorder=6)
    axes.text(x + bar / 2, y + 0.012 * (right - left), f"{1000 * bar:g} mm", size=8, ha="center")
