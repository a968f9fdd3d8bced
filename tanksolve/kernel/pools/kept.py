"""What a bay keeps for certain, however the machine tilts: liquid leaves it only over a brim.

S is a bay, taken as closed at its gates. At the up vector u each minimum of S has a pass to the nearest
gate, and a hollow: the part of S below that pass that hangs together with the minimum. Liquid leaves S
only while some hollow is brim-full, so once any has left, S still holds

    k(u) = min over the minima of S of the volume of its hollow.

So S holds at least the least of what was filled in and of k over all attitudes taken, for ever.

Over a cell of attitudes every vertex that may be a minimum somewhere in it counts, with its hollow
filled to w below the pass at the centre, w being the extent of S along u' - u: a way to a gate rises at
u' by no less than that less than at u, and what lies w below the pass at u lies below it at u'.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.brims import Faces, corner_below, flat_faces, joined_room, reach
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import grid_for
from tanksolve.kernel.topology.merge_tree import MergeTree, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.kernel.topology.one_surface import may_be_minimum

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["least_kept"]

_ALL_MINIMA = -1.0  # of the tank's volume: even a minimum that holds nothing counts


@compiled_inner
def _least_hollow(
    graph: MeshGraph,
    tree: MergeTree,
    faces: Faces,
    up: Array,
    chord: float,
    lower: float,
    inside: Array,
    outside: Array,
) -> float:
    """The least hollow [m³] of the vertices that may be minima, ``lower`` [m] below their passes."""
    least, seen = np.inf, 0
    tops, heights = np.empty(len(tree.z), np.int64), np.empty(len(tree.z))
    no_links = np.empty((0, 2), np.int64)
    for v in range(len(tree.z)):
        if not may_be_minimum(graph, v, up, chord):
            continue
        node = tree.node[v]
        h = min(outside[node], max(tree.z[v], inside[node])) - lower
        if h <= tree.z[v]:
            return 0.0
        top = climb(tree, node, h)
        known = False
        for i in range(seen):
            known = known or (tops[i] == top and heights[i] <= h)
        if known:
            continue
        tops[seen], heights[seen], seen = top, h, seen + 1
        held = joined_room(tree, faces, no_links, np.empty(0), v, min(h, graph.size))[0]
        least = min(least, held)
    return least


@compiled
def _kept_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    gates: Array,
    up: Array,
    chord: Array,
    lower: Array,
    out: Array,
) -> None:
    for d in range(first, last):
        tree = grow_tree(graph, up[d], _ALL_MINIMA)
        grid = grid_for(up[d], graph.size)
        at, cost = np.empty(len(gates), np.int64), np.empty(len(gates))
        for g in range(len(gates)):
            at[g] = corner_below(graph, tree, grid, gates[g])[0]
            cost[g] = up[d, 0] * gates[g, 0] + up[d, 1] * gates[g, 1] + up[d, 2] * gates[g, 2]
        out[d] = 0.0
        if len(gates) and at.min() < 0:
            continue
        inside, outside = np.empty(len(tree.birth)), np.empty(len(tree.birth))
        reach(tree, at, cost, inside, outside)
        faces = flat_faces(graph, tree, up[d])
        out[d] = _least_hollow(graph, tree, faces, up[d], chord[d], lower[d], inside, outside)


def least_kept(
    graph: MeshGraph, gates: ArrayLike, up: ArrayLike, hulls: ArrayLike | None = None
) -> Array:
    """What a bay keeps for certain at attitudes, or all over each of hulls about them: (D,) [m³].

    graph : of the bay, closed at its gates; gates : (G, 3) float [m], corners of its openings, a hair
    inside the bay, tank frame. Every place of an opening is as high as one of its corners, or higher.
    up : (D, 3) float [-]; hulls : (D, J, 3), points whose hull holds each cell's up vectors.
    A bay without a gate keeps all that it is filled with: ``inf`` where it has no hollow to spill from.
    """
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    over = ups[:, None] if hulls is None else np.asarray(hulls, np.float64)
    apart = over - ups[:, None]
    extent = np.ptp(apart @ graph.vertices.T, axis=2)
    chord = np.linalg.norm(apart, axis=2).max(axis=1)
    places = np.ascontiguousarray(np.asarray(gates, np.float64).reshape(-1, 3) - graph.origin)
    out = np.empty(len(ups))
    hair = 1e-9 * graph.size
    in_threads(_kept_rows, len(ups), graph, places, ups, chord, extent.max(axis=1) + hair, out)
    return np.where(math.inf > out, out, np.inf)
