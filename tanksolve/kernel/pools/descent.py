"""Where liquid runs to from a place on the wall: steepest descent across faces, falls at overhangs.

Running along edges alone would end in the wrong pit in about one branch of ten, so the path
crosses faces: downhill inside a face, along an edge where both of its faces lean into it, and
straight down where the surface turns under. It stops as soon as only one pit is left below.

It comes to an end: liquid comes to vertices in falling order only, and where it has come no lower over
several faces (on a flat, or by rounding) it goes on from a vertex.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.topology.drop_ray import (
    NONE,
    Grid,
    drop,
    drop_from_point,
    drop_from_vertex,
    grid_position,
)
from tanksolve.kernel.topology.merge_tree import MergeTree, climb
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]

__all__ = ["any_leaf", "is_within", "leaf_below_point", "leaf_below_vertex"]

_OVERHANG = 1e-9  # sine of the lean beyond which liquid lets go of a wall
_LEVEL = 1e-12  # sine of the slope below which a face does not drain
_EDGE, _FACE, _FALL, _STUCK = 0, 1, 2, 3
_HAIR = 3e-7  # of the tank's size: ten steps of the grid that drops fall on
_PATIENCE = 8  # faces crossed without coming lower by a hair


@compiled_inner
def is_within(tree: MergeTree, node: int, other: int) -> bool:
    """Tell whether ``node`` is ``other`` or a part of it."""
    while node >= 0 and node < other:  # parents have higher numbers
        node = tree.parent[node]
    return node == other


@compiled_inner
def any_leaf(tree: MergeTree, node: int) -> int:
    """The leaf that holds the lowest pit of a node."""
    while tree.left[node] >= 0:
        left = tree.left[node]
        node = left if tree.pit[left] == tree.pit[node] else tree.right[node]
    return int(node)


@compiled_inner
def _downhill(graph: MeshGraph, grid: Grid, face: int, way: Array) -> float:
    """Write the steepest way down in a face; return how far the face leans over (sine, + under)."""
    n = graph.areas[face]
    length = np.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
    if length == 0.0:
        way[:] = 0.0
        return 0.0
    lean = (n[0] * grid.ux + n[1] * grid.uy + n[2] * grid.uz) / length
    way[0] = lean * n[0] / length - grid.ux
    way[1] = lean * n[1] / length - grid.uy
    way[2] = lean * n[2] / length - grid.uz
    return float(lean)


@compiled_inner
def _sideways(graph: MeshGraph, face: int, k: int, x: float, y: float, z: float) -> float:
    """How far a vector points into the face from its edge k: positive inwards, not normalised."""
    p = graph.vertices[graph.faces[face, k]]
    q = graph.vertices[graph.faces[face, (k + 1) % 3]]
    n = graph.areas[face]
    ex, ey, ez = q[0] - p[0], q[1] - p[1], q[2] - p[2]
    inward = (n[1] * ez - n[2] * ey) * x + (n[2] * ex - n[0] * ez) * y
    return float(inward + (n[0] * ey - n[1] * ex) * z)


@compiled_inner
def _steepest(
    graph: MeshGraph, tree: MergeTree, grid: Grid, v: int, into: int, way: Array
) -> tuple[int, int]:
    """Steepest way down from a vertex: kind and target. ``into`` >= 0: only into that node."""
    best, kind, target = (-1.0 if into >= 0 else _LEVEL), _STUCK, NONE
    here = graph.vertices[v]
    for at in range(graph.first_face[v], graph.first_face[v + 1]):
        face = graph.around[at]
        lean = _downhill(graph, grid, face, way)
        k = 0
        while graph.faces[face, k] != v:
            k += 1
        for turn in (1, 2):
            other = graph.faces[face, (k + turn) % 3]
            if tree.rank[other] > tree.rank[v]:
                continue
            if into >= 0 and not is_within(tree, tree.node[other], into):
                continue
            p = graph.vertices[other]
            length = np.sqrt((p[0] - here[0]) ** 2 + (p[1] - here[1]) ** 2 + (p[2] - here[2]) ** 2)
            slope = (tree.z[v] - tree.z[other]) / length
            # of the two faces at an edge, one that liquid can run on is enough
            if slope > best or (slope == best and kind == _FALL and lean <= _OVERHANG):
                best, target = slope, other
                kind = _FALL if lean > _OVERHANG else _EDGE
        slope = np.sqrt(way[0] * way[0] + way[1] * way[1] + way[2] * way[2])
        lowest = lowest_corner(graph.faces, tree.rank, face)
        if slope <= best or lowest == v:
            continue
        if into >= 0 and not is_within(tree, tree.node[lowest], into):
            continue
        if (
            _sideways(graph, face, k, way[0], way[1], way[2]) > 0.0
            and _sideways(graph, face, (k + 2) % 3, way[0], way[1], way[2]) > 0.0
        ):
            best, target = slope, face
            kind = _FALL if lean > _OVERHANG else _FACE
    return kind, target


@compiled_inner
def _leave(graph: MeshGraph, face: int, point: Array, way: Array, closed: int) -> int:
    """Move ``point`` along ``way`` to the rim of the face; return the edge reached, -1 for none.

    ``closed`` has a bit set for each edge that the point already stands on.
    """
    nearest, edge = np.inf, NONE
    for k in range(3):
        if closed >> k & 1:
            continue
        speed = _sideways(graph, face, k, way[0], way[1], way[2])
        p = graph.vertices[graph.faces[face, k]]
        gap = _sideways(graph, face, k, point[0] - p[0], point[1] - p[1], point[2] - p[2])
        if speed < 0.0 and max(gap, 0.0) / -speed < nearest:
            nearest, edge = max(gap, 0.0) / -speed, k
    if edge >= 0:
        for i in range(3):
            point[i] += nearest * way[i]
    return edge


@compiled_inner
def _height(grid: Grid, point: Array) -> float:
    return float(grid.ux * point[0] + grid.uy * point[1] + grid.uz * point[2])


@compiled_inner
def _lower(grid: Grid, point: Array, height: float) -> None:
    """Move a point straight down to ``height``."""
    fall = _height(grid, point) - height
    point[0] -= fall * grid.ux
    point[1] -= fall * grid.uy
    point[2] -= fall * grid.uz


@compiled
def _cross(
    graph: MeshGraph, tree: MergeTree, grid: Grid, face: int, edge: int, point: Array, way: Array
) -> tuple[int, int, int]:
    """Go on from a point on a face's edge: (vertex, -1, 0), or the next face and its closed edges."""
    a, b = graph.faces[face, edge], graph.faces[face, (edge + 1) % 3]
    # at an end of the edge all faces there count: two by two they may pass it round for ever
    for end in (a, b):
        p = graph.vertices[end]
        gap = (point[0] - p[0]) ** 2 + (point[1] - p[1]) ** 2 + (point[2] - p[2]) ** 2
        if gap < (_HAIR * graph.size) ** 2:
            return end, NONE, 0
    lower = a if tree.rank[a] < tree.rank[b] else b
    beyond = graph.across[face, edge]
    lean = _downhill(graph, grid, beyond, way)
    if lean > _OVERHANG:
        ga, gb = grid_position(grid, point[0], point[1], point[2])
        hit, height = drop(graph, grid, ga, gb, _height(grid, point), a, b)
        if hit < 0:
            return lower, NONE, 0
        _lower(grid, point, height)
        return NONE, hit, 0
    k = 0
    while graph.faces[beyond, k] != b:
        k += 1
    if _sideways(graph, beyond, k, way[0], way[1], way[2]) > 0.0:
        return NONE, beyond, 1 << k
    return lower, NONE, 0


