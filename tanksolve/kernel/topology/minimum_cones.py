"""In which directions each vertex can be a pit or hang, so that most are left out at once.

A vertex is a lowest point for the directions u with e·u >= 0 along each of its edges e: a cone.
Its extreme rays stand square to two of the edges, so few products find them, and a cap (an axis
and an angle about it) that holds them holds the cone, as long as it is less than a hemisphere.
Liquid lies above such a vertex (a pit) or below it (it hangs), by the sign of n·u. Caps of the
vertices of one patch lie in a cap of the patch. A cap too large only costs time: whoever asks
looks at the edges of what is left. docs/theory/pooled_envelope.md has the argument.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import WORTH_SHARING, in_threads
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Singles = NDArray[np.float32]
Shorts = NDArray[np.int32]

__all__ = ["PitCones", "build_cones", "cap_meets"]

_PARALLEL = 1e-7  # of two unit edges: their product then says nothing about a direction
_NEEDLE = 1e-4  # edges closer than this to one direction: the vertex is not looked into
_FEASIBLE = 1e-6
_HAIR = 1e-5  # rad, by which caps are widened for the rounding of their rays
_MOST_EDGES = 24  # more at one vertex (the hub of a fan): not looked into


class PitCones(NamedTuple):
    """Caps of up directions: x, y, z of the axis and the angle about it [rad]; -1 where there are none.

    Attributes
    ----------
    pit, hang : (N, 4) float32   where each vertex can be a lowest point with liquid above, below it.
    patch_pit, patch_hang : (P, 4) float32   caps that hold those of each patch's vertices.
    patch_box : (P, 6) float [m]   centre and half sizes of each patch's box, from the graph's origin.
    patch_of : (N,) int   the patch of each vertex.
    first_beside, beside : edges lead from patch p to ``beside[first_beside[p]:first_beside[p + 1]]``.
    """

    pit: Singles
    hang: Singles
    patch_pit: Singles
    patch_hang: Singles
    patch_box: Array
    patch_of: Shorts
    first_beside: Shorts
    beside: Shorts


def build_cones(graph: MeshGraph) -> PitCones:
    """Find the caps of all vertices and patches of a mesh."""
    count = len(graph.vertices)
    pit, hang = np.zeros((count, 4), np.float32), np.zeros((count, 4), np.float32)
    in_threads(_vertex_caps, count, graph, pit, hang, least=WORTH_SHARING)
    patch_of = np.repeat(np.arange(len(graph.patch) - 1, dtype=np.int32), np.diff(graph.patch))
    return PitCones(
        pit,
        hang,
        _patch_caps(graph.patch, pit),
        _patch_caps(graph.patch, hang),
        _patch_boxes(graph.patch, graph.vertices),
        patch_of,
        *_beside(graph.patch, graph.first_edge, graph.neighbour, patch_of),
    )


@compiled_inner
def cap_meets(cap: Singles, x: float, y: float, z: float, angle: float) -> bool:
    """Whether a cap and the directions within ``angle`` [rad] of a unit vector can meet."""
    if cap[3] < 0.0:
        return False
    reach = cap[3] + angle
    return bool(reach >= math.pi or x * cap[0] + y * cap[1] + z * cap[2] >= math.cos(reach))


@compiled_inner
def _unit_edges(graph: MeshGraph, v: int, edges: Array) -> bool:
    """Write the directions of a vertex's edges; False where two are so close that no ray is sure."""
    first, p = graph.first_edge[v], graph.vertices[v]
    count = graph.first_edge[v + 1] - first
    for i in range(count):
        q = graph.vertices[graph.neighbour[first + i]]
        x, y, z = q[0] - p[0], q[1] - p[1], q[2] - p[2]
        length = math.sqrt(x * x + y * y + z * z)
        edges[i, 0], edges[i, 1], edges[i, 2] = x / length, y / length, z / length
        for j in range(i):
            gap = 0.0
            for k in range(3):
                gap += (edges[i, k] - edges[j, k]) ** 2
            if not gap > _NEEDLE * _NEEDLE:
                return False
    return True


@compiled_inner
def _rays(edges: Array, count: int, rays: Array) -> int:
    """Write the extreme rays of the cone ``e·u >= 0``; return how many (some twice)."""
    found = 0
    for i in range(count):
        for j in range(i):
            a, b = edges[i], edges[j]
            x, y, z = (
                a[1] * b[2] - a[2] * b[1],
                a[2] * b[0] - a[0] * b[2],
                a[0] * b[1] - a[1] * b[0],
            )
            size = math.sqrt(x * x + y * y + z * z)
            if size < _PARALLEL:
                continue
            least = most = 0.0
            for k in range(count):
                along = (x * edges[k, 0] + y * edges[k, 1] + z * edges[k, 2]) / size
                least, most = min(least, along), max(most, along)
            if least >= -_FEASIBLE:
                rays[found, 0], rays[found, 1], rays[found, 2] = x / size, y / size, z / size
                found += 1
            if most <= _FEASIBLE:
                rays[found, 0], rays[found, 1], rays[found, 2] = -x / size, -y / size, -z / size
                found += 1
    return found


