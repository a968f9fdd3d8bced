"""A closed triangle mesh as a graph: who is next to whom, built once for all directions.

Liquid that meets only along an edge or at a point does not flow through it, so vertices where
several sheets of surface touch are split, one copy for each sheet.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.tree import FaceTree, build_tree

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["MeshGraph", "build_graph"]


class MeshGraph(NamedTuple):
    """Arrays of the graph; coordinates relative to ``origin``, faces in tree order.

    Attributes
    ----------
    origin : (3,) float [m]   centre of the mesh's enclosing box, tank frame.
    boxes, skip, leaf_first, leaf_last : the nodes of the :class:`FaceTree` over the faces, for rays.
    vertices : (N, 3) float [m].
    faces : (F, 3) int, counter-clockwise seen from outside the liquid.
    areas : (F, 3) float [m²]   outward area vectors.
    normals : (N, 3) float [-]   outward normals weighted by the corner angles, not of unit length.
    first_edge, neighbour : the vertices next to ``v`` are ``neighbour[first_edge[v]:first_edge[v + 1]]``.
    first_face, around : the faces at ``v`` are ``around[first_face[v]:first_face[v + 1]]``.
    across : (F, 3) int   the face beyond the edge from corner k to corner k + 1.
    source : (N,) int   index of the vertex in the mesh as given.
    size : distance of the farthest vertex from the origin [m].
    capacity : volume that the mesh bounds [m³].
    """

    origin: Array
    boxes: NDArray[np.float32]
    skip: NDArray[np.int32]
    leaf_first: NDArray[np.int32]
    leaf_last: NDArray[np.int32]
    vertices: Array
    faces: Ints
    areas: Array
    normals: Array
    first_edge: Ints
    neighbour: Ints
    first_face: Ints
    around: Ints
    across: Ints
    source: Ints
    size: float
    capacity: float


def build_graph(
    vertices: Array, faces: NDArray[np.int64], tree: FaceTree | None = None
) -> MeshGraph:
    """Build the graph of a closed mesh; ``tree`` is the mesh's own, where it is at hand.

    vertices : (N, 3) float [m]; faces : (F, 3) int, outward.
    Raises ValueError where an edge does not have as many faces on one side as on the other.
    """
    tree = build_tree(vertices, faces) if tree is None else tree
    faces = np.asarray(faces, np.int64)[tree.order]
    across = _faces_across(vertices, faces)
    faces, source = _split_sheets(faces, across)
    points = np.ascontiguousarray(vertices[source] - tree.origin)
    corners = points[faces]
    areas = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    first_edge, neighbour = _grouped(faces.ravel(), np.roll(faces, -1, axis=1).ravel(), len(points))
    owner = np.repeat(np.arange(len(faces)), 3)
    first_face, around = _grouped(faces.ravel(), owner, len(points))
    return MeshGraph(
        origin=tree.origin,
        boxes=tree.boxes,
        skip=tree.skip,
        leaf_first=tree.first,
        leaf_last=tree.last,
        vertices=points,
        faces=faces.astype(np.int64),
        areas=areas,
        normals=_vertex_normals(corners, areas, faces, len(points)),
        first_edge=first_edge,
        neighbour=neighbour,
        first_face=first_face,
        around=around,
        across=across.astype(np.int64),
        source=source.astype(np.int64),
        size=float(np.linalg.norm(points, axis=1).max()),
        capacity=float(np.einsum("fi,fi->", areas, corners.mean(axis=1)) / 3.0),
    )


def _grouped(keys: NDArray[np.int64], values: NDArray[np.int64], count: int) -> tuple[Ints, Ints]:
    """Values of each key side by side, and where each key's values start."""
    first = np.zeros(count + 1, np.int64)
    np.cumsum(np.bincount(keys, minlength=count), out=first[1:])
    return first, values[np.argsort(keys, kind="stable")].astype(np.int64)


