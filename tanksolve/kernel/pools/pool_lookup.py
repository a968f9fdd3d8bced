"""Which pool a place belongs to, for many states of settled liquid and many places.

A wall face is wet in the pool of its lowest vertex (:mod:`tanksolve.kernel.pools.pool_volume`), and a
place below a pool's surface is in that pool if what lies straight below it is. So one table of
faces for each pool answers for every place: a drop, and a look-up.
"""

from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner
from tanksolve.kernel.compiled import compiled, compiled_inner, compiled_parallel, threads_for
from tanksolve.kernel.pools.descent import is_within, leaf_below_point
from tanksolve.kernel.pools.settle import Settled
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]

__all__ = [
    "States",
    "faces_joined",
    "faces_under",
    "levels_below",
    "owns_all_below",
    "read_joined",
    "states_of",
]

_AT_ONCE = 64  # directions: a table has a byte for every face of each, before it is packed


class States(NamedTuple):
    """Liquid at rest in S attitudes; pools highest surface first, padded with -1 and NaN.

    Attributes
    ----------
    up : (S, 3) float [-]   unit vectors opposite to gravity, tank frame.
    pit : (S, K) int   lowest vertex of each pool, an index into the graph's vertices.
    level : (S, K) float [m]   ``up · x`` of its surface, tank frame.
    """

    up: Array
    pit: Ints
    level: Array

    def at(self, rows: Bools | Ints | slice) -> "States":
        """Take some of the states."""
        return States(self.up[rows], self.pit[rows], self.level[rows])


def states_of(graph: MeshGraph, paths: Array, found: Settled, kept: Bools) -> States:
    """The pools at the stops ``kept`` (H, P) of paths (H, P, 3) that liquid was settled along."""
    up, pit, level = paths[kept], found.pit[kept], found.level[kept]
    order = np.argsort(-np.where(pit >= 0, level, -np.inf), axis=1, kind="stable")
    pit, level = np.take_along_axis(pit, order, axis=1), np.take_along_axis(level, order, axis=1)
    vertex = np.full(int(graph.source.max()) + 1, -1, np.int64)
    vertex[graph.source[::-1]] = np.arange(len(graph.source))[::-1]
    return States(up, np.where(pit >= 0, vertex[pit], -1), np.where(pit >= 0, level, np.nan))


@compiled_inner
def _joined(graph: MeshGraph, tree: MergeTree, pit: int, height: float, out: Bools) -> bool:
    """Mark the faces whose lowest vertex hangs together with ``pit`` below ``height``.

    Returns whether no other face reaches below that height.
    """
    mine = climb(tree, tree.node[pit], height)
    all_below = True
    for face in range(len(graph.faces)):
        v = lowest_corner(graph.faces, tree.rank, face)
        below = tree.z[v] < height
        out[face] = below and climb(tree, tree.node[v], height) == mine
        all_below = all_below and (out[face] or not below)
    return all_below


@compiled_parallel
def _tables(graph: MeshGraph, up: Array, pit: Ints, height: Array) -> tuple[Bools, Bools]:
    states, most = pit.shape
    table = np.zeros((states, most, len(graph.faces)), np.bool_)
    alone = np.zeros((states, most), np.bool_)
    for s in numba.prange(states):
        tree = grow_tree(graph, up[s], NEGLIGIBLE * graph.capacity)
        for k in range(most):
            if pit[s, k] >= 0:
                alone[s, k] = _joined(graph, tree, pit[s, k], height[s, k], table[s, k])
    return table, alone


