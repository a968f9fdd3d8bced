"""How low and how high liquid may stand in each pool, whatever the machine did before.

Every place runs down to a *pit*, and liquid over a place that is at least as high as the place stands as
over its pit. So the least level (:mod:`tanksolve.kernel.pools.worst_state`) is one for each pit, and so is
the highest. One tree of an attitude serves all its pits.

Over a cell of attitudes new pits may form. A vertex certainly runs down at every up vector of the cell
where one neighbour is not higher at any point of the cell's hull; all others may be pits. A point that
hangs together with a vertex below h - S at the middle does so below h' all over the cell, with S the slack
of the height h', so what is found from a vertex at the middle holds for the pit that it may be.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.brims import corner_below, flat_faces, mouths
from tanksolve.kernel.pools.links import NO_LINKS, Links, shifted
from tanksolve.kernel.pools.worst_state import highest_at, rise_at
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["highest_over", "least_levels", "space_of", "spaces_of"]

_MOST = 32  # pools of one attitude that are told
_SAME = 1e-12  # of the tank's size: levels that are one


@compiled
def _least_rows(
    first: int, last: int, graph: MeshGraph, links: Links, up: Array, volume: float, out: Array
) -> None:
    top, exact = graph.size, 1e-15 * graph.capacity
    place, edge = np.empty(1, np.int64), np.zeros(1)
    for d in range(first, last):
        tree = grow_tree(graph, up[d], NEGLIGIBLE)
        ends, sill = mouths(graph, tree, grid_for(up[d], graph.size), links, up[d])
        faces = flat_faces(graph, tree, up[d])
        put = 0
        for node in range(len(tree.birth)):
            if tree.left[node] >= 0 or put == _MOST:
                continue
            place[0] = tree.pit[node]
            level = rise_at(
                tree, faces, top, ends, sill, place, edge, volume, tree.z[place[0]], exact
            )
            known = level <= tree.z[place[0]]  # it may be dry
            for k in range(put):
                known = known or abs(out[d, k] - level) <= _SAME * graph.size
            if not known:
                out[d, put] = level
                put += 1


@compiled_inner
def _may_be_pit(graph: MeshGraph, tree: MergeTree, points: Array, v: int) -> bool:
    """Whether a vertex may be without a lower neighbour, and not hang, at some up vector of a hull (J, 3)."""
    hangs = True
    for j in range(len(points)):
        n = graph.normals[v]
        if n[0] * points[j, 0] + n[1] * points[j, 1] + n[2] * points[j, 2] <= 0.0:
            hangs = False
            break
    if hangs:
        return False
    at = graph.vertices[v]
    for i in range(graph.first_edge[v], graph.first_edge[v + 1]):
        w = graph.neighbour[i]
        if tree.rank[w] > tree.rank[v]:
            continue
        sure = True
        for j in range(len(points)):
            rise = 0.0
            for k in range(3):
                rise += (graph.vertices[w, k] - at[k]) * points[j, k]
            if rise > 0.0:
                sure = False
                break
        if sure:
            return False
    return True


@compiled
def _highest_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links,
    up: Array,
    points: Array,
    volume: float,
    counted: Bools,
    out: Array,
) -> None:
    top, exact = graph.size, 1e-15 * graph.capacity
    for d in range(first, last):
        tree = grow_tree(graph, up[d], NEGLIGIBLE)
        ends, sill = mouths(graph, tree, grid_for(up[d], graph.size), links, up[d])
        faces = flat_faces(graph, tree, up[d])
        level = np.full(len(tree.birth), np.nan)
        worst = -np.inf
        for v in range(len(tree.z)):
            if not counted[v] or not _may_be_pit(graph, tree, points[d], v):
                continue
            node = tree.node[v]
            if np.isnan(level[node]):
                start = tree.pit[node] if tree.left[node] < 0 else v
                level[node] = highest_at(
                    tree, faces, top, ends, sill, start, volume, tree.z[start], exact
                )
            worst = max(worst, tree.z[v], level[node])
        out[d] = worst


@compiled
def _spaces(graph: MeshGraph, up: Array) -> Ints:
    tree = grow_tree(graph, up, NEGLIGIBLE)
    root = np.empty(len(tree.birth), np.int64)
    for node in range(len(root) - 1, -1, -1):
        above = tree.parent[node]
        root[node] = node if above < 0 else root[above]
    out = np.empty(len(tree.z), np.int64)
    for v in range(len(out)):
        out[v] = root[tree.node[v]]
    return out


@compiled
def _corner_under(graph: MeshGraph, up: Array, place: Array) -> int:
    tree = grow_tree(graph, up, NEGLIGIBLE)
    return corner_below(graph, tree, grid_for(up, graph.size), place)[0]


def least_levels(graph: MeshGraph, up: ArrayLike, volume: float, links: Links = NO_LINKS) -> Array:
    """Least level of each pool that cannot be dry at ``up`` (D, 3) with ``volume`` [m³] in the tank.

    Returns (D, K) [m], ``up · x`` in the tank frame, highest first, NaN after the last; levels that
    are one are told once, and no more than 32, so some may be missing.
    """
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    out = np.full((len(ups), _MOST), np.nan)
    near = shifted(links, graph.origin)
    in_threads(_least_rows, len(ups), graph, near, ups, float(volume), out)
    found = -np.sort(-out, axis=1)
    kept = max(1, int((~np.isnan(found)).sum(axis=1).max(initial=1)))
    return np.asarray(found[:, :kept] + (ups @ graph.origin)[:, None])


def highest_over(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    volume: float,
    counted: Bools,
    links: Links = NO_LINKS,
) -> Array:
    """Height (D,) [m] that liquid over no floor can pass, all over each hull but for its slack.

    points : (D, J, 3)   hulls about ``up`` (D, 3), or the attitudes alone; counted : (N,) the vertices
        that may be pits, such as those of one liquid space.
    An edge that lies higher than this by the slack of its port is above all liquid that may stand below
    it, at every up vector of the hull. Infinite downwards where nothing counts.
    """
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    hull = np.ascontiguousarray(np.asarray(points, np.float64))
    out = np.empty(len(ups))
    near = shifted(links, graph.origin)
    in_threads(_highest_rows, len(ups), graph, near, ups, hull, float(volume), counted, out)
    return np.asarray(out + ups @ graph.origin)


def spaces_of(graph: MeshGraph) -> Ints:
    """Which separate liquid space each vertex is in: (N,) numbers, links left out of account."""
    return np.asarray(_spaces(graph, np.array([0.0, 0.0, 1.0])))


def space_of(graph: MeshGraph, spaces: Ints, place: ArrayLike) -> int:
    """The space of ``spaces_of`` that a place (3,) [m] in the liquid is in; -1 outside the tank."""
    at = np.asarray(place, np.float64) - graph.origin
    v = _corner_under(graph, np.array([0.0, 0.0, 1.0]), at)
    return int(spaces[v]) if v >= 0 else -1