def _faces_across(vertices: Array, faces: NDArray[np.int64]) -> NDArray[np.int64]:
    """Pair the two faces of every edge; where sheets touch, the two that hold one wedge of liquid."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    count = int(faces.max()) + 1
    forth, back = start * count + end, end * count + start
    by_forth, by_back = np.argsort(forth, kind="stable"), np.argsort(back, kind="stable")
    if not np.array_equal(forth[by_forth], back[by_back]):
        raise ValueError(
            "the mesh is not closed: an edge has more faces on one side than the other"
        )
    partner = np.empty(len(start), np.int64)
    partner[by_back] = by_forth
    values, counts = np.unique(forth, return_counts=True)
    for edge in values[counts > 1]:
        low, high = divmod(int(edge), count)
        if low < high:
            ones = np.flatnonzero(forth == edge)
            others = np.flatnonzero(back == edge)
            for one, other in _wedges(vertices, faces, ones, others):
                partner[one], partner[other] = other, one
    return np.asarray(partner // 3).reshape(-1, 3)


def _wedges(
    vertices: Array, faces: NDArray[np.int64], ones: NDArray[np.int64], others: NDArray[np.int64]
) -> list[tuple[int, int]]:
    """Pair half-edges around a shared edge so that each pair bounds one wedge of liquid.

    Seen along ``ones``' direction, liquid lies on the clockwise side of a face of ``ones`` and on
    the anticlockwise side of one of ``others``.
    """
    a = vertices[faces[ones[0] // 3, ones[0] % 3]]
    b = vertices[faces[ones[0] // 3, (ones[0] + 1) % 3]]
    along = (b - a) / np.linalg.norm(b - a)
    across = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    sideways = np.cross(along, across)

    def angle(half: int) -> float:
        arm = vertices[faces[half // 3, (half + 2) % 3]] - a
        return float(np.arctan2(arm @ sideways, arm @ across))

    pairs = []
    for one in ones:
        gaps = [np.mod(angle(int(one)) - angle(int(other)), 2.0 * np.pi) for other in others]
        pairs.append((int(one), int(others[int(np.argmin(gaps))])))
    if len({other for _, other in pairs}) != len(pairs):
        raise ValueError("faces fold onto each other along an edge")
    return pairs


def _split_sheets(
    faces: NDArray[np.int64], across: NDArray[np.int64]
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Give every sheet of faces around a vertex a vertex of its own: new faces, old index of each."""
    corner = np.arange(3 * len(faces)).reshape(-1, 3)
    starts, ends = [], []
    for k in range(3):  # the two corners at either end of an edge belong to the same sheets
        beyond = across[:, k]
        for corner_here in (k, (k + 1) % 3):
            same = faces[beyond] == faces[:, corner_here][:, None]
            starts.append(corner[:, corner_here])
            ends.append(corner[beyond, np.argmax(same, axis=1)])
    sheet = _connected(np.concatenate(starts), np.concatenate(ends), corner.size)
    # number the sheets in the order of the vertices, so that a mesh without contacts is unchanged
    vertex_of_sheet = np.empty(sheet.max() + 1, np.int64)
    vertex_of_sheet[sheet] = faces.ravel()
    order = np.argsort(vertex_of_sheet, kind="stable")
    number = np.empty_like(order)
    number[order] = np.arange(len(order))
    return number[sheet].reshape(-1, 3), vertex_of_sheet[order]


@compiled
def _connected(starts: Ints, ends: Ints, count: int) -> Ints:
    """Number of the connected part that each of ``count`` items belongs to, by union-find."""
    root = np.arange(count)
    for k in range(len(starts)):
        a, b = starts[k], ends[k]
        while root[a] != a:
            root[a] = root[root[a]]
            a = root[a]
        while root[b] != b:
            root[b] = root[root[b]]
            b = root[b]
        if a != b:
            root[max(a, b)] = min(a, b)
    part = np.empty(count, np.int64)
    parts = 0
    for item in range(count):  # a root is the least of its part, so it has its number already
        if root[item] == item:
            part[item] = parts
            parts += 1
        else:
            part[item] = part[root[item]]
    return part


def _vertex_normals(corners: Array, areas: Array, faces: NDArray[np.int64], count: int) -> Array:
    """Sum of unit face normals weighted by the corner angles, the angle by arctangent.

    The sign of ``normal · (p - v)`` tells inside from outside for every p whose nearest point of
    the surface is v: J. A. Baerentzen and H. Aanaes, "Signed Distance Computation Using the Angle
    Weighted Pseudonormal", IEEE Trans. Vis. Comput. Graph. 11 (2005) 243-253 (from memory).
    """
    length = np.linalg.norm(areas, axis=1, keepdims=True)
    unit = areas / np.where(length > 0.0, length, 1.0)
    normals = np.zeros((count, 3))
    for k in range(3):
        a = corners[:, (k + 1) % 3] - corners[:, k]
        b = corners[:, (k + 2) % 3] - corners[:, k]
        angle = np.arctan2(np.linalg.norm(np.cross(a, b), axis=1), np.einsum("fi,fi->f", a, b))
        np.add.at(normals, faces[:, k], angle[:, None] * unit)
    return normals
