"""Liquid carried along a path of attitudes: what each pool holds after the machine has tilted.

Between two attitudes a pool goes on in the pits that lie in it and in those that its old pits
drain to; where it covers several, it stands at one level in them. What no longer fits spills on.
The state depends on the path: tilt out and back, and some liquid stays on the wrong side. A step
in which pools part, meet or spill is halved until the answer stands still; docs/theory/settle.md.
"""

from concurrent.futures import ThreadPoolExecutor
from typing import Any, NamedTuple

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.carry import FULL, LOST, is_lost, travel
from tanksolve.kernel.pools.descent import leaf_below_point
from tanksolve.kernel.pools.fill_spill import (
    State,
    common_level,
    empty_state,
    find_levels,
    pool_of,
    pour,
    pour_shares,
)
from tanksolve.kernel.pools.linked import above_height, pour_linked
from tanksolve.kernel.pools.links import NO_LINKS, Links, shifted
from tanksolve.kernel.pools.pool_volume import volume_in
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["MAX_STEP", "TOLERANCE", "Settled", "settle"]

MAX_STEP = 0.05  # rad, about 3 degrees
TOLERANCE = 1e-6  # of the liquid: how far halving a step may still move it


class Settled(NamedTuple):
    """Liquid at rest at P points of each of H paths; pools padded with -1 and NaN.

    Attributes
    ----------
    number : (H, P) int   pools with liquid.
    pit : (H, P, K) int   lowest vertex of each pool, an index into the mesh's vertices.
    volume : (H, P, K) float [m³]
    level : (H, P, K) float [m]   ``up · x`` of the free surface, tank frame.
    area : (H, P, K) float [m²]   free surface.
    port_pool : (H, P, Q) int   the pool that each port stands in or over; -1: over a dry pit.
    port_level : (H, P, Q) float [m]   its level; over a dry pit, that pit's height.
    attitudes : (H,) int   attitudes settled on the way.
    link_sill : (H, P, L) float [m]   ``up · x`` that liquid must stand above to get through each link.
    link_pool : (H, P, L, 2) int   the pool that each link leads from, and to; -1: dry.
    link_drains : (H, P, L) float [m³]   what of the pool that it leads from stands above its sill.
    """

    number: Ints
    pit: Ints
    volume: Array
    level: Array
    area: Array
    port_pool: Ints
    port_level: Array
    attitudes: Ints
    link_sill: Array
    link_pool: Ints
    link_drains: Array


@compiled_inner
def _start(
    graph: MeshGraph,
    links: Links,
    up: Array,
    volume: float,
    points: Array,
    amounts: Array,
    negligible: float,
) -> tuple[State, int]:
    """Fill the tank: ``amounts`` poured at ``points``, or all pits to one level if there are none."""
    state = empty_state(graph, links, up, negligible)
    if is_lost(state):
        return state, LOST
    left = 0.0
    if len(points) == 0:
        leaves = state.tree.left < 0
        shares = np.empty(len(leaves))
        left = common_level(state, leaves, volume, shares)
        rest, _ = pour_shares(graph, state, shares)
        left += rest
    for p in range(len(points)):
        leaf = leaf_below_point(graph, state.tree, state.grid, points[p])
        if leaf < 0:
            return state, LOST
        if len(state.sill):
            rest = pour_linked(graph, state, leaf, amounts[p] * volume)
        else:
            rest, _ = pour(graph, state, leaf, amounts[p] * volume)
        left += rest
    find_levels(state)
    return state, (FULL if left > 1e-9 * volume else 0)


@compiled_inner
def _report(
    graph: MeshGraph,
    state: State,
    ports: Array,
    pit: Ints,
    volume: Array,
    level: Array,
    area: Array,
    port_pool: Ints,
    port_level: Array,
    link_sill: Array,
    link_pool: Ints,
    link_drains: Array,
) -> int:
    """Write the pools, the ports' and the links'; returns how many pools there are."""
    most, count = len(pit), 0
    number = np.full(len(state.held), -1, np.int64)
    for node in range(len(state.held)):
        if state.is_pool[node] and state.held[node] > 0.0:
            number[node] = count
            if count < most:
                pit[count] = graph.source[state.tree.pit[node]]
                volume[count], level[count] = state.held[node], state.level[node]
                area[count] = volume_in(state.faces, node, state.level[node])[1]
            count += 1
    for q in range(len(ports)):
        leaf = leaf_below_point(graph, state.tree, state.grid, ports[q])
        if leaf >= 0:
            pool = pool_of(state, leaf)
            port_pool[q], port_level[q] = number[pool], state.level[pool]
    for k in range(len(state.sill)):
        link_sill[k] = state.sill[k]
        link_pool[k, 0] = number[pool_of(state, state.leaf_from[k])]
        link_pool[k, 1] = number[pool_of(state, state.leaf_to[k])]
        link_drains[k] = above_height(state, state.leaf_from[k], state.sill[k])
    return count


