"""Where one free surface is certain: no history can leave liquid anywhere else.

At an attitude u1 the liquid has one level, however it got there, if all pits (places where a pool
can begin) lie below that level and hang together below it. For a whole cell of attitudes around u0
this is proved from u0 alone:

- a vertex can be a pit somewhere in the cell only if each of its edges rises, or falls by less
  than the cell's chord: such vertices must lie below a height ``low``;
- the tank below ``low`` must be of one piece, by the merge tree at u0;
- ``low`` is lower than the level at u0 by so much that all of this lies below the level at every
  attitude of the cell (the slack of ``kernel.bounds``, once each way).

Then each piece of the tank below the level at u1 holds a pit, all pits lie in one piece, so there
is one piece. A pipe that is open both ways joins two pieces where all of its run has a place below
``low``; a flap never does. Proof in docs/theory/pooled_envelope.md.
"""

import math

import numba
import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner, compiled_parallel, threads_for
from tanksolve.kernel.descent import leaf_below_point
from tanksolve.kernel.drop_ray import grid_for
from tanksolve.kernel.forest import find
from tanksolve.kernel.links import NO_LINKS, Links, mouth_below, shifted, sill_height
from tanksolve.kernel.merge_tree import NEGLIGIBLE, MergeTree, climb, grow_tree
from tanksolve.kernel.mesh_graph import MeshGraph

Array = NDArray[np.float64]

__all__ = ["one_plane_over"]


def one_plane_over(
    graph: MeshGraph, up: Array, chord: Array, low: Array, pipes: Links = NO_LINKS
) -> NDArray[np.bool_]:
    """Whether all pits of any attitude within ``chord`` of ``up`` join below ``low``.

    up : (C, 3) float [-]; chord : (C,) float [-], of the cell around each; low : (C,) float [m],
    height along ``up``, tank frame; pipes : links that are open both ways, each one given once or
    once each way. Returns (C,); False proves nothing.
    """
    with threads_for(64 * len(up)):
        near = shifted(pipes, graph.origin)
        return _one_plane_over(graph, near, up, chord, low - up @ graph.origin)


@compiled_inner
def _pit_above(graph: MeshGraph, u: Array, chord: float, low: float) -> bool:
    """Whether a vertex above ``low`` may be a pit at some attitude within ``chord``."""
    x, y, z = u
    for v in range(len(graph.vertices)):
        p = graph.vertices[v]
        height = x * p[0] + y * p[1] + z * p[2]
        if height <= low:
            continue
        n = graph.normals[v]
        size = math.sqrt(n[0] * n[0] + n[1] * n[1] + n[2] * n[2])
        if x * n[0] + y * n[1] + z * n[2] >= chord * size:  # hangs all over the cell
            continue
        falls = False
        for k in range(graph.first_edge[v], graph.first_edge[v + 1]):
            q = graph.vertices[graph.neighbour[k]]
            dx, dy, dz = q[0] - p[0], q[1] - p[1], q[2] - p[2]
            drop = -(x * dx + y * dy + z * dz)
            if drop > 0.0 and drop * drop >= chord * chord * (dx * dx + dy * dy + dz * dz):
                falls = True
                break
        if not falls:
            return True
    return False


@compiled_inner
def _pieces_below(graph: MeshGraph, pipes: Links, tree: MergeTree, up: Array, low: float) -> int:
    """How many pieces the tank below ``low`` has, those that a pipe joins counted as one."""
    count = 0
    for node in range(len(tree.birth)):
        parent = tree.parent[node]
        if tree.z[tree.birth[node]] < low and (parent < 0 or tree.z[tree.birth[parent]] >= low):
            count += 1
    joined, grid = np.arange(len(tree.birth)), grid_for(up, graph.size)
    for k in range(len(pipes.first_station) - 1):
        ends = np.full(2, -1, np.int64)
        for end in range(2):
            place = mouth_below(pipes, pipes.first_station[k + end] - end, up)
            if (place * up).sum() < low:
                leaf = leaf_below_point(graph, tree, grid, place)
                if leaf >= 0:
                    ends[end] = find(joined, climb(tree, leaf, low))
        if ends.min() >= 0 and ends[0] != ends[1] and sill_height(pipes, k, up) < low:
            joined[ends[0]] = ends[1]
            count -= 1
    return count


@compiled_parallel
def _one_plane_over(
    graph: MeshGraph, pipes: Links, up: Array, chord: Array, low: Array
) -> NDArray[np.bool_]:
    proved = np.zeros(len(up), np.bool_)
    for c in numba.prange(len(up)):
        if _pit_above(graph, up[c], chord[c], low[c]):
            continue
        tree = grow_tree(graph, up[c], NEGLIGIBLE * graph.capacity)
        proved[c] = tree.lost == 0 and _pieces_below(graph, pipes, tree, up[c], low[c]) == 1
    return proved
