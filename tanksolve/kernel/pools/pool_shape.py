"""The shape of one pool: the part of the mesh that holds its liquid, closed by its free surface.

A face belongs to the pool that its lowest vertex lies in (:mod:`tanksolve.kernel.pools.pool_volume`), so
a pool is cut out of the mesh by its faces alone, whatever else lies below the same height.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.section import chain_loops, crossed_edges
from tanksolve.kernel.capacity.volumes_plain import volumes_plain
from tanksolve.kernel.topology.merge_tree import MergeTree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["PoolShape", "node_of_pool", "pool_faces", "pool_shape", "volume_to"]


class PoolShape(NamedTuple):
    """One pool as a closed mesh, tank frame.

    Attributes
    ----------
    vertices : (N, 3) float [m].
    faces : (F, 3) int   outward; the walls that the liquid wets, then the free surface.
    walls : how many of the faces are walls.
    surface : loops (M, 3) [m] of the free surface: outlines counter-clockwise seen from above it,
        holes clockwise.
    """

    vertices: Array
    faces: Ints
    walls: int
    surface: tuple[Array, ...]


def pool_faces(graph: MeshGraph, tree: MergeTree, node: int) -> NDArray[np.bool_]:
    """Which of the graph's faces (F,) belong to a node of the tree, its children's included."""
    within = np.zeros(len(tree.birth), np.bool_)
    within[node] = True
    for child in range(node - 1, -1, -1):  # children come before parents
        within[child] = tree.parent[child] >= 0 and within[tree.parent[child]]
    lowest = np.argmin(tree.rank[graph.faces], axis=1)
    return np.asarray(within[tree.node[graph.faces[np.arange(len(graph.faces)), lowest]]])


def volume_to(graph: MeshGraph, tree: MergeTree, up: Array, node: int, height: float) -> float:
    """What a node holds [m³] when filled to ``height`` [m] above the graph's origin."""
    faces = graph.faces[pool_faces(graph, tree, node)].astype(np.int64)
    held = volumes_plain(graph.vertices, faces, up[None], np.array([height]))[0]
    return float(held[0])


def node_of_pool(
    graph: MeshGraph, tree: MergeTree, up: Array, pit: Array, height: float, volume: float
) -> int:
    """The node that a pool at rest fills, from its lowest point, its level and what it holds.

    pit : (3,) float [m]   a vertex of the mesh, tank frame.
    height : free surface above the graph's origin [m]; volume [m³].
    A pool that stands level with its saddle may be one side of it or both: what it holds decides.

    Raises ValueError where no pit lies there.
    """
    leaves = np.flatnonzero(tree.left < 0)
    gap = np.abs(graph.vertices[tree.pit[leaves]] - (pit - graph.origin)).max(axis=1)
    near = leaves[gap <= 1e-9 * graph.size]
    if not len(near):  # a level edge or floor: any of its vertices may have been named
        tied = np.abs(tree.z[tree.pit[leaves]] - (pit - graph.origin) @ up)
        near = leaves[tied <= 1e-9 * graph.size]
    if not len(near):
        raise ValueError("no pit of the tank lies at the pool's lowest point in this direction")
    best, least = -1, np.inf
    for leaf in near:
        node = int(leaf)
        while node >= 0:
            off = abs(volume_to(graph, tree, up, node, height) - volume)
            if off < least:
                best, least = node, off
            above = int(tree.parent[node])
            reached = above >= 0 and tree.z[tree.birth[above]] <= height + 1e-9 * graph.size
            node = above if reached else -1
    return best


def pool_shape(graph: MeshGraph, tree: MergeTree, node: int, height: float) -> PoolShape:
    """Cut a node's pool, filled to ``height`` [m] above the graph's origin, out of the mesh.

    Not higher than the saddle where the node joins another.
    Raises ValueError where the pool's surface has no closed outline: the mesh is open.
    """
    above_node = int(tree.parent[node])
    if above_node >= 0:  # rounding must not carry it over the saddle
        height = min(height, float(tree.z[tree.birth[above_node]]))
    faces = graph.faces[pool_faces(graph, tree, node)].astype(np.int64)
    # level with the surface counts as above it: a full pool ends at its saddle and not behind it
    above = tree.z >= height
    dry = above[faces].sum(axis=1)
    whole, crossed = faces[dry == 0], faces[(dry > 0) & (dry < 3)]
    points, loops = _outline(crossed, above, tree.z, height, graph.vertices)
    count = len(graph.vertices)
    number = {edge: count + k for k, edge in enumerate(points)}
    cut = [piece for face in crossed for piece in _below(face, above, number)]
    fans = [
        (number[loop[0]], number[loop[k]], number[loop[k + 1]])
        for loop in loops
        for k in range(1, len(loop) - 1)
    ]
    everything = np.vstack([graph.vertices, np.array(list(points.values())).reshape(-1, 3)])
    walls = np.array([*whole.tolist(), *cut], np.int64).reshape(-1, 3)
    listed = np.vstack([walls, np.array(fans, np.int64).reshape(-1, 3)])
    used, packed = np.unique(listed, return_inverse=True)
    return PoolShape(
        everything[used] + graph.origin,
        packed.reshape(-1, 3).astype(np.int64),
        len(walls),
        tuple(np.array([points[edge] for edge in loop]) + graph.origin for loop in loops),
    )


_Edge = tuple[int, int]


def _outline(
    crossed: Ints, above: NDArray[np.bool_], z: Array, height: float, vertices: Array
) -> tuple[dict[_Edge, Array], list[list[_Edge]]]:
    """Where the surface meets each edge (below, above), and the loops that those points form."""
    if not len(crossed):
        return {}, []
    chains = chain_loops(*crossed_edges(crossed, above))
    loops = [[(int(a), int(b)) for a, b in chain] for chain in chains]
    points = {}
    for loop in loops:
        for low, high in loop:
            share = (height - z[low]) / (z[high] - z[low])
            points[low, high] = vertices[low] + share * (vertices[high] - vertices[low])
    return points, loops


def _below(
    face: Ints, above: NDArray[np.bool_], number: dict[_Edge, int]
) -> list[tuple[int, int, int]]:
    """The part of a crossed face below the surface, as one triangle or two, turned as the face."""
    corners: list[int] = []
    for k in range(3):
        a, b = int(face[k]), int(face[(k + 1) % 3])
        if not above[a]:
            corners.append(a)
        if above[a] != above[b]:
            corners.append(number[(b, a) if above[a] else (a, b)])
    first = corners[0]
    return [(first, corners[k], corners[k + 1]) for k in range(1, len(corners) - 1)]
