"""A cut through the tank at one attitude, turned so that the liquid's surface is level."""

import math
from collections.abc import Sequence
from itertools import pairwise
from typing import TYPE_CHECKING, Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.section import section_loops
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.present.opening import opening_outline
from tanksolve.present.pipes_in_cut import draw_pipes
from tanksolve.present.pools_in_cut import draw_pools
from tanksolve.present.style import (
    INK,
    LIQUID,
    MUTED,
    Mark,
    closed_path,
    dashed,
    halo,
    mark,
    place_label,
    sheet,
)
from tanksolve.questions.level.pools import PoolsAt, PortInPool
from tanksolve.questions.level.surface import Level, PortAtLevel
from tanksolve.unit_systems import current, stated, told
from tanksolve.units import length_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.patches import PathPatch
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

    @property
    def cut(self) -> tuple[Array, float]:
        """The plane of the cut: its unit normal (3,), towards the viewer, and its height [m]."""
        normal = np.zeros(3)
        normal[self.depth] = sign = -1.0 if self.depth == 1 else 1.0
        return normal, sign * self.at


def section_figure(
    tank: Tank,
    level: Level,
    ports: Sequence[Port] = (),
    *,
    settled: PoolsAt | None = None,
    seen_from: Side = "right",
    at: float | None = None,
    unit: str | None = None,
    note: str = "",
) -> "Figure":
    """Draw a cut through the tank with its liquid and its ports.

    level : the surface at this attitude, from ``analysis.surface.level`` with the same ports.
    settled : the pools at the same attitude: each is drawn to its own level, and the ports are
        judged by them. None draws one level through the whole tank.
    seen_from : ``right`` for a side elevation (nose to the right), ``front`` for a cross section.
    at : where to cut [m]: y for a side elevation, x for a cross section; the first port's place,
        else the middle, by default.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without cover.
    """
    depth = 1 if seen_from == "right" else 0
    if at is None:
        at = float(ports[0].position[depth] if ports else tank.centre[depth])
    view = _view(level, depth, at)
    parted = settled if settled is not None and _stands_apart(settled) else None
    judged = {port.name: port for port in (settled or level).ports}
    words = _WORDS[seen_from]
    away = length_words(at - float(tank.lower[depth]))
    edge = "edge of the whole surface" if parted is None else "edges of the pools' surfaces"
    figure = sheet(
        f"Level: {tank.name}",
        f"Cut {away} from the {words[3]}, {words[0]}, turned to level. Dashed: {edge}.",
        _cells(tank, level, parted, unit),
        (8.5, 7.2),
        note,
    )
    axes = figure.add_axes((0.05, 0.235, 0.9, 0.6))
    axes.set_aspect("equal")
    axes.set_axis_off()
    walls = _walls(axes, tank, view)
    taken = _ends(axes, tank, view, words)
    shapes = [opening_outline(port, view.turn) for port in ports]
    if parted is None:
        _one_level(axes, tank, level, view, walls)
    else:
        marked = np.vstack([np.empty((0, 2)), *shapes])
        draw_pools(axes, tank, parted, view.turn, view.cut, taken, unit, marked)
    draw_pipes(axes, tank, view.turn, taken)
    lines = _drawn_lines(axes)
    for k, port in enumerate(ports):
        clear = np.vstack([lines, *shapes])
        _port(axes, port, judged.get(port.name), view, mark(k), taken, clear)
    _scale_bar(axes, tank)
    return figure


def _stands_apart(settled: PoolsAt) -> bool:
    """Whether the liquid is told in several pools, or only a part of it."""
    held = sum(pool.volume_m3 for pool in settled.pools)
    dry = any(port.pool is None for port in settled.ports)
    return dry or len(settled.pools) > 1 or held < settled.volume_m3 * (1.0 - 1e-6)


