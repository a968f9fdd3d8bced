"""Liquid from one attitude to the next, in steps that are halved where pools part, meet or spill."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.pools.descent import any_leaf, leaf_below_vertex
from tanksolve.kernel.pools.fill_spill import (
    State,
    common_level,
    empty_state,
    find_levels,
    lies_in,
    pour,
    pour_shares,
)
from tanksolve.kernel.pools.linked import run_links
from tanksolve.kernel.pools.links import Links
from tanksolve.kernel.topology.drop_ray import NONE
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]

__all__ = ["FULL", "LOST", "carry", "is_lost", "travel"]

_SMALLEST_STEP = 1e-7  # rad
_UNMOVED = 1e-12  # of the liquid: less through a link is rounding
LOST, FULL = 1, 2  # what went wrong: a drop fell out of the mesh; liquid found no room


@compiled_inner
def carry(graph: MeshGraph, old: State, new: State) -> tuple[float, bool]:
    """Move the liquid of ``old`` into the dry ``new``, a small turn further.

    Links are shut meanwhile; at the new attitude liquid runs through those that are open. Returns
    what found no room, and whether pools parted, met, spilled or ran through a link on the way.
    """
    nodes = len(new.held)
    pools = 0
    number = np.full(len(old.held), -1, np.int64)
    for node in range(len(old.held)):
        if old.is_pool[node] and old.held[node] > 0.0:
            number[node] = pools
            pools += 1
    goes_to = np.zeros((pools, nodes), np.bool_)
    for leaf in range(nodes):
        if new.tree.left[leaf] < 0:
            pool = lies_in(old, new.tree.birth[leaf])
            if pool >= 0:
                goes_to[number[pool], leaf] = True
    for leaf in range(len(old.held)):
        if old.tree.left[leaf] < 0:
            pool = lies_in(old, old.tree.birth[leaf])
            if pool >= 0:
                found = leaf_below_vertex(graph, new.tree, new.grid, old.tree.birth[leaf], NONE)
                goes_to[number[pool], found] = True
    shares, left, event = np.empty(nodes), 0.0, False
    for node in range(len(old.held)):
        if number[node] < 0:
            continue
        marked = goes_to[number[node]]
        over = common_level(new, marked, old.held[node], shares)
        rest, ran_over = pour_shares(graph, new, shares)
        left += rest
        if over > 0.0:
            rest, _ = pour(graph, new, any_leaf(new.tree, int(np.argmax(marked))), over)
            left += rest
            ran_over = True
        event = event or ran_over
    find_levels(new)
    if len(new.sill) and not is_lost(new):
        moved, rest = run_links(graph, new)
        left += rest
        event = event or moved > _UNMOVED * old.held.sum()
    after = 0
    for node in range(nodes):
        if new.is_pool[node] and new.held[node] > 0.0:
            after += 1
    return left, event or after != pools


@compiled_inner
def is_lost(state: State) -> bool:
    """Whether a drop fell out of the mesh: a fault of the mesh, or a link's mouth outside of it."""
    for k in range(len(state.sill)):
        if state.leaf_from[k] < 0 or state.leaf_to[k] < 0:
            return True
    return bool(state.tree.lost > 0)


@compiled_inner
def _between(a: Array, b: Array, share: float) -> Array:
    """The unit vector ``share`` of the way from a to b along their great circle."""
    cross = np.array(
        [a[1] * b[2] - a[2] * b[1], a[2] * b[0] - a[0] * b[2], a[0] * b[1] - a[1] * b[0]]
    )
    sine = np.sqrt((cross * cross).sum())
    angle = np.arctan2(sine, (a * b).sum())
    if sine < 1e-15:
        return b.copy()
    c: Array = (np.sin((1.0 - share) * angle) * a + np.sin(share * angle) * b) / sine
    return c


@compiled_inner
def _moved(one: Array, other: Array) -> float:
    """Half the sum of differences between two fillings (M,) of one tree: the volume out of place."""
    total = 0.0
    for node in range(len(one)):
        total += abs(one[node] - other[node])
    return 0.5 * total


@compiled_inner
def _dry_copy(state: State) -> State:
    """The same tree without liquid."""
    is_pool = np.empty(len(state.held), np.bool_)
    level = state.level.copy()
    for node in range(len(is_pool)):
        is_pool[node] = state.tree.left[node] < 0
        level[node] = state.tree.z[state.tree.pit[node]]
    return State(
        state.tree,
        state.faces,
        state.grid,
        state.capacity,
        np.zeros(len(state.held)),
        level,
        is_pool,
        state.sill,
        state.leaf_from,
        state.leaf_to,
    )


@compiled_inner
def travel(
    graph: MeshGraph,
    links: Links,
    state: State,
    a: Array,
    b: Array,
    negligible: float,
    step: float,
    tolerance: float,
    total: float,
) -> tuple[State, int, int]:
    """Carry the liquid along the great circle from a to b; returns state, attitudes, fault."""
    angle = 2.0 * np.arcsin(min(0.5 * np.sqrt(((a - b) ** 2).sum()), 1.0))
    attitudes, done = 0, 0.0
    size = 1.0 / max(np.ceil(angle / step), 1.0)
    widest, smallest = size, _SMALLEST_STEP / max(angle, _SMALLEST_STEP)
    target, known = 1.0, False
    trial, event, left = state, False, 0.0
    while done < 1.0 - 1e-12:
        if not known:
            target = min(done + size, 1.0)
            trial = empty_state(graph, links, _between(a, b, target), negligible)
            attitudes += 1
            left, event = carry(graph, state, trial)
        known = False
        if event and size > smallest:
            middle = empty_state(graph, links, _between(a, b, 0.5 * (done + target)), negligible)
            attitudes += 1
            half_left, half_event = carry(graph, state, middle)
            finer = _dry_copy(trial)
            left, _ = carry(graph, middle, finer)
            if _moved(trial.held, finer.held) > tolerance * total:
                trial, event, left = middle, half_event, half_left
                target, size, known = 0.5 * (done + target), 0.5 * size, True
                continue
            trial = finer
        if is_lost(trial):
            return trial, attitudes, LOST
        if left > 1e-9 * total:
            return trial, attitudes, FULL
        state, done, size = trial, target, min(2.0 * size, widest)
    return state, attitudes, 0
