"""Where one free surface is certain: no history can leave liquid anywhere else.

At an attitude u1 the liquid has one level, however it got there, if all pits (places where a pool
can begin) lie below that level and hang together below it. For a whole cell of attitudes around u0
this is proved from u0 alone:

- a vertex can be a pit somewhere in the cell only if each of its edges rises, or falls by less
  than the cell's chord: such vertices must lie below a height ``low``;
- the tank below ``low`` must be of one piece at u0: what hangs together along the surface, and
  across drops from vertices that hang;
- ``low`` is lower than the level at u0 by so much that all of this lies below the level at every
  attitude of the cell (the slack of ``kernel.bounds``, once each way).

Then each piece of the tank below the level at u1 holds a pit, all pits lie in one piece, so there
is one piece. A pipe that is open both ways joins two pieces where all of its run has a place below
``low``; a flap never does. Proof in docs/theory/pooled_envelope.md.

Patches of the mesh wholly above ``low`` are passed over by the cone of directions in which they
can hold a pit, patches wholly below count as one vertex each; only those between are opened.
"""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.links import NO_LINKS, Links, mouth_below, sill_height, where_any
from tanksolve.kernel.threads import WORTH_SHARING, in_threads
from tanksolve.kernel.topology.drop_ray import drop_from_point, drop_from_vertex, grid_for
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.kernel.topology.minimum_cones import PitCones, cap_meets
from tanksolve.kernel.vectors import whole

Array = NDArray[np.float64]
Shorts = NDArray[np.int32]

__all__ = ["may_be_minimum", "one_plane_over"]


def one_plane_over(
    graph: MeshGraph,
    cones: PitCones,
    up: Array,
    chord: Array,
    low: Array,
    pipes: Links = NO_LINKS,
) -> NDArray[np.bool_]:
    """Whether all pits of any attitude within ``chord`` of ``up`` join below ``low``.

    up : (C, 3) float [-]; chord : (C,) float [-], of the cell around each; low : (C,) float [m],
    height along ``up``, tank frame; pipes : links that are open both ways, each one given once or
    once each way. Returns (C,); False proves nothing.
    """
    near, proved = where_any(pipes, graph.origin), np.zeros(len(up), np.bool_)
    below = low - up @ graph.origin
    in_threads(
        _one_plane_over, len(up), graph, cones, near, up, chord, below, proved,
        least=WORTH_SHARING // 64,
    )  # fmt: skip
    return proved


@compiled
def _one_plane_over(
    first: int,
    last: int,
    graph: MeshGraph,
    cones: PitCones,
    pipes: Links | None,
    up: Array,
    chord: Array,
    low: Array,
    proved: NDArray[np.bool_],
) -> None:
    for c in range(first, last):
        proved[c] = not _pit_above(graph, cones, up[c], chord[c], low[c]) and _is_one_piece(
            graph, cones, pipes, up[c], low[c]
        )


@compiled_inner
def _height_range(box: Array, u: Array) -> tuple[float, float]:
    middle = u[0] * box[0] + u[1] * box[1] + u[2] * box[2]
    half = abs(u[0]) * box[3] + abs(u[1]) * box[4] + abs(u[2]) * box[5]
    return middle - half, middle + half


@compiled_inner
def _height(p: Array, u: Array) -> float:
    return float(u[0] * p[0] + u[1] * p[1] + u[2] * p[2])


@compiled_inner
def _pit_above(graph: MeshGraph, cones: PitCones, u: Array, chord: float, low: float) -> bool:
    """Whether a vertex above ``low`` may be a pit at some attitude within ``chord``."""
    x, y, z = u
    angle = 2.0 * math.asin(min(1.0, 0.5 * chord))
    for p in range(len(cones.patch_box)):
        if not cap_meets(cones.patch_pit[p], x, y, z, angle):
            continue
        if _height_range(cones.patch_box[p], u)[1] <= low:
            continue
        for v in range(graph.patch[p], graph.patch[p + 1]):
            if _height(graph.vertices[v], u) <= low or not cap_meets(cones.pit[v], x, y, z, angle):
                continue
            if may_be_minimum(graph, whole(v), u, chord):
                return True
    return False


@compiled_inner
def may_be_minimum(graph: MeshGraph, v: int, u: Array, chord: float) -> bool:
    """Whether no edge of a vertex falls all over the cell, and it does not hang all over it."""
    p, n = graph.vertices[v], graph.normals[v]
    size = math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
    if _height(n, u) >= chord * size:
        return False
    for k in range(graph.first_edge[v], graph.first_edge[v + 1]):
        q = graph.vertices[graph.neighbour[k]]
        dx, dy, dz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
        drop = -(u[0] * dx + u[1] * dy + u[2] * dz)
        if drop > 0.0 and drop * drop >= chord * chord * (dx * dx + dy * dy + dz * dz):
            return False
    return True


@compiled_inner
def _find(root: Shorts, item: int) -> int:
    while root[item] != item:
        root[item] = root[root[item]]
        item = root[item]
    return item


@compiled_inner
def _union(root: Shorts, a: int, b: int) -> int:
    """Join two items; 1 where they were apart, else 0."""
    a, b = _find(root, a), _find(root, b)
    root[max(a, b)] = min(a, b)
    return int(a != b)


@compiled_inner
def _place(graph: MeshGraph, cones: PitCones, base: Shorts, v: int) -> int:
    """Item of the union-find that a vertex below ``low`` belongs to."""
    p = cones.patch_of[v]
    at = base[p]
    return int(at if base[p + 1] - at == 1 else at + v - graph.patch[p])


