"""Pools while the merge tree grows: which vertices hang together so far, and what joins what."""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import phi, three_sorted
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.topology.drop_ray import NONE
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Shorts = NDArray[np.int32]

__all__ = ["Forest", "find", "join", "look_down", "meet", "new_node"]


class Forest(NamedTuple):
    """Working arrays of the sweep, indexed by node except where said."""

    z: Array
    rank: Ints  # by vertex
    label: Ints  # by vertex: node at birth, before absorbed nodes are resolved
    came: Ints  # by vertex
    after: Ints  # by vertex: next vertex in its node's list
    up_to: Ints  # union-find
    merged_into: Ints  # the node that took this one over, -1 for nodes of the tree
    birth: Ints
    left: Ints
    right: Ints
    head: Ints  # first and last vertex of the node's list
    tail: Ints
    hanging: NDArray[np.bool_]
    known_big: NDArray[np.bool_]
    made: Ints  # one number: how many nodes


@compiled_inner
def find(up_to: Ints, node: int) -> int:
    """The root of a node, halving the way there for next time."""
    while up_to[node] != node:
        up_to[node] = up_to[up_to[node]]
        node = up_to[node]
    return int(node)


@compiled_inner
def new_node(forest: Forest, vertex: int, left: int, right: int) -> int:
    """Begin a node at a vertex: a leaf without children (-1), or the join of two."""
    node = forest.made[0]
    forest.made[0] += 1
    forest.up_to[node] = node
    forest.merged_into[node] = -1
    forest.birth[node] = vertex
    forest.left[node] = left
    forest.right[node] = right
    forest.hanging[node] = False
    forest.known_big[node] = left >= 0
    forest.head[node] = -1
    return int(node)


@compiled_inner
def _absorb(forest: Forest, node: int, into: int) -> None:
    """Make ``node`` a part of ``into``: it starts no pool of its own."""
    forest.up_to[node] = into
    forest.merged_into[node] = into
    if forest.head[into] < 0:
        forest.head[into] = forest.head[node]
    else:
        forest.after[forest.tail[into]] = forest.head[node]
    forest.tail[into] = forest.tail[node]


@compiled_inner
def _is_negligible(
    graph: MeshGraph, forest: Forest, leaf: int, up: Array, h: float, least: float
) -> bool:
    """Tell whether a leaf that spills at height ``h`` holds less than ``least`` [m³]."""
    if forest.known_big[leaf]:
        return False
    volume = 0.0
    v = forest.head[leaf]
    while v >= 0:
        for at in range(graph.first_face[v], graph.first_face[v + 1]):
            face = graph.around[at]
            i, j, k = graph.faces[face]
            if forest.rank[v] > min(forest.rank[i], forest.rank[j], forest.rank[k]):
                continue
            z0, z1, z2 = three_sorted(forest.z[i], forest.z[j], forest.z[k])
            area = graph.areas[face]
            flow = up[0] * area[0] + up[1] * area[1] + up[2] * area[2]
            volume -= flow * phi(h, z0, z1, z2)
        v = forest.after[v]
    forest.known_big[leaf] = volume > least
    return volume <= least


@compiled_inner
def join(
    graph: MeshGraph, forest: Forest, a: int, b: int, vertex: int, up: Array, least: float
) -> int:
    """Join two roots at ``vertex`` and return the root of both."""
    h = forest.z[vertex]
    if forest.hanging[a] or (
        not forest.hanging[b] and _is_negligible(graph, forest, a, up, h, least)
    ):
        _absorb(forest, a, b)
        return b
    if forest.hanging[b] or _is_negligible(graph, forest, b, up, h, least):
        _absorb(forest, b, a)
        return a
    node = new_node(forest, vertex, a, b)
    forest.up_to[a] = node
    forest.up_to[b] = node
    return node


@compiled
def meet(graph: MeshGraph, forest: Forest, vertex: int, up: Array, least: float) -> int:
    """Join all pools below a saddle; return the root of what comes of it."""
    root = NONE
    for at in range(graph.first_edge[vertex], graph.first_edge[vertex + 1]):
        label = forest.label[graph.neighbour[at]]
        if label < 0:
            continue
        found = find(forest.up_to, label)
        if root < 0:
            root = found
        elif found != root:
            root = join(graph, forest, root, found, vertex, up, least)
    return root


@compiled_inner
def look_down(
    first_edge: Shorts, neighbour: Shorts, z: Array, label: Ints, up_to: Ints, vertex: int
) -> tuple[int, int]:
    """Root of the pool below a vertex and its lowest neighbour there: (-1, -1) none, (-2, .) several."""
    root, lowest, known = NONE, NONE, NONE
    for at in range(first_edge[vertex], first_edge[vertex + 1]):
        other = neighbour[at]
        own = label[other]
        if own < 0:
            continue
        if lowest < 0 or z[other] < z[lowest]:
            lowest = other
        if own == known:
            continue
        known = own
        while up_to[own] != own:
            own = up_to[own]
        if root == -1:
            root = own
        elif own != root:
            root = -2
    return root, lowest
