"""Volume, free surface and level of single pools, from the faces that belong to each.

A face is wet in the pool that its lowest vertex lies in, since the wet part of a triangle hangs
together. So a pool's volume is the sum of :mod:`tanksolve.kernel.capacity.volumes` over its own faces.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_share
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "PoolFaces",
    "Pools",
    "gather_faces",
    "level_in",
    "newton_step",
    "pools_below",
    "spill_capacities",
    "volume_in",
]

_MOST_PASSES = 100


class PoolFaces(NamedTuple):
    """The faces of one direction, those of each node of the merge tree side by side.

    Attributes
    ----------
    z : (F, 3) float [m]   corner heights, lowest first.
    flow : (F,) float [m²]   minus the outward area along up: positive with liquid above the face.
    first, last : (M,) int   a node's faces, its children's included, are ``first[m]:last[m]``.
    """

    z: Array
    flow: Array
    first: Ints
    last: Ints


class Pools(NamedTuple):
    """The pools below each of D planes, lowest pit first found; rows padded with NaN and -1.

    Attributes
    ----------
    number : (D,) int   how many pools.
    pit : (D, K) int   the lowest vertex of each, as an index into the mesh's vertices.
    volume : (D, K) float [m³]
    area : (D, K) float [m²]   free surface.
    standing : (D, P) int   the pool that each point stands in or, if dry, over; -1 where what lies
        straight below the point is dry.
    """

    number: Ints
    pit: Ints
    volume: Array
    area: Array
    standing: Ints


@compiled_inner
def gather_faces(graph: MeshGraph, tree: MergeTree, up: Array) -> PoolFaces:
    """Sort the faces of the direction ``up`` (3,) by pool."""
    nodes, count = len(tree.birth), len(graph.faces)
    node_of = np.empty(count, np.int64)
    size = np.zeros(nodes, np.int64)
    for face in range(count):
        node = tree.node[lowest_corner(graph.faces, tree.rank, face)]
        node_of[face] = node
        size[node] += 1
    for node in range(nodes):  # children come before parents
        if tree.parent[node] >= 0:
            size[tree.parent[node]] += size[node]
    first, last, put = np.empty(nodes, np.int64), np.empty(nodes, np.int64), 0
    for node in range(nodes - 1, -1, -1):
        if tree.parent[node] < 0:
            first[node], put = put, put + size[node]
        if tree.left[node] >= 0:
            first[tree.left[node]] = first[node]
            first[tree.right[node]] = first[node] + size[tree.left[node]]
        last[node] = first[node] + size[node]
    free = first.copy()  # a node's own faces stand behind its children's
    for node in range(nodes):
        if tree.left[node] >= 0:
            free[node] += size[tree.left[node]] + size[tree.right[node]]
    z, flow = np.empty((count, 3)), np.empty(count)
    for face in range(count):
        at = free[node_of[face]]
        free[node_of[face]] += 1
        i, j, k = graph.faces[face]
        z[at, 0], z[at, 1], z[at, 2] = three_sorted(tree.z[i], tree.z[j], tree.z[k])
        area = graph.areas[face]
        flow[at] = -(up[0] * area[0] + up[1] * area[1] + up[2] * area[2])
    return PoolFaces(z, flow, first, last)


@compiled_inner
def volume_in(faces: PoolFaces, node: int, h: float) -> tuple[float, float]:
    """Volume [m³] and free surface [m²] of the node's pool filled to ``h`` (from the origin) [m]."""
    volume = area = 0.0
    z, flow = faces.z, faces.flow
    for f in range(faces.first[node], faces.last[node]):
        z0 = z[f, 0]
        if z0 < h:
            z1, z2 = z[f, 1], z[f, 2]
            volume += flow[f] * phi(h, z0, z1, z2)
            area += flow[f] * wet_share(h, z0, z1, z2)
    return volume, area


@compiled_inner
def spill_capacities(tree: MergeTree, faces: PoolFaces) -> Array:
    """What each node (M,) holds before it spills into the one it joins [m³]; a root: all it holds."""
    capacity = np.empty(len(tree.birth))
    for node in range(len(capacity)):
        above = tree.parent[node]
        h = np.inf if above < 0 else tree.z[tree.birth[above]]
        if above < 0:
            h = faces.z[faces.first[node] : faces.last[node], 2].max()
        capacity[node] = volume_in(faces, node, h)[0]
    return capacity


@compiled_inner
def newton_step(h: float, low: float, high: float, gap: float, area: float) -> float:
    """The next level [m] to try for a volume, inside the bracket ``low`` to ``high``.

    At ``h`` the volume is too great by ``gap`` [m³] and the free surface is ``area`` [m²]. Returns an end
    of the bracket, or ``h``, once it cannot be told from what is sought.
    """
    trial = h - gap / area if area > 0.0 else low
    return trial if low < trial < high else 0.5 * (low + high)


