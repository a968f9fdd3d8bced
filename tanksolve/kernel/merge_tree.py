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

from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.drop_ray import NONE, Grid, drop_from_vertex, grid_for
from tanksolve.kernel.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "NEGLIGIBLE",
    "MergeTree",
    "climb",
    "grow_tree",
    "lowest_corner",
    "phi",
    "three_sorted",
    "wet_share",
]

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


class _Forest(NamedTuple):
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


@compiled
def phi(h: float, z0: float, z1: float, z2: float) -> float:
    """Mean of (h - z)+ over a triangle with corner heights z0 <= z1 <= z2 [m]."""
    if h <= z0:
        return 0.0
    if h >= z2:
        return h - (z0 + z1 + z2) / 3.0
    a, b = h - z0, h - z1
    if b <= 0.0:
        return a / 3.0 * (a / (z1 - z0)) * (a / (z2 - z0))
    c = z2 - h
    return (c * (a * a + a * b + b * b) + a * b * (a + b)) / (3.0 * (z2 - z0) * (z2 - z1))


@compiled
def wet_share(h: float, z0: float, z1: float, z2: float) -> float:
    """Share of a triangle that lies below ``h``: the derivative of :func:`phi`."""
    if h <= z0:
        return 0.0
    if h >= z2:
        return 1.0
    a, b = h - z0, h - z1
    if b <= 0.0:
        return (a / (z1 - z0)) * (a / (z2 - z0))
    c = z2 - h
    return (c * (a + b) + a * b) / ((z2 - z0) * (z2 - z1))


@compiled
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


@compiled
def _find(up_to: Ints, node: int) -> int:
    while up_to[node] != node:
        up_to[node] = up_to[up_to[node]]
        node = up_to[node]
    return int(node)


@compiled
def _new_node(forest: _Forest, vertex: int, left: int, right: int) -> int:
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


@compiled
def _absorb(forest: _Forest, node: int, into: int) -> None:
    """Make ``node`` a part of ``into``: it starts no pool of its own."""
    forest.up_to[node] = into
    forest.merged_into[node] = into
    if forest.head[into] < 0:
        forest.head[into] = forest.head[node]
    else:
        forest.after[forest.tail[into]] = forest.head[node]
    forest.tail[into] = forest.tail[node]


@compiled
def _is_negligible(
    graph: MeshGraph, forest: _Forest, leaf: int, up: Array, h: float, least: float
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


@compiled
def lowest_corner(faces: Ints, rank: Ints, face: int) -> int:
    """The vertex of a face that comes first in the order from low to high."""
    lowest = faces[face, 0]
    for k in range(1, 3):
        if rank[faces[face, k]] < rank[lowest]:
            lowest = faces[face, k]
    return int(lowest)


@compiled
def three_sorted(a: float, b: float, c: float) -> tuple[float, float, float]:
    """Three numbers, lowest first."""
    if b < a:
        a, b = b, a
    if c < b:
        b, c = c, b
        if b < a:
            a, b = b, a
    return a, b, c


@compiled
def _join(
    graph: MeshGraph, forest: _Forest, a: int, b: int, vertex: int, up: Array, least: float
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
    node = _new_node(forest, vertex, a, b)
    forest.up_to[a] = node
    forest.up_to[b] = node
    return node


@compiled
def _meet(graph: MeshGraph, forest: _Forest, vertex: int, up: Array, least: float) -> int:
    """Join all pools below a saddle; return the root of what comes of it."""
    root = NONE
    for at in range(graph.first_edge[vertex], graph.first_edge[vertex + 1]):
        label = forest.label[graph.neighbour[at]]
        if label < 0:
            continue
        found = _find(forest.up_to, label)
        if root < 0:
            root = found
        elif found != root:
            root = _join(graph, forest, root, found, vertex, up, least)
    return root


@compiled
def _look_down(
    first_edge: Ints, neighbour: Ints, z: Array, label: Ints, up_to: Ints, vertex: int
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


@compiled
def _link(graph: MeshGraph, forest: _Forest, grid: Grid, v: int, up: Array, least: float) -> bool:
    """Join a hanging vertex to the pool that a drop from it falls into; False if it falls out."""
    face, _ = drop_from_vertex(graph, grid, v, forest.z[v])
    if face < 0:
        return False
    lowest = lowest_corner(graph.faces, forest.rank, face)
    if forest.label[lowest] < 0:
        return False
    mine, below = _find(forest.up_to, forest.label[v]), _find(forest.up_to, forest.label[lowest])
    forest.came[v] = lowest
    if mine != below:
        _join(graph, forest, mine, below, v, up, least)
    return True


@compiled
def _sweep(graph: MeshGraph, forest: _Forest, up: Array, least: float) -> int:
    """Take in all vertices, one height after the other; return how many hang over nothing.

    Of one height, first what can be reached from below or along the height itself, then pits, then
    what hangs: so a level floor is one pit, and a level ceiling needs no drop. The arrays have
    names of their own here because this is the loop that costs.
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
                    root, lowest = _look_down(first_edge, neighbour, z, label, up_to, v)
                    if root == -1:
                        hangs = (
                            normals[v, 0] * up[0] + normals[v, 1] * up[1] + normals[v, 2] * up[2]
                            > 0.0
                        )
                        if turn == 0 or (turn == 1 and hangs):
                            continue
                        root = _new_node(forest, v, NONE, NONE)
                        forest.hanging[root] = hangs
                        if hangs:
                            hung[waiting] = v
                            waiting += 1
                    elif root == -2:
                        root = _meet(graph, forest, v, up, least)
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
            if not _link(graph, forest, grid, hung[i], up, least):
                lost += 1
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
    forest = _Forest(
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


@compiled
def _compact(forest: _Forest, lost: int) -> MergeTree:
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


@compiled
def climb(tree: MergeTree, node: int, height: float) -> int:
    """Go from a node to the one that holds it once the liquid stands at ``height`` there."""
    while tree.parent[node] >= 0 and tree.z[tree.birth[tree.parent[node]]] < height:
        node = tree.parent[node]
    return node
