"""What lies straight below a point: a ray that cannot slip between two faces.

In floating point a ray along an edge may miss both of its faces, and at attitudes aligned with the
tank most rays do run along edges. So the mesh is projected along the ray onto a grid of 2^26 steps
and rounded to whole numbers. The rounded mesh is still closed, and the side of an edge on which
the ray passes is now the sign of an exact integer (below 2^56). Positions move by 1e-8 of the
tank's size at most; heights are not rounded.

Only faces with liquid above them can stop a drop. docs/theory/merge_tree.md has the argument.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "NONE",
    "Grid",
    "drop",
    "drop_from_point",
    "drop_from_vertex",
    "grid_for",
    "grid_position",
]

# typed, as a bare -1 makes numba compile each callee once more
NONE: int = np.int64(-1)  # type: ignore[assignment]
_NO_VERTEX: int = np.int64(-2)  # type: ignore[assignment]
GRID_HALF = float(1 << 25)
PORT_TOLERANCE = 1e-6  # of the tank's size: a port on a floor may stand this far below it

_LEDGE = (
    1e-6  # of the tank's size: a hit higher than this is on another face, not a step up a slope
)


class Grid(NamedTuple):
    """The projection along ``up``: two unit vectors across it, and grid steps per metre."""

    ax: float
    ay: float
    az: float
    bx: float
    by: float
    bz: float
    ux: float
    uy: float
    uz: float
    steps: float


@compiled
def grid_for(up: Array, size: float) -> Grid:
    """Lay the grid across ``up`` (3,): (a, b, up) is right-handed; ``size`` bounds the mesh [m]."""
    x, y, z = up[0], up[1], up[2]
    if abs(x) <= abs(y) and abs(x) <= abs(z):
        ax, ay, az = 0.0, z, -y
    elif abs(y) <= abs(z):
        ax, ay, az = -z, 0.0, x
    else:
        ax, ay, az = y, -x, 0.0
    length = np.sqrt(ax * ax + ay * ay + az * az)
    ax, ay, az = ax / length, ay / length, az / length
    bx, by, bz = y * az - z * ay, z * ax - x * az, x * ay - y * ax
    return Grid(ax, ay, az, bx, by, bz, x, y, z, GRID_HALF / size)


@compiled_inner
def grid_position(grid: Grid, x: float, y: float, z: float) -> tuple[int, int]:
    """Grid position of a point."""
    a = np.floor((grid.ax * x + grid.ay * y + grid.az * z) * grid.steps + 0.5)
    b = np.floor((grid.bx * x + grid.by * y + grid.bz * z) * grid.steps + 0.5)
    return int(a), int(b)


@compiled_inner
def _reaches(grid: Grid, box: NDArray[np.float32]) -> float:
    """Greatest height [m] of a box (6,) of the tree: its centre and half sizes."""
    middle = grid.ux * box[0] + grid.uy * box[1] + grid.uz * box[2]
    half = abs(grid.ux) * box[3] + abs(grid.uy) * box[4] + abs(grid.uz) * box[5]
    return float(middle + half)


@compiled_inner
def _misses(grid: Grid, box: NDArray[np.float32], a: int, b: int, top: float, near: float) -> bool:
    """Whether a box is above ``top`` or nowhere within ``near`` grid steps of (a, b), seen from above."""
    x, y, z, dx, dy, dz = box[0], box[1], box[2], box[3], box[4], box[5]
    middle = grid.ux * x + grid.uy * y + grid.uz * z
    half = abs(grid.ux) * dx + abs(grid.uy) * dy + abs(grid.uz) * dz
    gap_a = abs((grid.ax * x + grid.ay * y + grid.az * z) * grid.steps - a)
    gap_b = abs((grid.bx * x + grid.by * y + grid.bz * z) * grid.steps - b)
    half_a = (abs(grid.ax) * dx + abs(grid.ay) * dy + abs(grid.az) * dz) * grid.steps
    half_b = (abs(grid.bx) * dx + abs(grid.by) * dy + abs(grid.bz) * dz) * grid.steps
    return bool(middle - half > top or gap_a > half_a + near or gap_b > half_b + near)


@compiled_inner
def drop(
    graph: MeshGraph, grid: Grid, a: int, b: int, top: float, skip_one: int, skip_two: int
) -> tuple[int, float]:
    """Highest face at or below height ``top`` that stops a drop at grid position (a, b).

    Faces that hold vertex ``skip_one`` and, where it is not -1, also ``skip_two`` are left out.
    Returns the face and the height [m] at which it is hit; (-1, -inf) where there is none.
    """
    boxes, skip, first, last = graph.boxes, graph.skip, graph.leaf_first, graph.leaf_last
    best, found = -np.inf, NONE
    node, end = 0, len(skip)
    while node < end:
        box = boxes[node]
        if _reaches(grid, box) < best or _misses(grid, box, a, b, top, 2.0):
            node = skip[node]
            continue
        for face in range(max(first[node], 0), max(last[node], 0)):
            height = _hit(graph, grid, face, a, b, skip_one, skip_two)
            if best < height <= top:
                best, found = height, face
        node += 1
    return found, best


@compiled_inner
def _hit(
    graph: MeshGraph, grid: Grid, face: int, a: int, b: int, skip_one: int, skip_two: int
) -> float:
    """Height at which the vertical through (a, b) meets a face with liquid above it, or -inf."""
    i, j, k = graph.faces[face, 0], graph.faces[face, 1], graph.faces[face, 2]
    if skip_one in (i, j, k) and (skip_two < 0 or skip_two in (i, j, k)):
        return -np.inf
    p, q, r = graph.vertices[i], graph.vertices[j], graph.vertices[k]
    pa, pb = grid_position(grid, p[0], p[1], p[2])
    qa, qb = grid_position(grid, q[0], q[1], q[2])
    ra, rb = grid_position(grid, r[0], r[1], r[2])
    # seen from above, a face with liquid above it runs clockwise: all three signs are negative
    over_p = (ra - qa) * (b - qb) - (rb - qb) * (a - qa)
    over_q = (pa - ra) * (b - rb) - (pb - rb) * (a - ra)
    over_r = (qa - pa) * (b - pb) - (qb - pb) * (a - pa)
    whole = over_p + over_q + over_r
    if over_p > 0 or over_q > 0 or over_r > 0 or whole == 0:
        return -np.inf
    height = 0.0
    for point, share in ((p, over_p), (q, over_q), (r, over_r)):
        height += (grid.ux * point[0] + grid.uy * point[1] + grid.uz * point[2]) * share
    return height / whole


@compiled_inner
def drop_from_vertex(graph: MeshGraph, grid: Grid, vertex: int, top: float) -> tuple[int, float]:
    """What a drop falling from ``vertex``, at height ``top``, hits; the faces at it are left out."""
    p = graph.vertices[vertex]
    a, b = grid_position(grid, p[0], p[1], p[2])
    return drop(graph, grid, a, b, top, vertex, NONE)


@compiled_inner
def _look_around(
    graph: MeshGraph, grid: Grid, face: int, a: int, b: int, top: float, found: Ints, best: Array
) -> None:
    """Take a face for the drops at (a, b) and two steps about it (9,) that it is the highest to stop."""
    i, j, k = graph.faces[face, 0], graph.faces[face, 1], graph.faces[face, 2]
    p, q, r = graph.vertices[i], graph.vertices[j], graph.vertices[k]
    pa, pb = grid_position(grid, p[0], p[1], p[2])
    qa, qb = grid_position(grid, q[0], q[1], q[2])
    ra, rb = grid_position(grid, r[0], r[1], r[2])
    if (
        max(pa, qa, ra) < a - 2
        or min(pa, qa, ra) > a + 2
        or max(pb, qb, rb) < b - 2
        or min(pb, qb, rb) > b + 2
    ):
        return
    for at in range(9):
        height = _hit(
            graph, grid, face, a + 2 * (at // 3) - 2, b + 2 * (at % 3) - 2, _NO_VERTEX, NONE
        )
        if best[at] < height <= top:
            best[at], found[at] = height, face


@compiled
def drop_from_point(graph: MeshGraph, grid: Grid, point: Array) -> tuple[int, float]:
    """What lies below a point (3,) in the liquid space or on its wall, relative to the origin.

    A point may stand a millionth of the tank's size below the face that it is mounted on. On a wall
    rounding may put it a step into the metal, from where it would fall through; so places two steps
    aside are tried too, and the highest hit counts.
    """
    x, y, z = point[0], point[1], point[2]
    a, b = grid_position(grid, x, y, z)
    top = grid.ux * x + grid.uy * y + grid.uz * z + PORT_TOLERANCE * graph.size
    found, best = np.full(9, NONE), np.full(9, -np.inf)
    boxes, skip, first, last = graph.boxes, graph.skip, graph.leaf_first, graph.leaf_last
    node, end = 0, len(skip)
    while node < end:
        if _misses(grid, boxes[node], a, b, top, 4.0):
            node = skip[node]
            continue
        for face in range(max(first[node], 0), max(last[node], 0)):
            _look_around(graph, grid, face, a, b, top, found, best)
        node += 1
    chosen = 4  # the place itself, unless a place aside has a hit higher by more than a slope makes
    for k in range(9):
        if best[k] > best[chosen] + _LEDGE * graph.size:
            chosen = k
    return int(found[chosen]), float(best[chosen])
