"""Liquid that runs through links: pools that rise together, and pools that drain into others.

A link is open while the liquid before it stands above its sill and higher than behind it. Pools
joined by links at one level rise as one; poured into the pool behind a one-way link, liquid lifts
that pool alone. docs/theory/links.md has the rules and what they are tested on.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.pools.descent import is_within, leaf_below_vertex
from tanksolve.kernel.pools.fill_spill import State, pool_of
from tanksolve.kernel.pools.pool_volume import newton_step, volume_in
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["above_height", "pour_linked", "run_links"]

_SAME = 1e-12  # of the tank's size: levels closer than this are one level


@compiled_inner
def _saddle(state: State, pool: int) -> float:
    """Height at which a pool spills; infinite where it has no neighbour."""
    above = state.tree.parent[pool]
    return float(state.tree.z[state.tree.birth[above]]) if above >= 0 else np.inf


@compiled_inner
def _is_full(state: State, pool: int) -> bool:
    """Whether a pool without neighbours is full to the roof."""
    return bool(state.tree.parent[pool] < 0 and state.held[pool] >= state.capacity[pool])


@compiled_inner
def _mark_group(state: State, start: int, same: float, group: Bools) -> None:
    """Mark the pools that rise with ``start``: those that links lead to at its own level."""
    group[:] = False
    group[start] = True
    level, grown = state.level[start] + same, True
    while grown:
        grown = False
        for k in range(len(state.sill)):
            near, far = pool_of(state, state.leaf_from[k]), pool_of(state, state.leaf_to[k])
            if not group[near] or group[far] or state.sill[k] > level:
                continue
            gap = state.level[far] - state.level[start]
            if abs(gap) <= same or (gap < 0.0 and _is_full(state, far)):
                group[far] = grown = True


@compiled_inner
def _next_event(
    graph: MeshGraph, state: State, start: int, same: float, group: Bools
) -> tuple[int, float]:
    """What stops the group from rising: (-1, the height where it has to be looked at anew), or
    (the leaf that it runs over into, its level), or (-2, .) where two brimming pools were merged.
    """
    tree, level, top = state.tree, state.level[start], np.inf
    for pool in range(len(group)):
        if not group[pool] or tree.parent[pool] < 0:
            continue
        if state.held[pool] < state.capacity[pool]:
            top = min(top, _saddle(state, pool))
            continue
        above = tree.parent[pool]
        other = tree.left[above] if tree.right[above] == pool else tree.right[above]
        if state.is_pool[other] and state.held[other] >= state.capacity[other]:
            state.is_pool[pool] = state.is_pool[other] = False
            state.is_pool[above] = True
            state.held[above] = state.held[pool] + state.held[other]
            state.held[pool] = state.held[other] = 0.0
            state.level[above] = tree.z[tree.birth[above]]
            return -2, level
        target = other
        if tree.left[other] >= 0:
            target = leaf_below_vertex(graph, tree, state.grid, tree.birth[above], other)
        if not group[pool_of(state, target)]:
            return int(target), level
        top = min(top, _saddle(state, pool))  # a hair below its brim, by rounding
    for k in range(len(state.sill)):
        near, far = pool_of(state, state.leaf_from[k]), pool_of(state, state.leaf_to[k])
        if not group[near] or group[far]:
            continue
        if state.sill[k] > level + same:
            top = min(top, max(state.sill[k], state.level[far]))
        elif state.level[far] > level:
            top = min(top, state.level[far])
        else:
            return int(state.leaf_to[k]), level
    return -1, top


@compiled_inner
def _held_at(state: State, group: Bools, h: float, shares: Array) -> tuple[float, float]:
    """Volume and free surface of the group filled to ``h``; writes each pool's share."""
    volume = area = 0.0
    for pool in range(len(group)):
        if not group[pool]:
            continue
        if h >= _saddle(state, pool):
            shares[pool] = state.capacity[pool]
        else:
            shares[pool], surface = volume_in(state.faces, pool, h)
            area += surface
            if state.tree.parent[pool] < 0:
                shares[pool] = min(shares[pool], state.capacity[pool])
        volume += shares[pool]
    return volume, area


@compiled_inner
def _settle_group(state: State, group: Bools, h: float, shares: Array) -> None:
    """Write the shares and the level ``h`` (of a body filled up, its roof's height)."""
    for pool in range(len(group)):
        if group[pool]:
            state.held[pool] = shares[pool]
            state.level[pool] = h
            if _is_full(state, pool):
                first, last = state.faces.first[pool], state.faces.last[pool]
                state.level[pool] = min(h, state.faces.z[first:last, 2].max())


@compiled_inner
def _lift(
    state: State, group: Bools, low: float, top: float, amount: float, shares: Array
) -> float:
    """Raise the group by ``amount`` [m³], to ``top`` at most; returns what is left over."""
    before = most = 0.0
    for pool in range(len(group)):
        if group[pool]:
            before += state.held[pool]
            most = max(
                most, state.faces.z[state.faces.first[pool] : state.faces.last[pool], 2].max()
            )
    high = min(top, max(most, low) + 1e-9)
    full, _ = _held_at(state, group, high, shares)
    if amount >= full - before:
        _settle_group(state, group, high, shares)
        return amount - (full - before)
    wanted, h = before + amount, 0.5 * (low + high)
    for _ in range(200):
        found, area = _held_at(state, group, h, shares)
        gap = found - wanted
        if abs(gap) <= 1e-15 * wanted:
            break
        if gap > 0.0:
            high = h
        else:
            low = h
        trial = newton_step(h, low, high, gap, area)
        if trial in (low, high) or trial == h:
            break
        h = trial
    # the last digits go where the most is, so that nothing is lost
    largest, total = -1, 0.0
    for pool in range(len(group)):
        if group[pool]:
            total += shares[pool]
            if largest < 0 or shares[pool] > shares[largest]:
                largest = pool
    shares[largest] += wanted - total
    _settle_group(state, group, h, shares)
    return 0.0