@compiled_inner
def _cap_of(rays: Array, count: int, normal: Array, sign: float, cap: Singles) -> None:
    """Write the cap about the rays on one side of the surface: ``sign * n·u`` not positive."""
    size = math.sqrt(normal[0] ** 2 + normal[1] ** 2 + normal[2] ** 2)
    axis, kept = np.zeros(3), np.zeros(count, np.bool_)
    for r in range(count):
        along = rays[r, 0] * normal[0] + rays[r, 1] * normal[1] + rays[r, 2] * normal[2]
        kept[r] = sign * along <= _FEASIBLE * size
        if kept[r]:
            axis += rays[r]
    length = math.sqrt(axis[0] ** 2 + axis[1] ** 2 + axis[2] ** 2)
    if not kept.any():
        cap[3] = -1.0
        return
    cap[3] = math.pi
    if length > _HAIR:
        widest = 0.0
        for r in range(count):
            if kept[r]:
                x, y, z = (rays[r] - axis / length) ** 2
                widest = max(widest, 2.0 * math.asin(min(1.0, 0.5 * math.sqrt(x + y + z))))
        cap[0], cap[1], cap[2] = axis[0] / length, axis[1] / length, axis[2] / length
        if widest + _HAIR < 0.5 * math.pi:  # a wider cap need not hold what lies between the rays
            cap[3] = widest + _HAIR


@compiled
def _vertex_caps(first: int, last: int, graph: MeshGraph, pit: Singles, hang: Singles) -> None:
    for v in range(first, last):
        edges, rays = np.empty((_MOST_EDGES, 3)), np.empty((_MOST_EDGES * _MOST_EDGES, 3))
        number = graph.first_edge[v + 1] - graph.first_edge[v]
        if number > _MOST_EDGES or not _unit_edges(graph, v, edges):
            pit[v, 3] = hang[v, 3] = math.pi
            continue
        found = _rays(edges, number, rays)
        _cap_of(rays, found, graph.normals[v], 1.0, pit[v])
        _cap_of(rays, found, graph.normals[v], -1.0, hang[v])


@compiled
def _patch_caps(patch: Shorts, caps: Singles) -> Singles:
    """Caps (P, 4) about those of each patch's vertices."""
    out = np.zeros((len(patch) - 1, 4), np.float32)
    for p in range(len(out)):
        x = y = z = 0.0
        out[p, 3] = -1.0
        for v in range(patch[p], patch[p + 1]):
            if caps[v, 3] >= 0.0:
                x, y, z = x + caps[v, 0], y + caps[v, 1], z + caps[v, 2]
                out[p, 3] = math.pi
        length = math.sqrt(x * x + y * y + z * z)
        if length <= _HAIR:
            continue
        x, y, z = x / length, y / length, z / length
        widest = 0.0
        for v in range(patch[p], patch[p + 1]):
            if caps[v, 3] >= 0.0:
                along = x * caps[v, 0] + y * caps[v, 1] + z * caps[v, 2]
                # float32 axes: an angle of 1e-3 rad is known to 1e-4 of it by its cosine
                away = math.acos(max(-1.0, min(1.0, along))) + 1e-3
                widest = max(widest, away + caps[v, 3])
        out[p, 0], out[p, 1], out[p, 2] = x, y, z
        out[p, 3] = min(widest, math.pi)
    return out


@compiled
def _patch_boxes(patch: Shorts, vertices: Array) -> Array:
    boxes = np.empty((len(patch) - 1, 6))
    for p in range(len(boxes)):
        for k in range(3):
            lower = upper = vertices[patch[p], k]
            for v in range(patch[p], patch[p + 1]):
                lower, upper = min(lower, vertices[v, k]), max(upper, vertices[v, k])
            boxes[p, k], boxes[p, 3 + k] = 0.5 * (lower + upper), 0.5 * (upper - lower)
    return boxes


@compiled
def _beside(
    patch: Shorts, first_edge: Shorts, neighbour: Shorts, patch_of: Shorts
) -> tuple[Shorts, Shorts]:
    """The other patches that edges lead to from each: where they start, and which."""
    count = len(patch) - 1
    first, seen = np.zeros(count + 1, np.int32), np.full(count, -1, np.int32)
    beside = np.empty(len(neighbour), np.int32)
    put = 0
    for p in range(count):
        for e in range(first_edge[patch[p]], first_edge[patch[p + 1]]):
            other = patch_of[neighbour[e]]
            if other != p and seen[other] != p:
                seen[other] = p
                beside[put] = other
                put += 1
        first[p + 1] = put
    return first, beside[:put].copy()