@compiled_inner
def level_in(faces: PoolFaces, node: int, volume: float, low: float, high: float) -> float:
    """Level [m] from the origin at which the node's pool holds ``volume``.

    Newton's method, kept inside the bracket ``low`` (holds less) to ``high`` (holds more).
    """
    h = 0.5 * (low + high)
    for _ in range(_MOST_PASSES):
        held, area = volume_in(faces, node, h)
        gap = held - volume
        if gap > 0.0:
            high = h
        else:
            low = h
        if abs(gap) <= 1e-14 * volume:
            return h
        trial = newton_step(h, low, high, gap, area)
        if trial in (low, high) or trial == h:
            return trial
        h = trial
    return h


@compiled_inner
def _one_plane(
    graph: MeshGraph, up: Array, height: float, points: Array, negligible: float, most: int
) -> tuple[int, int, Ints, Array, Array, Ints]:
    """Pools below one plane: count, lost vertices, pits, volumes, areas, and the points' pools."""
    tree = grow_tree(graph, up, negligible)
    nodes = len(tree.birth)
    held, surface = np.zeros(nodes), np.zeros(nodes)
    top = np.empty(nodes, np.int64)
    for node in range(nodes - 1, -1, -1):
        above = tree.parent[node]
        joined = above >= 0 and tree.z[tree.birth[above]] < height
        top[node] = top[above] if joined else node
    for face in range(len(graph.faces)):
        lowest = lowest_corner(graph.faces, tree.rank, face)
        if tree.z[lowest] < height:
            i, j, k = graph.faces[face]
            z0, z1, z2 = three_sorted(tree.z[i], tree.z[j], tree.z[k])
            area = graph.areas[face]
            flow = -(up[0] * area[0] + up[1] * area[1] + up[2] * area[2])
            pool = top[tree.node[lowest]]
            held[pool] += flow * phi(height, z0, z1, z2)
            surface[pool] += flow * wet_share(height, z0, z1, z2)
    pit, volume, free = np.full(most, -1, np.int64), np.full(most, np.nan), np.full(most, np.nan)
    number, count = np.full(nodes, -1, np.int64), 0
    for node in range(nodes):
        if top[node] == node and tree.z[tree.birth[node]] < height:
            if count < most:
                pit[count] = graph.source[tree.pit[node]]
                volume[count], free[count] = held[node], surface[node]
                number[node] = count
            count += 1
    standing = np.full(len(points), -1, np.int64)
    grid = grid_for(up, graph.size)
    for p in range(len(points)):
        face, _ = drop_from_point(graph, grid, points[p])
        if face >= 0:
            lowest = lowest_corner(graph.faces, tree.rank, face)
            standing[p] = number[top[tree.node[lowest]]]
    return count, tree.lost, pit, volume, free, standing


@compiled
def _planes(
    first: int,
    last: int,
    graph: MeshGraph,
    up: Array,
    height: Array,
    points: Array,
    negligible: float,
    whole: Ints,
    pit: Ints,
    volume: Array,
    area: Array,
    standing: Ints,
) -> None:
    """Into whole (D, 2) how many pools and how many drops fell out; the others as in :class:`Pools`."""
    for d in range(first, last):
        found = _one_plane(graph, up[d], height[d], points, negligible, pit.shape[1])
        whole[d, 0], whole[d, 1] = found[0], found[1]
        pit[d], volume[d], area[d], standing[d] = found[2], found[3], found[4], found[5]


def pools_below(
    graph: MeshGraph,
    up: ArrayLike,
    height: ArrayLike,
    points: ArrayLike = (),
    *,
    negligible: float = NEGLIGIBLE,
) -> Pools:
    """Pools of the liquid below each of D planes ``up · x = height``, had it run there freely.

    up : (D, 3) float [-]   unit vectors opposite to gravity, tank frame
    height : (D,) float [m]   broadcast
    points : (P, 3) float [m]   ports: points in the liquid space or on its wall, tank frame
    negligible : pits that hold less than this share of the tank are part of their neighbour.

    Raises ValueError where the mesh is faulty: a drop from an overhang falls out of it.
    """
    up = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    height = np.broadcast_to(np.asarray(height, np.float64), len(up)) - up @ graph.origin
    at = np.ascontiguousarray(np.asarray(points, np.float64).reshape(-1, 3) - graph.origin)
    most = 8
    while True:
        whole, standing = np.empty((len(up), 2), np.int64), np.empty((len(up), len(at)), np.int64)
        pit, volume = np.empty((len(up), most), np.int64), np.empty((len(up), most))
        area = np.empty((len(up), most))
        out = (whole, pit, volume, area, standing)
        in_threads(_planes, len(up), graph, up, height, at, negligible, *out)
        count, lost = whole.T
        if lost.any():
            raise ValueError(
                f"a drop falls out of the mesh at {int((lost > 0).sum())} of {len(up)} directions: "
                "it is not closed, or cuts itself"
            )
        widest = int(count.max(initial=0))
        if widest <= most:
            return Pools(count, pit[:, :widest], volume[:, :widest], area[:, :widest], standing)
        most = widest
