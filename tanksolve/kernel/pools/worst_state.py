"""The worst that still liquid can stand at a port, whatever the machine did before.

Fix the up vector u; z(x) = u·x. The *pass* m(x -> p) is the least height that must be climbed to on
the way from x to p. In every state in which nothing can run any lower, a wet x outside p's own pool
has z(x) < m(x -> p): else it would have run to p. So all liquid lies in

    F(h) = volume { m(x -> p) <= h } + volume { m(x -> p) > h and z(x) < m(x -> p) }

with h the level over p: p's own pool filled to h, every other hollow filled to its brim. The least
level over p, over all such states, is the root of F(h) = V, and a port with the edge e is certainly
covered iff V >= F(e). The state with every other hollow brim-full is itself one in which nothing
runs, so this is exact. For a port that must stay dry, room(h) is the volume of the port's pool at h,
joined only through passes below h: it stays dry iff V <= room(e). Proof: docs/theory/worst_state.md.

The merge tree has the passes of the mesh; a link (flap, pipe) may be used one way, at the cost of
its sill: its in-mouth is then one more place that liquid may run to, at the height at which it
gets on from there to the port.
"""

from collections.abc import Callable

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.brims import (
    Faces,
    corner_below,
    flat_faces,
    joined_room,
    mouths,
    needed,
)
from tanksolve.kernel.pools.links import NO_LINKS, Links, where_any
from tanksolve.kernel.pools.pool_volume import newton_step
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.floors_below import floors_below
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["highest_at", "least_gap", "least_rise", "need", "rise_at", "room"]

_MOST_PASSES = 200


@compiled_inner
def rise_at(
    tree: MergeTree,
    faces: Faces,
    top: float,
    ends: Ints,
    sill: Array,
    places: Ints,
    edges: Array,
    volume: float,
    guess: float,
    exact: float,
) -> float:
    """How far above their edges the places take liquid when F is ``volume``: their least margin [m].

    Where even with dry places F is more: from the best edge down to the floor below it, negative.
    """
    low, high, floor = np.inf, -np.inf, -np.inf
    for p in range(len(places)):
        low = min(low, tree.z[places[p]] - edges[p])
        high = max(high, top - edges[p])
        floor = max(floor, tree.z[places[p]] - edges[p])
    if needed(tree, faces, top, ends, sill, places, edges, low)[0] >= volume:
        return floor
    at = guess if low < guess < high else 0.5 * (low + high)
    for _ in range(_MOST_PASSES):
        held, area = needed(tree, faces, top, ends, sill, places, edges, at)
        gap = held - volume
        if abs(gap) <= exact:
            return at
        if gap > 0.0:
            high = at
        else:
            low = at
        trial = newton_step(at, low, high, gap, area)
        if trial in (low, high):
            break
        at = trial
    return low


@compiled_inner
def highest_at(
    tree: MergeTree,
    faces: Faces,
    top: float,
    ends: Ints,
    sill: Array,
    start: int,
    volume: float,
    guess: float,
    exact: float,
) -> float:
    """Level at which room is ``volume``, or at which it jumps over it."""
    low, high = tree.z[start], top
    at = guess if low < guess < high else 0.5 * (low + high)
    for _ in range(_MOST_PASSES):
        held, area = joined_room(tree, faces, ends, sill, start, at)
        gap = held - volume
        if abs(gap) <= exact:
            return at
        if gap > 0.0:
            high = at
        else:
            low = at
        trial = newton_step(at, low, high, gap, area)
        if trial in (low, high):
            break
        at = trial
    return high


@compiled
def _wet_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links | None,
    up: Array,
    places: Array,
    edges: Array,
    volume: Array,
    guess: Array,
    out: Array,
) -> None:
    """F of all places together at their edges; with ``volume`` their rise at that volume instead."""
    top, exact = graph.size, 1e-15 * graph.capacity
    count = places.shape[1]
    at, edge = np.empty(count, np.int64), np.empty(count)
    for d in range(first, last):
        tree = grow_tree(graph, up[d], NEGLIGIBLE)
        grid = grid_for(up[d], graph.size)
        ends, sill = mouths(graph, tree, grid, links, up[d])
        faces = flat_faces(graph, tree, up[d])
        found = 0
        for p in range(count):
            v = corner_below(graph, tree, grid, places[d, p])[0]
            if v >= 0:
                at[found], edge[found] = v, edges[d, p]
                found += 1
        if found == 0:
            out[d] = np.nan
        elif len(volume):
            out[d] = rise_at(
                tree, faces, top, ends, sill, at[:found], edge[:found], volume[d], guess[d], exact
            )
        else:
            out[d] = needed(tree, faces, top, ends, sill, at[:found], edge[:found], 0.0)[0]