@compiled
def _settle_line(
    graph: MeshGraph,
    links: Links,
    path: Array,
    volume: float,
    points: Array,
    amounts: Array,
    ports: Array,
    negligible: float,
    step: float,
    tolerance: float,
    most: int,
) -> tuple[Ints, Ints, Array, Array, Array, Ints, Array, Array, Ints, Array, int, int]:
    """One path: all of :class:`Settled` but relative to the origin, and what went wrong."""
    stops = len(path)
    number = np.zeros(stops, np.int64)
    pit = np.full((stops, most), -1, np.int64)
    held, level = np.full((stops, most), np.nan), np.full((stops, most), np.nan)
    area = np.full((stops, most), np.nan)
    port_pool = np.full((stops, len(ports)), -1, np.int64)
    port_level = np.full((stops, len(ports)), np.nan)
    count = len(links.first_station) - 1
    link_sill, link_drains = np.full((stops, count), np.nan), np.zeros((stops, count))
    link_pool = np.full((stops, count, 2), -1, np.int64)
    attitudes = 1
    state, wrong = _start(graph, links, path[0], volume, points, amounts, negligible)
    for stop in range(stops):
        if stop > 0:
            state, visited, wrong = travel(
                graph, links, state, path[stop - 1], path[stop], negligible, step, tolerance, volume
            )
            attitudes += visited
        if wrong != 0:
            break
        number[stop] = _report(
            graph,
            state,
            ports,
            pit[stop],
            held[stop],
            level[stop],
            area[stop],
            port_pool[stop],
            port_level[stop],
            link_sill[stop],
            link_pool[stop],
            link_drains[stop],
        )
    pools, ports_ = (number, pit, held, level, area), (port_pool, port_level)
    return (*pools, *ports_, link_sill, link_pool, link_drains, attitudes, wrong)


def _settle(
    graph: MeshGraph, links: Links, paths: Array, volumes: Array, *rest: Any
) -> tuple[Any, ...]:
    """All paths, in threads: the compiled line lets go of Python's lock."""
    lines = zip(paths, volumes, strict=True)
    if len(paths) == 1:
        found = [_settle_line(graph, links, path, float(volume), *rest) for path, volume in lines]
    else:
        with ThreadPoolExecutor(numba.get_num_threads()) as threads:
            found = list(
                threads.map(
                    lambda line: _settle_line(graph, links, line[0], float(line[1]), *rest), lines
                )
            )
    return tuple(np.stack(column) for column in zip(*found, strict=True))


def settle(
    graph: MeshGraph,
    paths: ArrayLike,
    volume: ArrayLike,
    ports: ArrayLike = (),
    *,
    links: Links = NO_LINKS,
    poured_at: ArrayLike = (),
    poured: ArrayLike | None = None,
    negligible: float = NEGLIGIBLE,
    max_step: float = MAX_STEP,
    tolerance: float = TOLERANCE,
) -> Settled:
    """Carry liquid along H paths of P up vectors and tell where it stands at each of them.

    paths : (H, P, 3) or (P, 3) float [-]   unit vectors, tank frame; great circles between them
    volume : scalar or (H,) float [m³]
    ports : (Q, 3) float [m]   points in the liquid space or on its wall, tank frame
    links : flaps and pipes, tank frame; they are shut while the machine turns by a step, and liquid runs
        through those that are open before the next.
    poured_at : (S, 3) float [m]   where the liquid was poured in at each path's first point; none:
        all bays stand at one level there
    poured : (S,) float   shares of ``volume``, summing to 1; None: equal shares
    max_step : [rad] longest step; tolerance : share of ``volume`` that halving a step may move.

    Raises ValueError for a volume that does not fit, a point outside the tank, a faulty mesh.
    """
    paths = np.asarray(paths, np.float64)
    paths = np.ascontiguousarray(paths[None] if paths.ndim == 2 else paths)
    if paths.ndim != 3 or paths.shape[2] != 3:
        raise ValueError(f"paths must be (H, P, 3), not {paths.shape}")
    volumes = np.array(np.broadcast_to(np.asarray(volume, np.float64), len(paths)), order="C")
    if np.any(~(volumes > 0.0)) or np.any(volumes > graph.capacity * (1.0 + 1e-12)):
        raise ValueError(f"a volume is not between 0 and the capacity, {graph.capacity} m³")
    volumes = np.minimum(volumes, graph.capacity)  # its last digit depends on the order of sums
    points = np.ascontiguousarray(np.asarray(poured_at, np.float64).reshape(-1, 3) - graph.origin)
    shares = np.ones(len(points)) / max(len(points), 1) if poured is None else np.asarray(poured)
    if len(points) and (len(shares) != len(points) or abs(shares.sum() - 1.0) > 1e-12):
        raise ValueError("poured must be one share for each point, and sum to 1")
    at = np.ascontiguousarray(np.asarray(ports, np.float64).reshape(-1, 3) - graph.origin)
    near = shifted(links, graph.origin)
    most = 8
    while True:
        found = _settle(
            graph, near, paths, volumes, points, shares, at, negligible, max_step, tolerance, most
        )
        _refuse(found[-1])
        widest = int(found[0].max(initial=1))
        if widest <= most:
            break
        most = widest
    number, pit, held, level, area, port_pool, port_level, sill, link_pool, drains = found[:10]
    shift = paths @ graph.origin
    return Settled(
        number,
        pit[..., :widest],
        held[..., :widest],
        level[..., :widest] + shift[..., None],
        area[..., :widest],
        port_pool,
        port_level + shift[..., None],
        found[10],
        sill + shift[..., None],
        link_pool,
        drains,
    )


def _refuse(fault: Ints) -> None:
    if np.any(fault == LOST):
        raise ValueError("a drop falls out of the mesh: it is not closed, or a point lies outside")
    if np.any(fault == FULL):
        raise ValueError("the liquid does not fit into the bodies that it was poured into")