def faces_joined(graph: MeshGraph, up: Array, pit: Ints, height: Array) -> Bytes:
    """Which faces hang together with each pit below a height, in each of S directions.

    up : (S, 3); pit : (S, K), -1 for none; height : (S, K) [m], ``up · x``, tank frame.
    Returns bits for :func:`read_joined`, (S, K, F / 8), faces in the graph's order.
    """
    parts = np.array_split(np.arange(len(up)), 1 + len(up) // _AT_ONCE)
    tables = [_in_threads(graph, up[part], pit[part], height[part])[0] for part in parts]
    return np.concatenate([np.packbits(table, axis=2) for table in tables])


def read_joined(table: Bytes, face: Ints) -> Bools:
    """Whether faces (S, T) are marked for each pit in a table (S, K, F / 8): (S, K, T)."""
    byte = np.repeat(face[:, None, :] >> 3, table.shape[1], axis=1)
    bit = (7 - (face & 7)).astype(np.uint8)[:, None, :]
    return np.asarray((np.take_along_axis(table, byte, axis=2) >> bit) & 1, np.bool_)


def owns_all_below(graph: MeshGraph, up: Array, pit: Ints, height: Array) -> Bools:
    """Whether everything of the tank below a height hangs together with the pit: (S,).

    up : (S, 3); pit : (S,); height : (S,) [m].
    """
    out = np.zeros(len(up), bool)
    for part in np.array_split(np.arange(len(up)), 1 + len(up) // _AT_ONCE):
        out[part] = _in_threads(graph, up[part], pit[part, None], height[part, None])[1][:, 0]
    return out


def _in_threads(graph: MeshGraph, up: Array, pit: Ints, height: Array) -> tuple[Bools, Bools]:
    """Heights within rounding of a saddle count as below it: a brimming pool is one pool."""
    below = height - (up @ graph.origin)[:, None] - 1e-9 * graph.size
    with threads_for(64 * len(up)):
        return _tables(graph, np.ascontiguousarray(up), np.ascontiguousarray(pit), below)


@compiled_parallel
def _under(graph: MeshGraph, up: Array, points: Array) -> Ints:
    out = np.empty((len(up), len(points)), np.int64)
    for s in numba.prange(len(up)):
        grid = grid_for(up[s], graph.size)
        for p in range(len(points)):
            out[s, p] = drop_from_point(graph, grid, points[p])[0]
    return out


def faces_under(graph: MeshGraph, up: Array, points: Array) -> Ints:
    """The face straight below each of ``points`` (T, 3) in S directions (S, 3): (S, T); -1 outside."""
    with threads_for(4 * len(up) * len(points)):
        return _under(graph, np.ascontiguousarray(up), np.ascontiguousarray(points - graph.origin))


@compiled
def _levels_in_state(
    graph: MeshGraph, up: Array, pit: Ints, level: Array, brim: float, points: Array, out: Array
) -> None:
    tree = grow_tree(graph, up, NEGLIGIBLE * graph.capacity)
    grid = grid_for(up, graph.size)
    pools = np.full(len(pit), -1, np.int64)
    for k in range(len(pit)):
        if pit[k] >= 0:
            pools[k] = climb(tree, tree.node[pit[k]], level[k] - brim)
    for p in range(len(points)):
        leaf = leaf_below_point(graph, tree, grid, points[p])
        if leaf >= 0:
            out[p] = tree.z[tree.pit[leaf]]
            for k in range(len(pools)):
                if pools[k] >= 0 and is_within(tree, leaf, pools[k]):
                    out[p] = level[k]
                    break


@compiled_parallel
def _levels_below(
    graph: MeshGraph, up: Array, pit: Ints, level: Array, brim: float, points: Array
) -> Array:
    out = np.full((len(up), len(points)), np.nan)
    for s in numba.prange(len(up)):
        _levels_in_state(graph, up[s], pit[s], level[s], brim, points, out[s])
    return out


def levels_below(graph: MeshGraph, up: Array, pit: Ints, level: Array, points: Array) -> Array:
    """Level of the pool that liquid from each of ``points`` (T, 3) runs to, in S directions: (S, T) [m].

    up : (S, 3); pit : (S, K), -1 for none; level : (S, K) [m], highest first. ``up · x``, tank
    frame. A dry pit counts with its own height, a brimming pool ends at its sill; NaN outside the tank.
    """
    shift = up @ graph.origin
    with threads_for(64 * len(up) + 4 * len(up) * len(points)):
        found = _levels_below(
            graph,
            np.ascontiguousarray(up),
            np.ascontiguousarray(pit),
            level - shift[:, None],
            1e-9 * graph.size,
            np.ascontiguousarray(points - graph.origin),
        )
    return np.asarray(found + shift[:, None])