def _view(level: Level, depth: int, at: float) -> _View:
    across = 1 - depth
    lean = math.atan2(level.up[across], level.up[2])
    turn = np.zeros((2, 3))
    turn[0, across], turn[0, 2] = math.cos(lean), -math.sin(lean)
    turn[1, across], turn[1, 2] = math.sin(lean), math.cos(lean)
    return _View(turn, depth, at)


def _cells(
    tank: Tank, level: Level, parted: PoolsAt | None, unit: str | None
) -> list[tuple[str, str]]:
    attitude = Attitude(level.up)
    slope = slope_words(attitude.slope)
    side = "" if level.slope_deg < 0.05 else f"\n{heading_words(attitude.heading)}"
    ports = [
        f"{port.name}: {_margin_words(port)}{'' if port.holds else ': rule broken'}"
        for port in (parted or level).ports
    ]
    held = volume_words(level.volume_m3, unit)
    if parted is not None:
        count = len(parted.pools)
        held += f" in {count} pool{'' if count == 1 else 's'}"
        told = sum(pool.volume_m3 for pool in parted.pools)
        if told < parted.volume_m3 * (1.0 - 1e-6):
            held += f",\n{volume_words(parted.volume_m3 - told, unit)} elsewhere"
    return [
        ("TANK", f"{tank.name}\nholds {volume_words(tank.capacity, unit)}"),
        ("FILL", held),
        ("SLOPE", f"{slope}{side}"),
        ("MARGINS", "\n".join(ports[:5]) or "no ports"),
    ]


def _walls(axes: "Axes", tank: Tank, view: _View) -> "PathPatch | None":
    """Draw the walls in the cut and set the frame; None where the cut misses the tank."""
    from matplotlib.patches import PathPatch

    outline = [loop @ view.turn.T for loop in section_loops(tank.vertices, tank.faces, *view.cut)]
    flat = tank.vertices @ view.turn.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    pad = 0.14 * float((high - low).max())
    axes.set_xlim(low[0] - pad, high[0] + pad)
    axes.set_ylim(low[1] - pad, high[1] + pad)
    axes.apply_aspect()  # labels are placed by what the sheet will show
    if not outline:
        return None
    path = closed_path(outline)
    axes.add_patch(PathPatch(path, facecolor="white", edgecolor="none", zorder=1))
    walls = PathPatch(path, edgecolor=INK, lw=2.0, zorder=3, fill=False)
    axes.add_patch(walls)
    return walls


def _one_level(
    axes: "Axes", tank: Tank, level: Level, view: _View, walls: "PathPatch | None"
) -> None:
    """Fill the cut up to the surface, and outline the whole surface, dashed.

    Where the machine leans towards the viewer, the surface is seen from above or from below.
    """
    from matplotlib.patches import Rectangle

    (left, right), (low, _) = axes.get_xlim(), axes.get_ylim()
    if walls is not None:
        wet = Rectangle(
            (left, low),
            right - left,
            _surface_height(level, view) - low,
            facecolor=LIQUID,
            edgecolor=INK,
            lw=1.4,
            zorder=2,
        )
        axes.add_patch(wet)
        wet.set_clip_path(walls)
    for loop in section_loops(tank.vertices, tank.faces, level.up, level.level_height_m):
        dashed(axes, loop @ view.turn.T)


