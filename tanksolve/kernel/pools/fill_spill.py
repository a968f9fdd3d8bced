"""Pools at one direction: pour liquid in at a pit, let it fill, spill over saddles and merge.

A pool is a node of the merge tree that holds liquid up to one level. When it is full to the saddle
where it joins its neighbour, more liquid runs over to the pit below that saddle; two neighbours
that are both full to it become one pool.

Reference: R. Barnes, K. L. Callaghan and A. D. Wickert, "Computing water flow through complex
landscapes - Part 3: Fill-Spill-Merge", Earth Surf. Dynam. 9 (2021) 105-121 (abstract read), for
the scheme, there on a height map.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.pools.descent import any_leaf, leaf_below_point, leaf_below_vertex
from tanksolve.kernel.pools.links import Links, mouth_below, sill_height
from tanksolve.kernel.pools.pool_volume import (
    PoolFaces,
    gather_faces,
    level_in,
    newton_step,
    spill_capacities,
    volume_in,
)
from tanksolve.kernel.topology.drop_ray import Grid, grid_for
from tanksolve.kernel.topology.merge_tree import MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "State",
    "common_level",
    "empty_state",
    "find_levels",
    "lies_in",
    "pool_of",
    "pour",
    "pour_shares",
]


class State(NamedTuple):
    """Liquid at rest in one direction; arrays by node of the tree.

    Attributes
    ----------
    capacity : (M,) float [m³]   what the node holds before it spills.
    held : (M,) float [m³]   what it holds; 0 for nodes that are not pools.
    level : (M,) float [m]   free surface above the mesh's origin; the pit's height if empty.
    is_pool : (M,) bool   the pools: every pit lies in just one.
    sill : (K,) float [m]   height above the origin from which each link lets liquid through.
    leaf_from, leaf_to : (K,) int   the leaves below the links' two mouths.
    """

    tree: MergeTree
    faces: PoolFaces
    grid: Grid
    capacity: Array
    held: Array
    level: Array
    is_pool: NDArray[np.bool_]
    sill: Array
    leaf_from: Ints
    leaf_to: Ints


@compiled_inner
def empty_state(graph: MeshGraph, links: Links, up: Array, negligible: float) -> State:
    """The dry tank in direction ``up`` (3,): every pit is a pool without liquid.

    A leaf below a mouth is -1 where the mouth is outside the tank.
    """
    tree = grow_tree(graph, up, negligible)
    faces = gather_faces(graph, tree, up)
    nodes = len(tree.birth)
    is_pool, level = np.empty(nodes, np.bool_), np.empty(nodes)
    for node in range(nodes):
        is_pool[node] = tree.left[node] < 0
        level[node] = tree.z[tree.pit[node]]
    capacity = spill_capacities(tree, faces)
    grid, count = grid_for(up, graph.size), len(links.first_station) - 1
    sill, ends = np.empty(count), np.empty((2, count), np.int64)
    for k in range(count):
        sill[k] = sill_height(links, k, up)
        for end in range(2):
            station = links.first_station[k + end] - end
            place = mouth_below(links, station, up)
            ends[end, k] = leaf_below_point(graph, tree, grid, place)
    held = np.zeros(nodes)
    return State(tree, faces, grid, capacity, held, level, is_pool, sill, ends[0], ends[1])


@compiled_inner
def pool_of(state: State, node: int) -> int:
    """The pool that a node is part of; -1 where the node itself holds several pools."""
    while node >= 0 and not state.is_pool[node]:
        node = state.tree.parent[node]
    return int(node)


@compiled_inner
def pour(graph: MeshGraph, state: State, leaf: int, amount: float) -> tuple[float, bool]:
    """Pour ``amount`` [m³] in at a leaf. Returns what found no room, and whether any ran over."""
    tree, held, is_pool = state.tree, state.held, state.is_pool
    pool, ran_over = pool_of(state, leaf), False
    for _ in range(8 * len(held) + 8):
        room = state.capacity[pool] - held[pool]
        if amount <= room:
            held[pool] += amount
            return 0.0, ran_over
        held[pool] = state.capacity[pool]
        amount -= max(room, 0.0)
        above = tree.parent[pool]
        if above < 0:
            return amount, ran_over
        other = tree.left[above] if tree.right[above] == pool else tree.right[above]
        if is_pool[other] and held[other] >= state.capacity[other]:
            is_pool[pool] = is_pool[other] = False
            is_pool[above] = True
            held[above] = held[pool] + held[other]
            held[pool] = held[other] = 0.0
            pool = above
            continue
        ran_over = True
        target = other
        if tree.left[other] >= 0:
            target = leaf_below_vertex(graph, tree, state.grid, tree.birth[above], other)
        pool = pool_of(state, target)
    return amount, ran_over


@compiled_inner
def find_levels(state: State) -> None:
    """Write the level of every pool that holds liquid; of a dry one, its pit's height."""
    tree, faces = state.tree, state.faces
    for node in range(len(state.held)):
        if not state.is_pool[node]:
            continue
        low, above = tree.z[tree.birth[node]], tree.parent[node]
        if state.held[node] <= 0.0:
            state.level[node] = low
        elif above >= 0 and state.held[node] >= state.capacity[node]:
            state.level[node] = tree.z[tree.birth[above]]
        else:
            high = (
                tree.z[tree.birth[above]]
                if above >= 0
                else faces.z[faces.first[node] : faces.last[node], 2].max()
            )
            state.level[node] = level_in(faces, node, state.held[node], low, high)


