"""The whole tank as glass with its pools in it, turned so that their surfaces lie level.

A parallel view from above and to one side, drawn from back to front: the far walls, each pool with
its walls and its surface, the sharp edges of the tank, the ports.
"""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.pools.pool_shape import PoolShape
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.opening import opening_outline
from tanksolve.present.style import (
    GRID,
    INK,
    MUTED,
    STEEL,
    closed_path,
    halo,
    mark,
    place_label,
    pool_look,
    sheet,
)
from tanksolve.questions.level.pool_shapes import pool_shapes
from tanksolve.questions.level.pools import PoolsAt
from tanksolve.units import slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["solid_figure"]

_RAISED = math.radians(24.0)  # how far the eye stands above the level surfaces
_ASIDE = math.radians(35.0)  # and how far it is turned from the right side towards the nose
_SHARP = math.cos(math.radians(25.0))  # edges that bend by more are drawn
_MOST_FACES = 60_000  # shading more takes long and shows no more


class _Eye(NamedTuple):
    """A parallel view: rows of ``turn`` (2, 3) are right and up on the sheet; ``toward`` the eye."""

    turn: Array
    toward: Array


def solid_figure(
    tank: Tank,
    settled: PoolsAt,
    ports: Sequence[Port] = (),
    *,
    unit: str | None = None,
    note: str = "",
) -> "Figure":
    """Draw the tank with each pool of ``settled`` in its own hatch and colour.

    settled : from ``analysis.pools.pools`` with the same ports.
    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without cover.
    """
    figure = sheet(
        f"Pools: {tank.name}",
        "Seen from the front right and from above, turned so that the liquid is level.",
        _cells(tank, settled, unit),
        (8.5, 7.2),
        note,
    )
    axes = figure.add_axes((0.05, 0.235, 0.9, 0.6))
    axes.set_aspect("equal")
    axes.set_axis_off()
    eye = _eye(np.array(settled.up))
    flat = tank.vertices @ eye.turn.T
    low, high = flat.min(axis=0), flat.max(axis=0)
    pad = 0.16 * float((high - low).max())
    axes.set_xlim(low[0] - pad, high[0] + pad)
    axes.set_ylim(low[1] - pad, high[1] + pad)
    axes.apply_aspect()  # labels are placed by what the sheet will show
    shapes = pool_shapes(tank, settled)
    _far_walls(axes, tank, eye)
    for k in np.argsort([shape.vertices.mean(axis=0) @ eye.toward for shape in shapes]):
        _pool(axes, shapes[k], int(k), eye)
    _edges(axes, tank, eye)
    taken = _ends(axes, tank, eye)
    outlines = [_port(axes, port, k, eye) for k, port in enumerate(ports)]
    _over_the_surface(axes, settled, ports, eye)
    for k, shape in enumerate(shapes):
        words = f"pool {k + 1}: {volume_words(settled.pools[k].volume_m3, unit)}"
        _pool_name(axes, words, shape, k, eye, taken)
    for port, outline in zip(ports, outlines, strict=True):
        _port_name(axes, port.name, outline, mark(list(ports).index(port)).colour, taken)
    return figure


def _eye(up: Array) -> _Eye:
    """The eye in front of the right front corner, above it; ``up`` (3,) is up on the sheet."""
    ahead = np.array([1.0, 0.0, 0.0]) - up[0] * up
    if np.linalg.norm(ahead) < 1e-9:  # standing on its tail or nose
        ahead = np.array([0.0, 1.0, 0.0]) - up[1] * up
    ahead /= np.linalg.norm(ahead)
    right_side = np.cross(ahead, up)
    level = math.cos(_ASIDE) * right_side + math.sin(_ASIDE) * ahead
    toward = math.cos(_RAISED) * level + math.sin(_RAISED) * up
    across = np.cross(up, level)
    return _Eye(np.array([across, np.cross(toward, across)]), toward)


