"""Where pools of liquid start and where they join, for any up direction, from the mesh alone.

Vertices are taken from low to high. Those with no lower neighbour start a *pit*, unless liquid
lies straight below them (the lower edge of a hanging baffle): such a vertex belongs to the pool
that a drop from it falls into. A vertex with lower neighbours in two pools is the *saddle* where
they join. This is the merge tree of the liquid's sublevel sets; docs/theory/merge_tree.md says
why nothing else is needed, and what is done about ties.

References: H. Carr, J. Snoeyink and U. Axen, Comput. Geom. 24 (2003) 75-94 (abstract read), for
trees made by sweeping vertices in order of height; the drops and ties are this project's own.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.topology.drop_ray import NONE, Grid, drop_from_vertex, grid_for
from tanksolve.kernel.topology.forest import Forest, find, join, look_down, meet, new_node
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["NEGLIGIBLE", "MergeTree", "climb", "grow_tree"]

NEGLIGIBLE = 1e-10  # of the tank's volume: shallower pits are taken as part of their neighbour
HEIGHT_BITS = 40  # heights within 2^-40 of the tank's size are one height
_DIGIT_BITS = 11
_UNSEEN = 2**62


class MergeTree(NamedTuple):
    """The merge tree of one direction. Nodes 0..M-1, each after its children.

    Attributes
    ----------
    z : (N,) float [m]   height of each vertex above the mesh's origin.
    rank : (N,) int   place of each vertex in the order from low to high.
    node : (N,) int   the tree node that holds the vertex: the pool it lies in at its own height.
    came : (N,) int   a vertex further down in the same pool; -1 at a pit.
    birth : (M,) int   vertex where the node begins: the pit of a leaf, the saddle of an inner node.
    pit : (M,) int   lowest pit of the node.
    left, right : (M,) int   the two nodes that join into this one; -1 for a leaf.
    parent : (M,) int   the node that this one joins into; -1 at a root.
    lost : number of hanging vertices below which no surface was found: the mesh is faulty.
    """

    z: Array
    rank: Ints
    node: Ints
    came: Ints
    birth: Ints
    pit: Ints
    left: Ints
    right: Ints
    parent: Ints
    lost: int


@compiled_inner
def _sorted_by_height(z: Array, size: float) -> tuple[Ints, Ints]:
    """Heights in whole steps, and the vertices in their order (radix sort, ties by index)."""
    count = len(z)
    keys = np.empty(count, np.int64)
    scale = float(1 << HEIGHT_BITS) / (2.0 * size)
    for v in range(count):
        keys[v] = np.int64(np.floor((z[v] + size) * scale + 0.5))
    order, spare = np.arange(count), np.empty(count, np.int64)
    buckets = np.empty((1 << _DIGIT_BITS) + 1, np.int64)
    for shift in range(0, HEIGHT_BITS + 1, _DIGIT_BITS):
        buckets[:] = 0
        for v in range(count):
            buckets[((keys[v] >> shift) & ((1 << _DIGIT_BITS) - 1)) + 1] += 1
        for digit in range(1 << _DIGIT_BITS):
            buckets[digit + 1] += buckets[digit]
        for i in range(count):
            digit = (keys[order[i]] >> shift) & ((1 << _DIGIT_BITS) - 1)
            spare[buckets[digit]] = order[i]
            buckets[digit] += 1
        order, spare = spare, order
    return keys, order


@compiled_inner
def _link(graph: MeshGraph, forest: Forest, grid: Grid, v: int, up: Array, least: float) -> bool:
    """Join a hanging vertex to the pool that a drop from it falls into; False if it falls out."""
    face, _ = drop_from_vertex(graph, grid, v, forest.z[v])
    if face < 0:
        return False
    lowest = lowest_corner(graph.faces, forest.rank, face)
    if forest.label[lowest] < 0:
        return False
    mine, below = find(forest.up_to, forest.label[v]), find(forest.up_to, forest.label[lowest])
    forest.came[v] = lowest
    if mine != below:
        join(graph, forest, mine, below, v, up, least)
    return True


@compiled_inner
def _sweep(graph: MeshGraph, forest: Forest, up: Array, least: float) -> int:
    """Take in all vertices, one height after the other; return how many hang over nothing.

    Of one height, first what is reached from below or along that height, then pits, then what
    hangs: so a level floor is one pit, and a level roof needs no drop. This is the loop that costs.
    """
    keys, order = _sorted_by_height(forest.z, graph.size)
    grid = grid_for(up, graph.size)
    first_edge, neighbour, normals = graph.first_edge, graph.neighbour, graph.normals
    z, label, rank, came, up_to = forest.z, forest.label, forest.rank, forest.came, forest.up_to
    head, tail, after = forest.head, forest.tail, forest.after
    stack, hung = np.empty(len(neighbour) + 1, np.int64), np.empty(len(order), np.int64)
    lost = low = seen = 0
    while low < len(order):
        high = low + 1
        while high < len(order) and keys[order[high]] == keys[order[low]]:
            high += 1
        waiting = 0
        for turn in range(0 if high > low + 1 else 2, 3):
            for i in range(low, high):
                stack[0], depth = order[i], 1
                while depth:
                    depth -= 1
                    v = stack[depth]
                    if label[v] >= 0:
                        continue
                    root, lowest = look_down(first_edge, neighbour, z, label, up_to, v)
                    if root == -1:
                        hangs = (
                            normals[v, 0] * up[0] + normals[v, 1] * up[1] + normals[v, 2] * up[2]
                            > 0.0
                        )
                        if turn == 0 or (turn == 1 and hangs):
                            continue
                        root = new_node(forest, v, NONE, NONE)
                        forest.hanging[root] = hangs
                        if hangs:
                            hung[waiting] = v
                            waiting += 1
                    elif root == -2:
                        root = meet(graph, forest, v, up, least)
                    label[v], rank[v], came[v], after[v] = root, seen, lowest, -1
                    seen += 1
                    if head[root] < 0:
                        head[root] = v
                    else:
                        after[tail[root]] = v
                    tail[root] = v
                    if high == low + 1:
                        continue
                    for at in range(first_edge[v], first_edge[v + 1]):
                        other = neighbour[at]
                        if label[other] < 0 and keys[other] == keys[v]:
                            stack[depth] = other
                            depth += 1
        for i in range(waiting):
            lost += not _link(graph, forest, grid, hung[i], up, least)
            forest.hanging[label[hung[i]]] = False
        low = high
    return lost


@compiled
def grow_tree(graph: MeshGraph, up: Array, negligible: float) -> MergeTree:
    """Build the merge tree for one unit vector ``up`` (3,), tank frame.

    negligible : pits that hold less than this share of the tank's volume start no pool.
    """
    count = len(graph.vertices)
    z = np.empty(count)
    for v in range(count):
        p = graph.vertices[v]
        z[v] = p[0] * up[0] + p[1] * up[1] + p[2] * up[2]
    most = 2 * count
    forest = Forest(
        z,
        np.full(count, _UNSEEN, np.int64),
        np.full(count, -1, np.int64),
        np.empty(count, np.int64),
        np.empty(count, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.int64),
        np.empty(most, np.bool_),
        np.empty(most, np.bool_),
        np.zeros(1, np.int64),
    )
    lost = _sweep(graph, forest, up, negligible * graph.capacity)
    return _compact(forest, lost)


@compiled_inner
def _compact(forest: Forest, lost: int) -> MergeTree:
    """Number the nodes that are left, children before parents, and label the vertices with them."""
    made = forest.made[0]
    number = np.full(made, -1, np.int64)
    kept = 0
    for node in range(made):
        if forest.merged_into[node] < 0:
            number[node] = kept
            kept += 1
    for node in range(made - 1, -1, -1):
        last = node
        while forest.merged_into[last] >= 0:
            last = forest.merged_into[last]
        number[node] = number[last]
    birth, pit = np.empty(kept, np.int64), np.empty(kept, np.int64)
    left, right = np.full(kept, -1, np.int64), np.full(kept, -1, np.int64)
    parent = np.full(kept, -1, np.int64)
    for node in range(made):
        if forest.merged_into[node] >= 0:
            continue
        new = number[node]
        birth[new] = pit[new] = forest.birth[node]
        if forest.left[node] >= 0:
            one, other = number[forest.left[node]], number[forest.right[node]]
            left[new], right[new] = one, other
            parent[one] = parent[other] = new
            pit[new] = pit[one] if forest.rank[pit[one]] < forest.rank[pit[other]] else pit[other]
    node_of = np.empty(len(forest.label), np.int64)
    for v in range(len(forest.label)):
        node_of[v] = number[forest.label[v]]
    return MergeTree(
        forest.z, forest.rank, node_of, forest.came, birth, pit, left, right, parent, lost
    )


@compiled_inner
def climb(tree: MergeTree, node: int, height: float) -> int:
    """Go from a node to the one that holds it once the liquid stands at ``height`` there."""
    while tree.parent[node] >= 0 and tree.z[tree.birth[tree.parent[node]]] < height:
        node = tree.parent[node]
    return node
