"""A closed triangle mesh as a graph: who is next to whom, built once for all directions.

Liquid that meets only along an edge or at a point does not flow through it, so vertices where
several sheets of surface touch are split, one copy for each sheet.

Vertices are numbered in patches: each hangs together by edges and is small, so what lies near in
space lies near in memory, and a patch wholly below a plane can be taken as one thing.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.tree import FaceTree, build_tree
from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.topology.face_sheets import faces_across, halves_at, split_sheets
from tanksolve.kernel.vectors import cross

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Shorts = NDArray[np.int32]

__all__ = ["MeshGraph", "build_graph"]

PATCH = 64  # vertices of a patch, at most


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
    patch : (P + 1,) int   the vertices ``patch[p]:patch[p + 1]`` hang together by edges.
    size : distance of the farthest vertex from the origin [m].
    capacity : volume that the mesh bounds [m³].
    """

    origin: Array
    boxes: NDArray[np.float32]
    skip: NDArray[np.int32]
    leaf_first: NDArray[np.int32]
    leaf_last: NDArray[np.int32]
    vertices: Array
    faces: Shorts
    areas: Array
    normals: Array
    first_edge: Shorts
    neighbour: Shorts
    first_face: Shorts
    around: Shorts
    across: Shorts
    source: Ints
    patch: Shorts
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
    given = np.asarray(faces, np.int32)[tree.order]
    across = faces_across(vertices, given)
    corners, source = split_sheets(given, across)
    first, halves = halves_at(corners, len(source))
    order, patch = _in_patches(corners, first, _ends(corners, halves))
    number = np.empty(len(order), np.int32)
    number[order] = np.arange(len(order), dtype=np.int32)
    corners, source = np.ascontiguousarray(number[corners]), source[order]
    first, halves = halves_at(corners, len(source))
    points = np.ascontiguousarray(vertices[source] - tree.origin)
    areas, normals, capacity = _areas_and_normals(points, corners)
    return MeshGraph(
        origin=tree.origin,
        boxes=tree.boxes,
        skip=tree.skip,
        leaf_first=tree.first,
        leaf_last=tree.last,
        vertices=points,
        faces=corners,
        areas=areas,
        normals=normals,
        first_edge=first,
        neighbour=_ends(corners, halves),
        first_face=first,
        around=halves // 3,
        across=across,
        source=source.astype(np.int64),
        patch=patch,
        size=float(np.sqrt(np.einsum("vi,vi->v", points, points).max())),
        capacity=float(capacity),
    )


@compiled
def _ends(faces: Shorts, halves: Shorts) -> Shorts:
    """The vertex at which each half-edge ends."""
    end = np.empty(len(halves), np.int32)
    for at in range(len(halves)):
        end[at] = faces[halves[at] // 3, (halves[at] + 1) % 3]
    return end


@compiled
def _in_patches(faces: Shorts, first_edge: Shorts, neighbour: Shorts) -> tuple[Shorts, Shorts]:
    """Order of the vertices by patches, and where each starts: grown ring by ring from a corner.

    Starts are taken in the order of the faces, which is that of the tree, so patches that lie side
    by side are near in the order too.
    """
    count = len(first_edge) - 1
    order, starts = np.empty(count, np.int32), np.empty(count + 1, np.int32)
    taken = np.zeros(count, np.bool_)
    put = patches = 0
    for f in range(len(faces)):
        for k in range(3):
            if taken[faces[f, k]]:
                continue
            starts[patches], patches = put, patches + 1
            at, end = put, put + PATCH
            order[put] = faces[f, k]
            taken[faces[f, k]] = True
            put += 1
            while at < put and put < end:
                v = order[at]
                at += 1
                for e in range(first_edge[v], first_edge[v + 1]):
                    if put < end and not taken[neighbour[e]]:
                        taken[neighbour[e]] = True
                        order[put] = neighbour[e]
                        put += 1
    starts[patches] = put
    return order, starts[: patches + 1].copy()


@compiled
def _areas_and_normals(points: Array, faces: Shorts) -> tuple[Array, Array, float]:
    """Area vectors (F, 3) [m²], vertex normals (N, 3) [-] and the volume [m³].

    A vertex normal sums unit face normals weighted by the corner angles, the angle by arctangent.
    The sign of ``normal · (p - v)`` tells inside from outside for every p whose nearest point of
    the surface is v: J. A. Baerentzen and H. Aanaes, "Signed Distance Computation Using the Angle
    Weighted Pseudonormal", IEEE Trans. Vis. Comput. Graph. 11 (2005) 243-253 (from memory).
    """
    areas, normals, volume = np.empty((len(faces), 3)), np.zeros((len(points), 3)), 0.0
    for f in range(len(faces)):
        p, q, r = points[faces[f, 0]], points[faces[f, 1]], points[faces[f, 2]]
        ax, ay, az = cross(
            (q[0] - p[0], q[1] - p[1], q[2] - p[2]), (r[0] - p[0], r[1] - p[1], r[2] - p[2])
        )
        areas[f, 0], areas[f, 1], areas[f, 2] = 0.5 * ax, 0.5 * ay, 0.5 * az
        volume += (ax * p[0] + ay * p[1] + az * p[2]) / 6.0
        twice = np.sqrt(ax * ax + ay * ay + az * az)
        if twice == 0.0:
            continue
        for k in range(3):
            v = points[faces[f, k]]
            a, b = points[faces[f, (k + 1) % 3]], points[faces[f, (k + 2) % 3]]
            dot = (a[0] - v[0]) * (b[0] - v[0]) + (a[1] - v[1]) * (b[1] - v[1])
            angle = np.arctan2(twice, dot + (a[2] - v[2]) * (b[2] - v[2]))
            normals[faces[f, k], 0] += angle * ax / twice
            normals[faces[f, k], 1] += angle * ay / twice
            normals[faces[f, k], 2] += angle * az / twice
    return areas, normals, volume