@compiled_inner
def _go_on(
    graph: MeshGraph, tree: MergeTree, grid: Grid, vertex: int, point: Array, into: int, way: Array
) -> tuple[int, int, int]:
    """The next vertex below a vertex, (vertex, -1, 0), or the next ``point``: its face, closed edges.

    (-1, -1, 0) where the vertex has no way down.
    """
    kind, target = _steepest(graph, tree, grid, vertex, into, way)
    if kind == _EDGE:
        return target, NONE, 0
    if kind == _FACE:
        point[:] = graph.vertices[vertex]
        closed = 0
        for k in range(3):
            if vertex in (graph.faces[target, k], graph.faces[target, (k + 1) % 3]):
                closed |= 1 << k
        return NONE, target, closed
    if kind == _FALL:
        hit, height = drop_from_vertex(graph, grid, vertex, tree.z[vertex])
        if hit >= 0:
            point[:] = graph.vertices[vertex]
            _lower(grid, point, height)
            return NONE, hit, 0
    return tree.came[vertex], NONE, 0


@compiled_inner
def _run(
    graph: MeshGraph, tree: MergeTree, grid: Grid, vertex: int, face: int, point: Array, into: int
) -> int:
    """Follow liquid from a vertex (>= 0) or from a point in a face to the leaf that it ends in."""
    way, closed = np.empty(3), 0
    lowest_rank, height, waited = len(tree.rank), np.inf, 0
    for _ in range(4 * len(graph.faces)):
        if vertex >= 0:
            node = tree.node[vertex]
            if tree.left[node] < 0 and into < 0:
                return int(node)
            if tree.rank[vertex] < lowest_rank:
                lowest_rank = tree.rank[vertex]
                at = _go_on(graph, tree, grid, vertex, point, into, way)
                vertex, face, closed = at
            else:  # been this low before: on as the tree grew, down to where it has not been
                vertex, face = tree.came[vertex], NONE
            if vertex < 0 and face < 0:
                return any_leaf(tree, node)
            into, height, waited = NONE, np.inf, 0
            continue
        lowest, now = lowest_corner(graph.faces, tree.rank, face), _height(grid, point)
        node = climb(tree, tree.node[lowest], now)
        if tree.left[node] < 0:
            return int(node)
        if now < height - _HAIR * graph.size:
            height, waited = now, 0
        waited += 1
        _downhill(graph, grid, face, way)
        steep = way[0] * way[0] + way[1] * way[1] + way[2] * way[2] > _LEVEL**2
        edge = NONE
        if steep and waited <= _PATIENCE:
            edge = _leave(graph, face, point, way, closed)
        if edge < 0:
            vertex = lowest
        else:
            vertex, face, closed = _cross(graph, tree, grid, face, edge, point, way)
    return any_leaf(tree, tree.node[lowest_corner(graph.faces, tree.rank, max(face, 0))])


@compiled_inner
def leaf_below_vertex(graph: MeshGraph, tree: MergeTree, grid: Grid, vertex: int, into: int) -> int:
    """The leaf in which liquid from a vertex ends; ``into`` >= 0 is the node that it spills into."""
    leaf = _run(graph, tree, grid, vertex, NONE, np.empty(3), into)
    if into >= 0 and not is_within(tree, leaf, into):
        return any_leaf(tree, into)
    return leaf


@compiled_inner
def leaf_below_point(graph: MeshGraph, tree: MergeTree, grid: Grid, point: Array) -> int:
    """The leaf in which liquid poured at a point (3,), from the origin, ends; -1 outside the tank."""
    face, height = drop_from_point(graph, grid, point)
    if face < 0:
        return -1
    start = point.copy()
    _lower(grid, start, height)
    return _run(graph, tree, grid, NONE, face, start, NONE)
