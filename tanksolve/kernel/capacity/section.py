"""Outline of a closed mesh where a plane cuts it: a section through the tank, or the free surface.

A vertex counts as above the plane only where it is strictly above, so that each face has zero or
two crossed edges and each crossed edge belongs to two faces. Segments then chain into closed loops
by the names of the edges, with no tolerance, also where the plane runs through vertices.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["chain_loops", "crossed_edges", "loop_area", "plane_axes", "section_loops"]


def section_loops(
    vertices: Array, faces: Ints, normal: ArrayLike, height: float
) -> tuple[Array, ...]:
    """Closed loops in which the plane ``normal · x = height`` cuts a closed mesh.

    vertices : (N, 3) float [m]   tank frame
    faces : (F, 3) int   each edge in two faces, corners counter-clockwise seen from outside
    normal : (3,) float [-]   unit vector
    height : float [m]
    Returns loops (M, 3) [m], the first point not repeated: outer loops counter-clockwise seen
    from where ``normal`` points to, holes clockwise. Empty where the plane misses the mesh.

    Raises ValueError where the mesh has an open edge at the plane.
    """
    up = np.asarray(normal, float)
    over = vertices @ up - height
    above = over > 0.0
    corner_above = above[faces]
    crossed = faces[corner_above.any(axis=1) & ~corner_above.all(axis=1)]
    if len(crossed) == 0:
        return ()
    start, end = crossed_edges(crossed, above)
    return tuple(_points(loop, vertices, over) for loop in chain_loops(start, end))


def crossed_edges(faces: Ints, above: NDArray[np.bool_]) -> tuple[Ints, Ints]:
    """Edges (S, 2) (below, above) at which each crossed face's segment starts and ends.

    faces : (S, 3) int, each with corners on both sides; above : (N,) bool, by vertex.

    The face's boundary, counter-clockwise, goes up through one edge and down through another. With
    the solid behind the face, the segment that keeps the solid to its left runs from down to up.
    """
    following = np.roll(faces, -1, axis=1)
    rises = ~above[faces] & above[following]
    falls = above[faces] & ~above[following]
    up_edge = np.stack([faces[rises], following[rises]], axis=1)
    down_edge = np.stack([following[falls], faces[falls]], axis=1)
    return down_edge, up_edge


def chain_loops(start: Ints, end: Ints) -> list[Ints]:
    """Chain segments (S, 2), (S, 2) into loops of edges (M, 2). Raises ValueError where one is open."""
    leaving = {(int(a), int(b)): k for k, (a, b) in enumerate(start)}
    following = [leaving.get((int(a), int(b)), -1) for a, b in end]
    if len(leaving) != len(start) or -1 in following:
        raise ValueError("the mesh is open where the plane cuts it")
    left = set(range(len(start)))
    loops = []
    while left:
        k = min(left)
        loop = []
        while k in left:
            left.remove(k)
            loop.append(k)
            k = following[k]
        loops.append(start[loop])
    return loops


def _points(loop: Ints, vertices: Array, over: Array) -> Array:
    low, high = loop[:, 0], loop[:, 1]
    share = -over[low] / (over[high] - over[low])
    return np.asarray(vertices[low] + share[:, None] * (vertices[high] - vertices[low]))


def plane_axes(normal: ArrayLike, rightward: ArrayLike) -> Array:
    """Two unit axes (2, 3) in the plane square to ``normal``, right-handed seen from its tip.

    The first is ``rightward`` (3,) as far as it lies in the plane. Raises ValueError where the two
    are parallel.
    """
    up, wanted = np.asarray(normal, float), np.asarray(rightward, float)
    first = wanted - (wanted @ up) * up
    length = float(np.linalg.norm(first))
    if length < 1e-9:
        raise ValueError("rightward is square to the plane")
    first /= length
    return np.array([first, np.cross(up, first)])


def loop_area(points: Array) -> float:
    """Signed area [m²] of one loop (M, 2) [m]: positive when counter-clockwise."""
    p = points - points.mean(axis=0)
    q = np.roll(p, -1, axis=0)
    return 0.5 * float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]))