def _surface_height(level: Level, view: _View) -> float:
    """Height on the sheet [m] of the surface where the cut meets it."""
    in_cut = level.level_height_m - level.up[view.depth] * view.at
    across = level.up[1 - view.depth]
    return in_cut / math.hypot(across, level.up[2])


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
    axes: "Axes",
    port: Port,
    judged: PortAtLevel | PortInPool | None,
    view: _View,
    look: Mark,
    taken: "list[Text]",
    lines: Array,
) -> None:
    """Draw an opening to scale with its name and margin beside it.

    lines : points (M, 2) of what the label should not cover, where there is such a place.
    """
    shape = opening_outline(port, view.turn)
    axes.fill(*shape.T, facecolor=look.tint, edgecolor=look.colour, lw=2.2, zorder=5)
    x, y = (float(c) for c in 0.5 * (shape.min(axis=0) + shape.max(axis=0)))
    axes.plot(x, y, ls="", marker=look.point, ms=5, mfc=look.colour, mec=INK, mew=0.7, zorder=6)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    places = [
        (x + far * (right - left) * math.cos(t), y + far * (high - low) * math.sin(t))
        for far in (0.12, 0.16, 0.2, 0.24, 0.28, 0.34, 0.4)
        for t in np.radians([45, 135, 90, 0, 180, -45, -135, -90, 22, 158, -22, -158])
    ]
    aside, over = 0.12 * (right - left), 0.06 * (high - low)  # room for half a label
    inside = [
        (px, py)
        for px, py in places
        if left + aside < px < right - aside and low + over < py < high - over
    ]
    words = _port_words(port, judged, view)
    label = None
    for clear in (lines, shape):
        if label is None:
            label = place_label(
                axes, words, inside, taken, clear_of=clear, size=8.5, frame=look.colour
            )
    if label is not None:
        end = label.get_position()
        leader = axes.plot([x, end[0]], [y, end[1]], color=INK, lw=0.8, zorder=4.5)[0]
        leader.set_path_effects(halo(2.0))


def _margin_words(judged: PortAtLevel | PortInPool) -> str:
    """How far the rule is kept, or for a port without one how deep under liquid its top is."""
    if judged.rule != str(Rule.NONE):
        return told(judged.margin_m, "length", "down")
    deep = length_words(abs(judged.margin_m))
    return f"{deep} under liquid" if judged.margin_m >= 0.0 else f"top {deep} above liquid"


def _port_words(port: Port, judged: PortAtLevel | PortInPool | None, view: _View) -> str:
    words = port.name
    if judged is not None:
        kept = "" if port.effective_rule is Rule.NONE else "margin "
        words += f"\n{kept}{_margin_words(judged)}{'' if judged.holds else ': rule broken'}"
        if port.required_cover > 0.0:
            kind = "cover" if port.effective_rule is Rule.WET else "clearance"
            words += f"\n{'beyond' if judged.holds else 'short of'} {length_words(port.required_cover)} {kind}"
    off = port.position[view.depth] - view.at
    if abs(off) > 0.0005:
        towards_viewer = (off < 0.0) == (view.depth == 1)
        words += (
            f"\n{length_words(abs(off))} {'in front of' if towards_viewer else 'behind'} the cut"
        )
    return words


def _drawn_lines(axes: "Axes") -> Array:
    """Points (M, 2) of walls and surfaces drawn so far, close enough together to be kept clear of."""
    paths = [line.get_path() for line in axes.lines]
    paths += [
        patch.get_transform()
        .transform_path(patch.get_path())
        .transformed(axes.transData.inverted())
        for patch in axes.patches
    ]
    loops = [
        np.asarray(loop, float) for path in paths for loop in path.to_polygons(closed_only=False)
    ]
    fine = np.linspace(0.0, 1.0, 60, endpoint=False)[:, None]
    pieces = [a + fine * (b - a) for loop in loops for a, b in pairwise(loop)]
    return np.vstack([np.empty((0, 2)), *pieces])


def _scale_bar(axes: "Axes", tank: Tank) -> None:
    """A bar of a round length at the lower left."""
    unit = current().units["length"].size
    size = 0.25 * float((tank.upper - tank.lower).max()) / unit
    power = 10.0 ** math.floor(math.log10(size))
    bar = unit * max(f * power for f in (1.0, 2.0, 5.0) if f * power <= size)
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    x, y = left + 0.01 * (right - left), low + 0.01 * (high - low)
    axes.plot([x, x + bar], [y, y], color=INK, lw=3.0, solid_capstyle="butt", zorder=6)
    axes.text(x + bar / 2, y + 0.012 * (right - left), stated(bar, "length"), size=8, ha="center")
