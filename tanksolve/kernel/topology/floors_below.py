"""Which faces may lie straight below a place while the place and the vertical move a little.

Seen from above along the centre's up vector, a drop from a place that moves by up to ``spread`` and
falls along a vertical turned by up to an angle of tangent ``swing`` lands within ``spread + swing *
depth``: every face that is looked up at and comes so near counts, except below a face that screens it.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.topology.drop_ray import Grid
from tanksolve.kernel.topology.merge_tree import MergeTree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["floors_below"]


@compiled_inner
def _distance(graph: MeshGraph, grid: Grid, face: int, point: Array) -> tuple[float, float]:
    """From a point to a face, both seen from above: distance [m], and to the face's outline, inside or not."""
    x, y = np.empty(3), np.empty(3)
    for k in range(3):
        p = graph.vertices[graph.faces[face, k]]
        dx, dy, dz = p[0] - point[0], p[1] - point[1], p[2] - point[2]
        x[k] = grid.ax * dx + grid.ay * dy + grid.az * dz
        y[k] = grid.bx * dx + grid.by * dy + grid.bz * dz
    outline, lefts, rights = np.inf, 0, 0
    for k in range(3):
        n = (k + 1) % 3
        ex, ey = x[n] - x[k], y[n] - y[k]
        long = ex * ex + ey * ey
        t = min(max(-(x[k] * ex + y[k] * ey) / long, 0.0), 1.0) if long > 0.0 else 0.0
        outline = min(outline, np.hypot(x[k] + t * ex, y[k] + t * ey))
        side = x[k] * y[n] - y[k] * x[n]
        lefts += side >= 0.0
        rights += side <= 0.0
    return (0.0 if 3 in (lefts, rights) else outline), outline


@compiled_inner
def _near_heights(
    graph: MeshGraph, tree: MergeTree, up: Array, face: int, at: float, far: float
) -> tuple[float, float]:
    """Lowest and highest of a face within ``far`` [m], seen from above, of where its plane is ``at`` high."""
    area = graph.areas[face]
    along = abs(up[0] * area[0] + up[1] * area[1] + up[2] * area[2])
    whole = np.sqrt(area[0] ** 2 + area[1] ** 2 + area[2] ** 2)
    steep = np.sqrt(max(whole * whole - along * along, 0.0)) / along
    low = high = tree.z[graph.faces[face, 0]]
    for k in range(1, 3):
        low = min(low, tree.z[graph.faces[face, k]])
        high = max(high, tree.z[graph.faces[face, k]])
    return float(max(low, at - far * steep)), float(min(high, at + far * steep))


@compiled_inner
def _plane_over(graph: MeshGraph, tree: MergeTree, grid: Grid, face: int, point: Array) -> float:
    """Height [m] of a face's plane straight above or below a point."""
    area, v = graph.areas[face], graph.faces[face, 0]
    p = graph.vertices[v]
    dx, dy, dz = p[0] - point[0], p[1] - point[1], p[2] - point[2]
    a, b = grid.ax * dx + grid.ay * dy + grid.az * dz, grid.bx * dx + grid.by * dy + grid.bz * dz
    along = grid.ux * area[0] + grid.uy * area[1] + grid.uz * area[2]
    across_a = grid.ax * area[0] + grid.ay * area[1] + grid.az * area[2]
    across_b = grid.bx * area[0] + grid.by * area[1] + grid.bz * area[2]
    return float(tree.z[v] + (across_a * a + across_b * b) / along)


@compiled_inner
def floors_below(
    graph: MeshGraph,
    tree: MergeTree,
    up: Array,
    grid: Grid,
    point: Array,
    under: int,
    spread: float,
    swing: float,
) -> tuple[Ints, Array]:
    """Faces that may lie straight below a place anywhere in the cell, and how high they come there [m].

    spread : [m] that the place moves; swing : tangent of how far the vertical turns about it, 0 where
    the floor along the centre's own vertical is the right one.
    """
    z = up[0] * point[0] + up[1] * point[1] + up[2] * point[2] + spread
    faces, tops, count = np.empty(len(graph.faces), np.int64), np.empty(len(graph.faces)), 0
    screen = -np.inf  # below this nothing is seen from the place
    for turn in range(2):
        for face in range(len(graph.faces)):
            if (face == under) != (turn == 0):
                continue
            area = graph.areas[face]
            if up[0] * area[0] + up[1] * area[1] + up[2] * area[2] >= 0.0:
                continue
            low, high = np.inf, -np.inf
            for k in range(3):
                low = min(low, tree.z[graph.faces[face, k]])
                high = max(high, tree.z[graph.faces[face, k]])
            far = spread + swing * max(z - low, 0.0)
            if turn == 1 and (low > z or high <= screen or far == 0.0):
                continue
            apart, outline = _distance(graph, grid, face, point)
            if turn == 1 and apart > far:
                continue
            at = _plane_over(graph, tree, grid, face, point)
            lowest, top = _near_heights(graph, tree, up, face, at, far)
            if turn == 1 and (lowest > z or top <= screen):
                continue
            faces[count], tops[count] = face, top
            count += 1
            if turn == 0 and apart == 0.0 and outline > far:
                screen = lowest
    return faces[:count], tops[:count]
