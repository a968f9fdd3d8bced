"""How high liquid can stand at each vertex of the tank, wherever in a cell of attitudes the machine is.

An attitude of the cell is written ``u + d``, d square to the centre u: heights are then linear in d,
and d lies in the hull of a few d_j. Let m(v -> p) be the pass from v to the port's place p, and e the
port's edge. Liquid at v runs off once it stands above ``max(e, m(v -> p))``. This module finds for
each vertex v one number L_v at every d_j, such that all over the cell

    if max(e, m(v -> p)) is above v at all, it is at most sum of lambda_j L_v(j),  d = sum of lambda_j d_j.

Three facts carry L from the port outwards, all from ways that lie inside the liquid space:

* at the corners of the face straight below the port, L is e: liquid there runs to below the port;
* if w is next to v and not higher at any d_j, v takes the L of w: what v holds, w holds too;
* else v takes the greater of the L of w and of w's own height: the way from v to w climbs to w at most.

Leaves of the merge tree are entered from the saddle that joins them to what is known by then. Where
nothing is known, L is the top of the tank. docs/theory/worst_state.md has the proof.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.topology.drop_ray import NONE
from tanksolve.kernel.topology.merge_tree import MergeTree
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.kernel.vectors import greatest, put

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Chains", "chains_of", "spread_from"]


class Chains(NamedTuple):
    """Where the ways down of one direction end. Indexed by vertex (N,) or node (M,).

    Attributes
    ----------
    end : (N,) int   the leaf in whose minimum the chain ``tree.came`` from a vertex ends; -1 where
        it runs in a circle, which only surfaces that touch can make it do.
    head, after : (M,), (N,) int   the vertices that end in a leaf, from low to high: a linked list.
    loose : (N,) int   the list of those with ``end`` -1, from low to high; there are ``circles`` of them.
    first, last : (M,) int   the leaves of a node are those with ``first`` in ``first[m]:last[m]``.
    """

    end: Ints
    head: Ints
    after: Ints
    loose: Ints
    circles: int
    first: Ints
    last: Ints


@compiled_inner
def chains_of(tree: MergeTree) -> Chains:
    """Follow every vertex down. The tree must be one in which no minimum was left out."""
    count, nodes = len(tree.rank), len(tree.birth)
    order = np.empty(count, np.int64)
    for v in range(count):
        order[tree.rank[v]] = v
    end, after = np.empty(count, np.int64), np.full(count, -1, np.int64)
    head, tail = np.full(nodes, -1, np.int64), np.full(nodes, -1, np.int64)
    loose, circles = np.empty(count, np.int64), 0
    for rank in range(count):
        v = order[rank]
        below = tree.came[v]
        if below < 0:
            end[v] = tree.node[v]
        else:
            end[v] = end[below] if tree.rank[below] < rank else -1
        leaf = int(end[v])
        if leaf < 0:
            loose[circles] = v
            circles += 1
        elif head[leaf] < 0:
            head[leaf] = tail[leaf] = v
        else:
            after[tail[leaf]] = v
            tail[leaf] = v
    first, last, put = np.empty(nodes, np.int64), np.empty(nodes, np.int64), 0
    leaves = np.zeros(nodes, np.int64)
    for node in range(nodes):  # children come before parents
        if tree.left[node] < 0:
            leaves[node] = 1
        if tree.parent[node] >= 0:
            leaves[tree.parent[node]] += leaves[node]
    for node in range(nodes - 1, -1, -1):
        if tree.parent[node] < 0:
            first[node], put = put, put + leaves[node]
        last[node] = first[node] + leaves[node]
        if tree.left[node] >= 0:
            first[tree.left[node]] = first[node]
            first[tree.right[node]] = first[node] + leaves[tree.left[node]]
    return Chains(end, head, after, loose, circles, first, last)


@compiled_inner
def _onward(
    graph: MeshGraph, tree: MergeTree, z: Array, held: Array, most: Array, v: int, out: Array
) -> float:
    """Write the best L (J,) that a vertex next to ``v``, or what lies straight below, gives it.

    One neighbour is taken at all d_j: the least of several at each of them would prove nothing
    between them. Returns its greatest value, ``inf`` where nothing next to it is known.
    """
    corners = z.shape[1]
    least, chosen, falls = np.inf, NONE, False
    for at in range(graph.first_edge[v] - 1, graph.first_edge[v + 1]):
        w = tree.came[v] if at < graph.first_edge[v] else np.int64(graph.neighbour[at])
        if w < 0 or most[w] >= least:
            continue
        sure, worst = True, most[w]
        for j in range(corners):
            if z[w, j] > z[v, j]:
                sure = False
                break
        if not sure:
            for j in range(corners):
                worst = max(worst, z[w, j])
        if worst < least:
            least, chosen, falls = worst, int(w), sure
    if chosen >= 0:
        for j in range(corners):
            out[j] = held[chosen, j] if falls else max(held[chosen, j], z[chosen, j])
    return least


@compiled_inner
def _fill_leaf(
    graph: MeshGraph,
    tree: MergeTree,
    chains: Chains,
    z: Array,
    leaf: int,
    entry: Array,
    top: Array,
    held: Array,
    most: Array,
) -> None:
    """Give L to the vertices of a leaf, whose minimum has the L ``entry`` (J,) or a better one."""
    v = chains.head[leaf]
    while v >= 0:
        if most[v] == np.inf:
            most[v] = _onward(graph, tree, z, held, most, v, held[v])
            if tree.came[v] < 0 and greatest(entry) < most[v]:
                most[v] = greatest(entry)
                put(held[v], entry)
            elif most[v] == np.inf:
                most[v] = greatest(top)
                put(held[v], top)
        v = chains.after[v]


@compiled_inner
def _climb_chain(tree: MergeTree, z: Array, v: int, entry: Array) -> None:
    """Raise ``entry`` (J,) to the highest vertex of the chain down from ``v``, itself included."""
    while v >= 0:
        for j in range(len(entry)):
            entry[j] = max(entry[j], z[v, j])
        v = tree.came[v]


@compiled_inner
def _enter(
    graph: MeshGraph,
    tree: MergeTree,
    chains: Chains,
    z: Array,
    saddle: int,
    side: int,
    top: Array,
    held: Array,
    most: Array,
    entry: Array,
) -> int:
    """The leaf by which a node, ``side``, is entered over a saddle; its minimum's L goes to ``entry``.

    The way: from the minimum up its chain to a vertex next to the saddle, over it, and on from there.
    """
    if most[saddle] < np.inf:
        put(entry, held[saddle])
        passable = True
    else:
        passable = _onward(graph, tree, z, held, most, saddle, entry) < np.inf
    low, high, start = chains.first[side], chains.last[side], NONE
    for at in range(graph.first_edge[saddle] - 2, graph.first_edge[saddle + 1]):
        w = np.int64(saddle)
        if at >= graph.first_edge[saddle]:
            w = np.int64(graph.neighbour[at])
        elif at == graph.first_edge[saddle] - 1:
            w = tree.came[saddle]
        if w < 0 or chains.end[w] < 0 or not low <= chains.first[chains.end[w]] < high:
            continue
        if start < 0 or tree.z[w] < tree.z[start]:
            start = int(w)
    if start < 0 or not passable:
        put(entry, top)
        return int(chains.end[tree.pit[side]])
    for j in range(len(entry)):
        entry[j] = max(entry[j], z[saddle, j])
    _climb_chain(tree, z, start, entry)
    return int(chains.end[start])


@compiled_inner
def spread_from(
    graph: MeshGraph,
    tree: MergeTree,
    chains: Chains,
    z: Array,
    face: int,
    lowest: int,
    edge: Array,
    top: Array,
    held: Array,
    most: Array,
) -> None:
    """Find L of all that hangs together with one port: ``held`` (N, J) [m], and its ``most`` (N,) over j.

    Both are written; where ``most`` is ``inf`` there is no way to the port.

    z : (N, J) [m]   heights at the d_j; face : the one straight below the port, ``lowest`` its lowest
    corner; edge : (J,) [m]   what must be covered, not below the port; top : (J,) [m]   of the tank.
    """
    most[:] = np.inf
    for k in range(3):
        put(held[graph.faces[face, k]], edge)
        most[graph.faces[face, k]] = greatest(edge)
    entry, leaf = edge.copy(), int(chains.end[lowest])
    if leaf < 0:
        leaf = int(chains.end[tree.pit[tree.node[lowest]]])
        put(entry, top)
    else:
        _climb_chain(tree, z, lowest, entry)
    _fill_leaf(graph, tree, chains, z, leaf, entry, top, held, most)
    # from each leaf entered, up to the node that it was entered for; nodes beside the way on it
    nodes = len(tree.birth)
    at, until, depth = np.empty(nodes, np.int64), np.empty(nodes, np.int64), 1
    at[0], until[0] = leaf, -1
    while depth:
        node = at[depth - 1]
        above = tree.parent[node]
        if above < 0 or node == until[depth - 1]:
            depth -= 1
            continue
        at[depth - 1] = above
        side = tree.right[above] if tree.left[above] == node else tree.left[above]
        leaf = _enter(graph, tree, chains, z, tree.birth[above], side, top, held, most, entry)
        _fill_leaf(graph, tree, chains, z, leaf, entry, top, held, most)
        at[depth], until[depth] = leaf, side
        depth += 1
    for i in range(chains.circles):
        v = chains.loose[i]
        if most[v] == np.inf:
            most[v] = _onward(graph, tree, z, held, most, v, held[v])
            if most[v] == np.inf:
                most[v] = greatest(top)
                put(held[v], top)