@compiled
def _dry_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links | None,
    up: Array,
    places: Array,
    edges: Array,
    volume: Array,
    guess: Array,
    swing: Array,
    spread: Array,
    out: Array,
) -> None:
    """Least room of the places below their edges; with ``volume`` the least gap up to them instead.

    swing : (D,), spread : (D, P) see :func:`least_gap`; swing is -1 for the attitude itself.
    """
    top, exact = graph.size, 1e-15 * graph.capacity
    for d in range(first, last):
        tree = grow_tree(graph, up[d], NEGLIGIBLE)
        grid = grid_for(up[d], graph.size)
        ends, sill = mouths(graph, tree, grid, links, up[d])
        faces = flat_faces(graph, tree, up[d])
        least, sure = np.inf, swing[d] >= 0.0
        for p in range(places.shape[1]):
            point = places[d, p]
            under, floor = drop_from_point(graph, grid, point)
            if under < 0:
                continue
            below, tops = np.full(1, under), np.full(1, floor)
            if sure and swing[d] + spread[d, p] > 0.0:
                below, tops = floors_below(
                    graph, tree, up[d], grid, point, under, spread[d, p], swing[d]
                )
            for k in range(len(below)):
                v = lowest_corner(graph.faces, tree.rank, below[k])
                over = floor if below[k] == under else tops[k]
                # a level floor is hit a rounding error below its own corners
                h = edges[d, p] if sure else max(edges[d, p], floor, tree.z[v])
                if len(volume):
                    level = highest_at(tree, faces, top, ends, sill, v, volume[d], guess[d], exact)
                    least = min(least, h - max(level, over) if sure else h - level)
                elif sure and over >= h:
                    least = 0.0
                else:
                    least = min(least, joined_room(tree, faces, ends, sill, v, h)[0])
        out[d] = least if least < np.inf else np.nan


_NONE_GIVEN = np.empty(0)


def need(
    graph: MeshGraph, up: ArrayLike, places: ArrayLike, edges: ArrayLike, links: Links = NO_LINKS
) -> Array:
    """Least fill (D,) [m³] with which liquid certainly stands at one of the edges, however it got there.

    up : (D, 3) float [-]   unit vectors opposite to gravity, tank frame.
    places : (P, 3) or (D, P, 3) float [m]   a place in the liquid of each port of which one suffices.
    edges : (D, P) float [m]   ``up · x`` of what must be covered; links : flaps and pipes.
    Returns F (D,); NaN where no place is in the tank. An edge above the tank's top is never reached,
    and F is then what the tank holds.
    """
    return _solved(_wet_rows, graph, links, up, places, edges)


def room(
    graph: MeshGraph,
    up: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    links: Links = NO_LINKS,
    *,
    sure: bool = False,
) -> Array:
    """Most fill (D,) [m³] with which liquid certainly stays at or below the edges, however it got there.

    places : (P, 3) or (D, P, 3) float [m]   points of one opening; edges : (D, P) float [m], raised to
        the wall straight below a place where they lie below it.
    sure : give no room where the wall straight below a place is not below its edge.
    Returns the least room (D,) of the places; NaN where none is in the tank. See :func:`need`.
    """
    return _solved(_dry_rows, graph, links, up, places, edges, swing=0.0 if sure else -1.0)


def least_rise(
    graph: MeshGraph,
    up: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    volume: ArrayLike,
    guess: ArrayLike,
    links: Links = NO_LINKS,
) -> Array:
    """How far (D,) [m] ``volume`` (D,) [m³] certainly stands above one of the edges; negative below.

    guess : (D,) [m]   where to begin, such as the margin by one level. Others as for :func:`need`.
    Over a place that can be dry it is told down to the lowest corner of the wall below it.
    """
    return _solved(_wet_rows, graph, links, up, places, edges, volume, guess)


def least_gap(
    graph: MeshGraph,
    up: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    volume: ArrayLike,
    guess: ArrayLike,
    links: Links = NO_LINKS,
    *,
    swing: ArrayLike | None = None,
    spread: ArrayLike = 0.0,
) -> Array:
    """How far (D,) [m] ``volume`` (D,) [m³] certainly stays below the edges; negative above.

    guess : (D,) [m]   the level to begin with, ``up · x``. Others as for :func:`room`.
    swing : (D,) tangent of how far the vertical turns in a cell of attitudes about each, and how far
    spread : (D, P) [m] the places move in it. Every floor that may then lie straight below a place counts,
        and only the gap over it: less the slack of all heights in the cell, the result holds all over it.
    """
    shift = np.atleast_2d(np.asarray(up, np.float64)) @ graph.origin
    return _solved(
        _dry_rows, graph, links, up, places, edges, volume, np.asarray(guess) - shift,
        swing=-1.0 if swing is None else swing, spread=spread,
    )  # fmt: skip


def _solved(
    loop: Callable[..., None],
    graph: MeshGraph,
    links: Links,
    up: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    volume: ArrayLike | None = None,
    guess: ArrayLike = 0.0,
    *,
    swing: ArrayLike | None = None,
    spread: ArrayLike = 0.0,
) -> Array:
    """Hand a batch to a loop: everything from the mesh's own origin, one row an attitude."""
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    at = np.asarray(places, np.float64) - graph.origin
    at = np.array(np.broadcast_to(at, (len(ups), *at.shape[-2:])), order="C")
    height = np.asarray(edges, np.float64) - (ups @ graph.origin)[:, None]
    height = np.array(np.broadcast_to(height, at.shape[:2]), order="C")
    held, start = _NONE_GIVEN, _NONE_GIVEN
    if volume is not None:
        held = np.array(np.broadcast_to(np.asarray(volume, np.float64), len(ups)), order="C")
        start = np.array(np.broadcast_to(np.asarray(guess, np.float64), len(ups)), order="C")
    out = np.empty(len(ups))
    near = where_any(links, graph.origin)
    rows = [graph, near, ups, at, height, held, start]
    if swing is not None:
        for given, shape in ((swing, height.shape[:1]), (spread, height.shape)):
            rows.append(np.array(np.broadcast_to(np.asarray(given, np.float64), shape), order="C"))
    in_threads(loop, len(out), *rows, out)
    return out
