"""The liquid below a level cut into the bricks of a grid, for its waves.

manifold3d cuts; every part of a brick that hangs together is a part of its own.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tanksolve.geometry.booleans import Body, mesh_of, spaces, to_body
from tanksolve.geometry.solids import Solid
from tanksolve.kernel.waves.cut_mesh import CutMesh
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import told

Array = NDArray[np.float64]

__all__ = ["Room", "WetTank"]

_MOST_FACES = 20_000  # a mesh of more is coarsened for its waves
_COARSENED_BY = 2e-3  # of the tank's size, at most
_FULL = 1e-9  # of a brick: what counts as all of it, or as nothing
_ALONG, _ACROSS = 8, 3  # bricks along the longest side of a room at least, and along a shorter one
_MOST_BRICKS = 1200  # in all rooms together
_SHARP = 0.34  # sine of the angle by which an edge must stand into the liquid to count as a rim


@dataclass(frozen=True, eq=False)
class Room:
    """A body of liquid that hangs together below a level, with its corners (3,) [m] and volume [m³]."""

    body: Body
    lower: Array
    upper: Array
    volume_m3: float
    rims: Array

    def cut(self, level: float, share: float = 1.0) -> CutMesh:
        """Its bricks; ``share`` (0 to 1) of the usual number of them where there are many rooms."""
        upper = np.array([*self.upper[:2], level])
        planes = _grid(self.lower, upper, self.rims, share * _MOST_BRICKS)
        parts: list[tuple[tuple[int, ...], Array]] = []
        _divide(self.body, planes, (0, 0, 0), tuple(len(p) - 1 for p in planes), parts)
        places = np.array([place for place, _ in parts], np.int64).reshape(-1, 3)
        low = np.stack([planes[a][places[:, a]] for a in range(3)], axis=-1)
        high = np.stack([planes[a][places[:, a] + 1] for a in range(3)], axis=-1)
        owner = np.repeat(np.arange(len(parts)), [len(t) for _, t in parts])
        centres, sizes = 0.5 * (low + high), high - low
        corners = np.concatenate([t for _, t in parts]) - centres[owner, None]
        return CutMesh(places, centres, sizes, corners / (0.5 * sizes[owner, None]), owner)


class WetTank:
    """A tank as a solid, coarsened once where its mesh is large; ``note`` then says so."""

    def __init__(self, tank: Tank) -> None:
        self.tank, self.note = tank, ""
        self._body = to_body(Solid(tank.vertices, tank.faces))
        if len(tank.faces) > _MOST_FACES:
            within = _COARSENED_BY * float(np.linalg.norm(tank.upper - tank.lower))
            self._body = self._body.simplify(within)
            self.note = (
                f"the mesh's {len(tank.faces):,} faces were coarsened to {self._body.num_tri():,}, "
                f"within {told(within, 'length', 'up')}, for the waves"
            )

        self.rims = _rims(*mesh_of(self._body)) if self.note else _rims(tank.vertices, tank.faces)

    def rooms(self, level: float, walls: Sequence[float] = ()) -> list[Room]:
        """Bodies of liquid below a level [m], largest first; ``walls`` are solid, at these x [m]."""
        wet = [self._body.trim_by_plane((0.0, 0.0, -1.0), -level)]
        for x in walls:
            wet = [part for one in wet for part in one.split_by_plane((1.0, 0.0, 0.0), x)]
        found = []
        for body in (room for one in wet if not one.is_empty() for room in spaces(one)):
            vertices = mesh_of(body)[0]
            ends = vertices.min(axis=0), vertices.max(axis=0)
            near = np.all((self.rims[:, 0] < ends[1]) & (self.rims[:, 1] > ends[0]), axis=1)
            rims = self.rims[near & (self.rims[:, 0, 2] < level)]
            found.append(Room(body, *ends, volume_m3=float(body.volume()), rims=rims))
        return sorted(found, key=lambda room: -room.volume_m3)


def _grid(lower: Array, upper: Array, rims: Array, most: float) -> list[Array]:
    """Planes of the grid along each axis [m], finer towards the surface and about rims.

    rims : (n, 2, 3) corners of boxes about edges that stand into the liquid: of a plate, of a hole.
    The grid has planes at them, and bricks as small as they are. ``most`` bricks, about.
    """
    span = upper - lower
    across = float(max(span[:2]))
    marks = [_marks(lower, upper, rims, axis) for axis in range(3)]
    coarser = 1.0
    while True:
        planes = []
        for axis in range(3):
            step = min(across / _ALONG, span[axis] / (_ACROSS if axis < 2 else 2.0)) * coarser
            top = [(float(upper[2]), step)] if axis == 2 else []
            sizes = [*top, *((at, max(size * coarser, across / 64.0)) for at, size in marks[axis])]
            ends = np.array([lower[axis], *(at for at, _ in marks[axis]), upper[axis]])
            planes.append(_graded(np.unique(ends), sizes, np.inf if axis == 2 else step))
        if np.prod([len(p) - 1.0 for p in planes]) <= most or coarser > 8.0:
            return planes
        coarser *= 1.25


def _marks(lower: Array, upper: Array, rims: Array, axis: int) -> list[tuple[float, float]]:
    """Places on an axis where a rim is, and how large bricks may be there [m]."""
    thin = 0.01 * float(max((upper - lower)[:2]))
    found: dict[float, float] = {}
    for low, high in np.clip(rims, lower, upper):
        wide = high - low
        open_ = wide[wide > thin]
        size = 0.5 * float(open_.min()) if len(open_) else thin
        ends = [low[axis], high[axis]] if wide[axis] > thin else [0.5 * (low[axis] + high[axis])]
        for at in map(float, ends):
            if not lower[axis] + thin < at < upper[axis] - thin:
                continue
            near = next((other for other in found if abs(other - at) < thin), at)
            found[near] = min(size, found.get(near, np.inf))
    return sorted(found.items())


def _graded(ends: Array, sizes: Sequence[tuple[float, float]], step: float) -> Array:
    """Places along an axis: halved until no stretch is longer than allowed where it is."""
    done, todo = [float(ends[0])], [(float(a), float(b)) for a, b in pairwise(ends)][::-1]
    while todo:
        a, b = todo.pop()
        gaps = ((max(a - at, at - b, 0.0), size) for at, size in sizes)
        if b - a > 1.01 * min([step, *(size + 0.6 * gap for gap, size in gaps)]):
            todo += [(0.5 * (a + b), b), (a, 0.5 * (a + b))]
        else:
            done.append(b)
    return np.array(done)


def _rims(vertices: Array, faces: NDArray[np.int64]) -> Array:
    """Boxes (n, 2, 3) about edges that stand into the liquid by more than 20 degrees, each hanging together."""
    corners = vertices[faces]
    out = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(out, axis=1)
    out = out / np.maximum(size, 1e-300)[:, None]
    walked = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort(np.sort(walked, axis=1).T)
    first, second = order[0::2], order[1::2]  # of a closed mesh every edge is walked twice
    along = vertices[walked[first, 1]] - vertices[walked[first, 0]]
    along /= np.maximum(np.linalg.norm(along, axis=1), 1e-300)[:, None]
    turn = np.cross(out[owner[first]], out[owner[second]])
    sharp = np.einsum("ei,ei->e", turn, along) < -_SHARP
    edges = walked[first[sharp]]
    if not len(edges):
        return np.zeros((0, 2, 3))
    graph = coo_array((np.ones(len(edges)), tuple(edges.T)), shape=(len(vertices),) * 2)
    body = connected_components(graph, directed=False)[1]
    groups = (vertices[edges[body[edges[:, 0]] == k].ravel()] for k in np.unique(body[edges[:, 0]]))
    return np.array([(points.min(axis=0), points.max(axis=0)) for points in groups])


def _divide(
    body: Body,
    planes: Sequence[Array],
    low: tuple[int, ...],
    high: tuple[int, ...],
    parts: list[tuple[tuple[int, ...], Array]],
) -> None:
    """Cut a body in halves along the grid until each brick is alone, or wholly wet."""
    if body.is_empty():
        return
    ends = [(planes[a][low[a]], planes[a][high[a]]) for a in range(3)]
    room = float(np.prod([b - a for a, b in ends]))
    counts = [b - a for a, b in zip(low, high, strict=True)]
    volume = float(body.volume())
    if volume >= (1.0 - _FULL) * room:
        for place in np.ndindex(*counts):
            here = tuple(int(a + b) for a, b in zip(low, place, strict=True))
            parts.append(
                (here, _brick([(planes[a][k], planes[a][k + 1]) for a, k in enumerate(here)]))
            )
    elif max(counts) == 1:
        parts.extend((low, triangles) for triangles in _wet_parts(body, room))
    else:
        axis = int(np.argmax(counts))
        middle = (low[axis] + high[axis]) // 2
        normal = tuple(float(a == axis) for a in range(3))
        beyond, before = body.split_by_plane(normal, float(planes[axis][middle]))
        half = (*high[:axis], middle, *high[axis + 1 :])
        _divide(before, planes, low, half, parts)
        _divide(beyond, planes, (*low[:axis], middle, *low[axis + 1 :]), high, parts)


def _wet_parts(body: Body, room: float) -> list[Array]:
    """Triangles (T, 3, 3) [m] of each part; solids that stand free in it go with the largest."""
    pieces = [one for one in body.decompose() if abs(one.volume()) > _FULL * room]
    pieces.sort(key=lambda one: -one.volume())
    found: list[Array] = []
    for one in pieces:
        vertices, faces = mesh_of(one)
        if one.volume() > 0.0:
            found.append(vertices[faces])
        else:
            found[0] = np.concatenate([found[0], vertices[faces]])
    return found


def _brick(ends: Sequence[tuple[float, float]]) -> Array:
    """Outward triangles (12, 3, 3) of a brick."""
    unit = np.array([(i, j, k) for i in (0, 1) for j in (0, 1) for k in (0, 1)])
    corners = np.array(ends)[np.arange(3), unit]
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = [(q[0], q[k], q[k + 1]) for q in quads for k in (1, 2)]
    return np.asarray(corners[np.array(faces)])