@compiled_inner
def _brought_to(
    state: State, allowed: NDArray[np.bool_], tops: Ints, h: float, shares: Array
) -> tuple[float, float]:
    """Volume and area with all allowed pits filled to ``h``; writes each pit's node and its share.

    ``tops`` (M,) gets the node that each allowed leaf is part of at ``h``, -1 for the others.
    """
    tree = state.tree
    nodes = len(allowed)
    volume = area = 0.0
    shares[:] = 0.0
    for node in range(nodes - 1, -1, -1):
        above = tree.parent[node]
        tops[node] = -1
        if above >= 0 and tops[above] >= 0:
            tops[node] = tops[above]
            continue
        if not allowed[node] or not tree.z[tree.birth[node]] < h:
            continue
        tops[node] = node
        if above >= 0 and h >= tree.z[tree.birth[above]]:
            shares[node] = state.capacity[node]
            volume += shares[node]
        else:
            shares[node], surface = volume_in(state.faces, node, h)
            volume += shares[node]
            area += surface
    return volume, area


@compiled_inner
def common_level(state: State, leaves: NDArray[np.bool_], volume: float, shares: Array) -> float:
    """Share ``volume`` among the marked leaves so that their surfaces stand at one level.

    leaves : (M,) bool. Writes shares (M,) [m³], at the nodes that the leaves make up; pits that
    would spill to a leaf outside stay at the brim. Returns what the leaves cannot hold.
    """
    tree = state.tree
    nodes = len(leaves)
    allowed, tops = leaves.copy(), np.empty(nodes, np.int64)
    low, high = np.inf, state.faces.z.max() + 1e-9
    for node in range(nodes):
        if tree.left[node] >= 0:
            allowed[node] = allowed[tree.left[node]] and allowed[tree.right[node]]
        elif leaves[node]:
            low = min(low, tree.z[tree.birth[node]])
    most, _ = _brought_to(state, allowed, tops, high, shares)
    if volume >= most:
        return volume - most
    h = 0.5 * (low + high)
    for _ in range(200):
        found, area = _brought_to(state, allowed, tops, h, shares)
        gap = found - volume
        if abs(gap) <= 1e-14 * volume:
            break
        if gap > 0.0:
            high = h
        else:
            low = h
        trial = newton_step(h, low, high, gap, area)
        if trial in (low, high):
            break
        h = trial
    # the last digits go where the most is, so that nothing is lost
    shares[np.argmax(shares)] += volume - shares.sum()
    return 0.0


@compiled_inner
def pour_shares(graph: MeshGraph, state: State, shares: Array) -> tuple[float, bool]:
    """Pour shares (M,) [m³] in, each at its node. Returns as :func:`pour`."""
    left, ran_over = 0.0, False
    for node in range(len(shares)):
        if shares[node] > 0.0:
            rest, over = pour(graph, state, any_leaf(state.tree, node), shares[node])
            left += rest
            ran_over = ran_over or (over and state.tree.left[node] < 0)
    return left, ran_over


@compiled_inner
def lies_in(state: State, vertex: int) -> int:
    """The pool in whose liquid a vertex lies; -1 if it is dry."""
    pool = pool_of(state, state.tree.node[vertex])
    if pool >= 0 and state.held[pool] > 0.0 and state.tree.z[vertex] < state.level[pool]:
        return pool
    return -1