def _cells(tank: Tank, settled: PoolsAt, unit: str | None) -> list[tuple[str, str]]:
    attitude = Attitude(settled.up)
    steep = attitude.slope > math.radians(0.05)
    side = f"\n{heading_words(attitude.heading)}" if steep else ""
    listed = [
        f"{k}: {', '.join(pool.ports) or 'no port'}" for k, pool in enumerate(settled.pools, 1)
    ]
    count = len(settled.pools)
    trapped = settled.trapped_m3
    kept = "" if trapped is None else f"\n{volume_words(trapped, unit)} out of reach"
    return [
        ("TANK", f"{tank.name}\nholds {volume_words(tank.capacity, unit)}"),
        (
            "FILL",
            f"{volume_words(settled.volume_m3, unit)} in {count} pool{'s' * (count > 1)}{kept}",
        ),
        ("SLOPE", f"{slope_words(attitude.slope)}{side}"),
        ("POOLS", "\n".join(listed[:5])),
    ]


def _facing(vertices: Array, faces: Ints, eye: _Eye) -> Array:
    """How much each face (F,) looks at the eye [m²]; negative where it turns its back."""
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    return np.asarray(0.5 * normal @ eye.toward)


def _far_walls(axes: "Axes", tank: Tank, eye: _Eye) -> None:
    """Shade the walls that the eye looks at from inside."""
    from matplotlib.collections import PolyCollection

    behind = tank.faces[_facing(tank.vertices, tank.faces, eye) < 0.0]
    if len(behind) <= _MOST_FACES:
        shade = PolyCollection(
            list(tank.vertices[behind] @ eye.turn.T), facecolor="white", edgecolor="white", lw=0.3
        )
        shade.set_zorder(1)
        axes.add_collection(shade, autolim=False)


def _pool(axes: "Axes", shape: PoolShape, index: int, eye: _Eye) -> None:
    """One pool: the walls that it wets as a wash, its surface hatched and outlined."""
    from matplotlib.collections import PolyCollection
    from matplotlib.patches import PathPatch

    look = pool_look(index)
    walls = shape.faces[: shape.walls]
    near = walls[_facing(shape.vertices, walls, eye) > 0.0]
    if len(near) <= _MOST_FACES:
        wash = PolyCollection(
            list(shape.vertices[near] @ eye.turn.T),
            facecolor=look.wash,
            edgecolor=look.wash,
            lw=0.4,
            zorder=2,
        )
        axes.add_collection(wash, autolim=False)
    if shape.surface:
        path = closed_path([loop @ eye.turn.T for loop in shape.surface])
        axes.add_patch(PathPatch(path, facecolor=look.wash, edgecolor="none", zorder=2.2))
        axes.add_patch(
            PathPatch(
                path, facecolor="none", edgecolor=look.ink, hatch=look.hatch, lw=1.4, zorder=2.3
            )
        )