@compiled_inner
def pour_linked(graph: MeshGraph, state: State, leaf: int, amount: float) -> float:
    """Pour ``amount`` [m³] in at a leaf of a state with links and levels; returns what found no room."""
    same = _SAME * graph.size
    nodes = len(state.held)
    group, shares = np.empty(nodes, np.bool_), np.zeros(nodes)
    stalled = 0
    while amount > 0.0 and stalled <= nodes + len(state.sill):
        start, fence, onward, height = pool_of(state, leaf), np.inf, 0, 0.0
        for _ in range(nodes + 1):
            _mark_group(state, start, same, group)
            onward, height = _next_event(graph, state, start, same, group)
            if onward < 0:
                break
            fence = min(fence, height)  # filled so far, what it runs into joins in or brims too
            start = pool_of(state, onward)
        left = amount
        if onward == -1:
            top = min(height, fence)
            left = _lift(state, group, state.level[start], top, amount, shares)
        stalled = stalled + 1 if left == amount else 0
        amount = left
    return amount


@compiled_inner
def above_height(state: State, leaf: int, height: float) -> float:
    """What of a leaf's pool runs off [m³] when it is let out down to ``height``."""
    tree, pool = state.tree, pool_of(state, leaf)
    held, runs = state.held[pool], 0.0
    while tree.left[pool] >= 0 and tree.z[tree.birth[pool]] >= height:
        left, right = tree.left[pool], tree.right[pool]
        runs += held - state.capacity[left] - state.capacity[right]
        pool = left if is_within(tree, leaf, left) else right
        held = state.capacity[pool]
    return float(runs + held - min(held, volume_in(state.faces, pool, height)[0]))


@compiled_inner
def _let_out(state: State, leaf: int, height: float) -> float:
    """Let a leaf's pool down to ``height`` and return what came out [m³].

    Where it falls apart on the way, what stands behind the saddles stays there, at the brim.
    """
    tree, pool, taken = state.tree, pool_of(state, leaf), 0.0
    while tree.left[pool] >= 0 and tree.z[tree.birth[pool]] >= height:
        left, right = tree.left[pool], tree.right[pool]
        taken += state.held[pool] - state.capacity[left] - state.capacity[right]
        state.held[pool], state.is_pool[pool] = 0.0, False
        for part in (left, right):
            state.held[part], state.is_pool[part] = state.capacity[part], True
            state.level[part] = tree.z[tree.birth[pool]]
        pool = left if is_within(tree, leaf, left) else right
    stays = min(state.held[pool], volume_in(state.faces, pool, height)[0])
    taken += state.held[pool] - stays
    state.held[pool], state.level[pool] = stays, height
    if taken < 0.0:  # rounding
        state.held[pool] += taken
        return 0.0
    return float(taken)


@compiled_inner
def _stop_of(state: State, link: int, same: float, through: Bools) -> float:
    """How far the pool before a link falls through it; infinite where the link is not open.

    A full body behind it is gone through: it passes on what is pushed into it.
    """
    top = state.level[pool_of(state, state.leaf_from[link])] - same
    through[:] = False
    lowest, first, grown = np.inf, True, True
    while grown:
        grown = False
        for k in range(len(state.sill)):
            near, far = pool_of(state, state.leaf_from[k]), pool_of(state, state.leaf_to[k])
            stop = max(state.sill[k], state.level[far])
            if stop >= top or through[far] or not (k == link if first else through[near]):
                continue
            if _is_full(state, far):
                through[far] = grown = True
            else:
                lowest = min(lowest, stop)
        first = False
    return lowest


@compiled_inner
def _open_link(state: State, same: float) -> tuple[int, float]:
    """Of the lowest pool with an open link, the link that lets it fall the lowest, and how far.

    The link is -1 where none is open.
    """
    through = np.empty(len(state.held), np.bool_)
    found, level, height = -1, np.inf, np.inf
    for k in range(len(state.sill)):
        own = state.level[pool_of(state, state.leaf_from[k])]
        if own > level:
            continue
        stop = _stop_of(state, k, same, through)
        if stop < np.inf and (own < level or stop < height):
            found, level, height = k, own, stop
    return found, height


@compiled_inner
def run_links(graph: MeshGraph, state: State) -> tuple[float, float]:
    """Let liquid run through all open links until none is open; levels must be known.

    A pool with an open link is let down to where its lowest open link stops, and what came out is
    poured back into it: so all that it feeds rises together, as it would were it filled slowly.
    Returns what was let out in all and what found no room [m³].
    """
    same, moved, left = _SAME * graph.size, 0.0, 0.0
    for _ in range(64 * len(state.sill)):
        link, height = _open_link(state, same)
        if link < 0:
            break
        leaf = state.leaf_from[link]
        taken = _let_out(state, leaf, height)
        moved += taken
        left += pour_linked(graph, state, leaf, taken)
    return moved, left
