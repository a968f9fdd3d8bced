"""What a pump can draw out of the pool that it stands in, walls in the pool taken into account.

As a pool sinks it parts at its saddles, and what is behind each stays there, full up to the saddle. In
the merge tree those are the branches that leave the way from the pool down to the pump.
"""

import numba
import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_parallel, threads_for
from tanksolve.kernel.pools.descent import leaf_below_point
from tanksolve.kernel.pools.pool_volume import gather_faces, volume_in
from tanksolve.kernel.topology.drop_ray import grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]

__all__ = ["draw_down"]


@compiled
def _drawn(
    graph: MeshGraph, up: Array, place: Array, level: float, edge: float, brim: float
) -> float:
    tree = grow_tree(graph, up, NEGLIGIBLE * graph.capacity)
    leaf = leaf_below_point(graph, tree, grid_for(up, graph.size), place)
    if leaf < 0:
        return np.nan
    faces = gather_faces(graph, tree, up)
    pool, node = climb(tree, leaf, level - brim), climb(tree, leaf, edge)
    left = volume_in(faces, node, edge)[0]
    while node < pool:  # parents have higher numbers
        parent = tree.parent[node]
        other = tree.left[parent] if tree.left[parent] != node else tree.right[parent]
        left += volume_in(faces, other, tree.z[tree.birth[parent]])[0]
        node = parent
    return float(volume_in(faces, pool, level)[0] - left)


@compiled_parallel
def _drawn_each(
    graph: MeshGraph, up: Array, place: Array, level: Array, edge: Array, brim: float
) -> Array:
    out = np.empty(len(up))
    for d in numba.prange(len(up)):
        out[d] = _drawn(graph, up[d], place, level[d], edge[d], brim)
    return out


def draw_down(graph: MeshGraph, up: Array, place: Array, level: Array, edge: Array) -> Array:
    """Liquid (D,) [m³] that leaves the pool below ``place`` (3,) as it is drawn down to ``edge``.

    up : (D, 3); level : (D,) [m] of that pool, over a dry pit that pit's height; edge : (D,) [m];
    both ``up · x``, tank frame. What walls keep from running there is not in it. Negative where the
    level is below the edge: what is missing up to it. NaN outside the tank.
    """
    shift = up @ graph.origin
    with threads_for(64 * len(up)):
        return _drawn_each(
            graph,
            np.ascontiguousarray(up),
            np.ascontiguousarray(place - graph.origin),
            level - shift,
            edge - shift,
            1e-9 * graph.size,
        )