@compiled_inner
def _is_one_piece(
    graph: MeshGraph, cones: PitCones, pipes: Links | None, u: Array, low: float
) -> bool:
    """Whether the tank below ``low`` hangs together at ``u``."""
    base, items = _lay_out(graph, cones, u, low)
    root = np.arange(items).astype(np.int32)
    pieces = _join_along_surface(graph, cones, base, root, u, low)
    if pieces > 1:
        pieces = _join_by_drops(graph, cones, base, root, u, low, pieces)
    if pieces > 1:
        pieces = _join_by_pipes(graph, cones, pipes, base, root, u, low, pieces)
    return pieces == 1


@compiled_inner
def _lay_out(graph: MeshGraph, cones: PitCones, u: Array, low: float) -> tuple[Shorts, int]:
    """Give each patch below ``low`` one item, each that reaches above it one a vertex, others none."""
    count = len(cones.patch_box)
    base = np.empty(count + 1, np.int32)
    items = 0
    for p in range(count):
        base[p] = items
        bottom, top = _height_range(cones.patch_box[p], u)
        if top < low:
            items += 1
        elif bottom < low:
            items += max(2, graph.patch[p + 1] - graph.patch[p])  # one would mean all below
    base[count] = items
    return base, items


@compiled_inner
def _join_along_surface(
    graph: MeshGraph, cones: PitCones, base: Shorts, root: Shorts, u: Array, low: float
) -> int:
    """Join what edges below ``low`` lead to; return how many pieces that makes."""
    pieces = 0
    for p in range(len(cones.patch_box)):
        width = base[p + 1] - base[p]
        if width == 1:
            pieces += 1
            for e in range(cones.first_beside[p], cones.first_beside[p + 1]):
                other = cones.beside[e]
                if other < p and base[other + 1] - base[other] == 1:
                    pieces -= _union(root, base[p], base[other])
        elif width > 1:
            for v in range(graph.patch[p], graph.patch[p + 1]):
                if _height(graph.vertices[v], u) >= low:
                    continue
                pieces += 1
                mine = base[p] + v - graph.patch[p]
                for e in range(graph.first_edge[v], graph.first_edge[v + 1]):
                    other = graph.neighbour[e]
                    q = cones.patch_of[other]
                    wide = base[q + 1] - base[q]
                    if wide == 1:
                        pieces -= _union(root, mine, base[q])
                    elif wide > 1 and other < v and _height(graph.vertices[other], u) < low:
                        pieces -= _union(root, mine, base[q] + other - graph.patch[q])
    return pieces


@compiled_inner
def _hangs_lowest(graph: MeshGraph, v: int, u: Array) -> bool:
    """Whether liquid lies straight below a vertex that no edge falls from; one of those level with it.

    Of vertices on a level roof those with a level neighbour of a lower number are left out: liquid
    hangs together below the roof, so one drop from it will do.
    """
    if not _height(graph.normals[v], u) > 0.0:
        return False
    here = _height(graph.vertices[v], u)
    for e in range(graph.first_edge[v], graph.first_edge[v + 1]):
        other = graph.neighbour[e]
        there = _height(graph.vertices[other], u)
        if there < here or (there == here and other < v):
            return False
    return True


@compiled_inner
def _join_by_drops(
    graph: MeshGraph, cones: PitCones, base: Shorts, root: Shorts, u: Array, low: float, pieces: int
) -> int:
    """Join what drops from hanging vertices lead to; return how many pieces are left, 0 on a fault."""
    grid = grid_for(u, graph.size)
    for p in range(len(cones.patch_box)):
        if base[p + 1] == base[p] or not cap_meets(cones.patch_hang[p], u[0], u[1], u[2], 0.0):
            continue
        for v in range(graph.patch[p], graph.patch[p + 1]):
            height = _height(graph.vertices[v], u)
            if (
                height >= low
                or not cap_meets(cones.hang[v], u[0], u[1], u[2], 0.0)
                or not _hangs_lowest(graph, v, u)
            ):
                continue
            face, _ = drop_from_vertex(graph, grid, whole(v), height)
            if face < 0:  # it falls out of the mesh
                return 0
            below = _place(graph, cones, base, _lowest(graph, face, u))
            pieces -= _union(root, _place(graph, cones, base, v), below)
            if pieces == 1:
                return 1
    return pieces


@compiled_inner
def _lowest(graph: MeshGraph, face: int, u: Array) -> int:
    """The lowest corner of a face."""
    lowest = graph.faces[face, 0]
    for k in range(1, 3):
        other = graph.faces[face, k]
        if _height(graph.vertices[other], u) < _height(graph.vertices[lowest], u):
            lowest = other
    return int(lowest)


@compiled_inner
def _join_by_pipes(
    graph: MeshGraph,
    cones: PitCones,
    pipes: Links | None,
    base: Shorts,
    root: Shorts,
    u: Array,
    low: float,
    pieces: int,
) -> int:
    """Join what pipes wholly below ``low`` lead to; return how many pieces are left."""
    if pipes is None:
        return pieces
    grid = grid_for(u, graph.size)
    for k in range(len(pipes.first_station) - 1):
        if sill_height(pipes, k, u) >= low:
            continue
        ends = np.full(2, -1, np.int64)
        for end in range(2):
            place = mouth_below(pipes, pipes.first_station[k + end] - end, u)
            face = drop_from_point(graph, grid, place)[0] if _height(place, u) < low else -1
            if face >= 0:
                v = _lowest(graph, face, u)
                if _height(graph.vertices[v], u) < low:
                    ends[end] = _place(graph, cones, base, v)
        if ends.min() >= 0:
            pieces -= _union(root, ends[0], ends[1])
    return pieces