def _edges(axes: "Axes", tank: Tank, eye: _Eye) -> None:
    """Draw the sharp edges and the outline: full where a wall there faces the eye, else thin."""
    from matplotlib.collections import LineCollection

    corners = tank.vertices[tank.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normal, axis=1)
    normal = normal / np.where(length > 0.0, length, 1.0)[:, None]
    pairs = np.sort(np.vstack([tank.faces[:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    order = np.lexsort(pairs.T)
    face = np.tile(np.arange(len(tank.faces)), 3)[order].reshape(-1, 2)
    ends = pairs[order][::2]
    seen = normal[face] @ eye.toward > 0.0
    bends = np.einsum("ij,ij->i", normal[face[:, 0]], normal[face[:, 1]]) < _SHARP
    outline = seen[:, 0] != seen[:, 1]
    lines = tank.vertices[ends] @ eye.turn.T
    near, far = (bends & seen.any(axis=1)) | outline, bends & ~seen.any(axis=1)
    for which, colour, width, order_ in ((far, GRID, 0.8, 1.5), (near, INK, 1.1, 4.0)):
        drawn = LineCollection(list(lines[which]), colors=colour, linewidths=width, zorder=order_)
        axes.add_collection(drawn, autolim=False)


def _ends(axes: "Axes", tank: Tank, eye: _Eye) -> "list[Text]":
    """Name the nose, the tail and the right side beside the tank."""
    made = []
    reach = 0.5 * (tank.upper - tank.lower)
    gap = 0.16 * float(reach.max())
    for name, axis, sign in (("nose", 0, 1.0), ("tail", 0, -1.0), ("right side", 1, -1.0)):
        place = tank.centre.copy()
        place[axis] += sign * (reach[axis] + gap)
        place[2] -= reach[2]
        x, y = eye.turn @ place
        made.append(axes.text(x, y, name, size=9, color=MUTED, ha="center", va="top", zorder=9))
        made[-1].set_path_effects(halo())
    return made


def _port(axes: "Axes", port: Port, index: int, eye: _Eye) -> Array:
    """Draw an opening to scale with its marker; return its outline (M, 2)."""
    look = mark(index)
    outline = opening_outline(port, eye.turn)
    x, y = (float(c) for c in 0.5 * (outline.min(axis=0) + outline.max(axis=0)))
    axes.fill(*outline.T, facecolor=look.tint, edgecolor=look.colour, lw=1.8, zorder=5)
    axes.plot(x, y, ls="", marker=look.point, ms=5, mfc=look.colour, mec=INK, mew=0.7, zorder=6)
    return outline


def _over_the_surface(axes: "Axes", settled: PoolsAt, ports: Sequence[Port], eye: _Eye) -> None:
    """A dotted plumb line from each port in the air down to the surface of its pool."""
    up = np.array(settled.up)
    for port in ports:
        for pool in settled.pools:
            place = np.array(port.position)
            over = float(up @ place) - pool.level_height_m
            if port.name in pool.ports and over > 0.0:
                ends = np.array([place, place - over * up]) @ eye.turn.T
                axes.plot(*ends.T, color=INK, lw=1.2, ls=":", zorder=4.5)
                axes.plot(*ends[1], marker="_", ms=9, mec=INK, mew=1.4, zorder=4.5)


def _port_name(axes: "Axes", name: str, outline: Array, colour: str, taken: "list[Text]") -> None:
    x, y = (float(c) for c in 0.5 * (outline.min(axis=0) + outline.max(axis=0)))
    (left, right), (low, high) = axes.get_xlim(), axes.get_ylim()
    places = [
        (x + far * (right - left) * math.cos(t), y + far * (high - low) * math.sin(t))
        for far in (0.12, 0.17, 0.22, 0.27)
        for t in np.radians([60, 120, 90, 20, 160, -60, -120, -90])
    ]
    label = place_label(axes, name, places, taken, clear_of=outline, size=8.5, frame=colour)
    if label is not None:
        end = label.get_position()
        axes.plot([x, end[0]], [y, end[1]], color=STEEL, lw=0.9, zorder=5.5)


def _pool_name(
    axes: "Axes", words: str, shape: PoolShape, index: int, eye: _Eye, taken: "list[Text]"
) -> None:
    from matplotlib.collections import LineCollection
    from matplotlib.patches import Polygon
    from matplotlib.path import Path
    from scipy.spatial import ConvexHull

    look = pool_look(index)
    points = (np.vstack(shape.surface) if shape.surface else shape.vertices) @ eye.turn.T
    body = shape.vertices @ eye.turn.T
    low, high = body.min(axis=0), body.max(axis=0)
    x, y = np.meshgrid(*(np.linspace(low[k], high[k], 30) for k in (0, 1)))
    spots = np.column_stack([x.ravel(), y.ravel()])
    spots = spots[Path(body[ConvexHull(body).vertices]).contains_points(spots)]
    order = np.argsort(np.hypot(*(spots - points.mean(axis=0)).T))
    places = [(float(x), float(y)) for x, y in spots[order]]
    fine = np.linspace(0.0, 1.0, 40)[:, None]
    drawn = [c for c in axes.collections if isinstance(c, LineCollection)]
    pieces = [np.asarray(piece) for lines in drawn for piece in lines.get_segments()]
    ports = [patch.get_xy() for patch in axes.patches if isinstance(patch, Polygon)]
    plumb = [np.asarray(line.get_xydata()) for line in axes.lines]
    edges = np.vstack(
        [*(piece[0] + fine * (piece[1] - piece[0]) for piece in pieces), *ports, *plumb]
    )
    for clear in (edges, None):
        look_so = {"size": 8.5, "frame": look.ink, "wash": look.wash}
        if place_label(axes, words, places, taken, clear_of=clear, **look_so) is not None:  # type: ignore[arg-type]
            return
