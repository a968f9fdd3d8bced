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

from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_share
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.links import NO_LINKS, Links, mouth_below, shifted, sill_height
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import NONE, Grid, drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["least_gap", "least_rise", "need", "room"]

_MOST_PASSES = 200


@compiled_inner
def _below(graph: MeshGraph, tree: MergeTree, grid: Grid, point: Array) -> tuple[int, float]:
    """Lowest corner of the face straight below a point (3,), and where that is hit; -1 outside."""
    face, height = drop_from_point(graph, grid, point)
    return (lowest_corner(graph.faces, tree.rank, face) if face >= 0 else NONE), height


@compiled_inner
def _mouths(
    graph: MeshGraph, tree: MergeTree, grid: Grid, links: Links, up: Array
) -> tuple[Ints, Array]:
    """Vertices (K, 2) below where each link lets in and out, -1 for one that is left out; sills (K,).

    Leaving a link out leaves more states possible, so it is safe.
    """
    count = len(links.first_station) - 1
    ends, sill = np.full((count, 2), NONE, np.int64), np.empty(count)
    for k in range(count):
        sill[k] = sill_height(links, k, up)
        for end in range(2):
            station = links.first_station[k + end] - end
            ends[k, end] = _below(graph, tree, grid, mouth_below(links, station, up))[0]
        if ends[k].min() < 0:
            ends[k] = NONE
    return ends, sill


@compiled_inner
def _reach(tree: MergeTree, at: Ints, cost: Array, inside: Array, outside: Array) -> None:
    """Least height for liquid to get from each node (M,) to one of the places that take it.

    at : (S,) vertices of the places, -1 for none; cost : (S,) [m]   height from which a place takes.
    inside : written, least cost of the places within the node, ``inf`` where there is none.
    outside : written, the same of the places that are reached over the node's own saddle.
    A vertex x of node n gets there at ``min(outside[n], max(z(x), inside[n]))``.
    """
    nodes = len(tree.birth)
    inside[:] = np.inf
    for s in range(len(at)):
        if at[s] >= 0:
            node = tree.node[at[s]]
            inside[node] = min(inside[node], max(cost[s], tree.z[at[s]]))
    own = inside.copy()
    for node in range(nodes):  # children come before parents
        above = tree.parent[node]
        if above >= 0:
            inside[above] = min(inside[above], inside[node])
    for node in range(nodes - 1, -1, -1):
        above = tree.parent[node]
        if above < 0:
            outside[node] = np.inf
            continue
        left = tree.left[above]
        beside = inside[tree.right[above] if left == node else left]
        over = max(tree.z[tree.birth[above]], min(beside, own[above]))
        outside[node] = min(outside[above], over)


@compiled_inner
def _through_links(
    tree: MergeTree, ends: Ints, sill: Array, at: Ints, cost: Array, inside: Array, outside: Array
) -> None:
    """As ``_reach``, with the in-mouths of links among the places: the last of ``at``, ``cost``.

    A mouth takes liquid from the sill, or from the height at which it gets on from the out-mouth.
    Costs fall from ``inf`` until none does: at most one round a link.
    """
    first = len(at) - len(sill)
    for k in range(len(sill)):
        at[first + k], cost[first + k] = NONE, np.inf
    _reach(tree, at, cost, inside, outside)
    for _ in range(len(sill)):
        fell = False
        for k in range(len(sill)):
            if ends[k, 0] < 0:
                continue
            v = ends[k, 1]
            node = tree.node[v]
            on = max(sill[k], min(outside[node], max(tree.z[v], inside[node])))
            if on < cost[first + k]:
                at[first + k], cost[first + k], fell = ends[k, 0], on, True
        if not fell:
            break
        _reach(tree, at, cost, inside, outside)


@compiled_inner
def _flat_faces(graph: MeshGraph, tree: MergeTree, up: Array) -> tuple[Array, Array, Ints, int]:
    """Corner heights (F, 3) lowest first, flow (F,) [m²] and node (F,) of the faces that are not upright.

    Flow is minus the outward area along up: positive with liquid above the face.
    """
    count = len(graph.faces)
    z, flow, node = np.empty((count, 3)), np.empty(count), np.empty(count, np.int64)
    put = 0
    for face in range(count):
        a = graph.areas[face]
        flow[put] = -(up[0] * a[0] + up[1] * a[1] + up[2] * a[2])
        if flow[put] == 0.0:
            continue
        i, j, k = graph.faces[face]
        z[put, 0], z[put, 1], z[put, 2] = three_sorted(tree.z[i], tree.z[j], tree.z[k])
        node[put] = tree.node[lowest_corner(graph.faces, tree.rank, face)]
        put += 1
    return z, flow, node, put


@compiled_inner
def _held_back(
    faces: tuple[Array, Array, Ints, int], top: float, inside: Array, outside: Array, taken: float
) -> tuple[float, float]:
    """F [m³] for what ``_reach`` found, and the free surface [m²] of what stands at ``taken`` in it."""
    z, flow, node, count = faces
    volume = area = 0.0
    for f in range(count):
        z0 = z[f, 0]
        brim = min(outside[node[f]], max(z0, inside[node[f]]))
        if brim > z0:
            volume += flow[f] * phi(min(brim, top), z0, z[f, 1], z[f, 2])
            if brim == taken:
                area += flow[f] * wet_share(brim, z0, z[f, 1], z[f, 2])
    return volume, area


@compiled_inner
def _needed(
    tree: MergeTree,
    faces: tuple[Array, Array, Ints, int],
    top: float,
    ends: Ints,
    sill: Array,
    places: Ints,
    edges: Array,
    rise: float,
) -> tuple[float, float]:
    """F [m³] of one or several places (P,) that take liquid ``rise`` above their edges (P,), and dF/drise."""
    count = len(places)
    at, cost = np.empty(count + len(sill), np.int64), np.empty(count + len(sill))
    at[:count] = places
    for p in range(count):
        cost[p] = edges[p] + rise
    inside, outside = np.empty(len(tree.birth)), np.empty(len(tree.birth))
    _through_links(tree, ends, sill, at, cost, inside, outside)
    volume, area = _held_back(faces, top, inside, outside, cost[0])
    for p in range(1, count):
        if edges[p] != edges[0]:
            area += _held_back(faces, top, inside, outside, cost[p])[1]
    return volume, area


@compiled_inner
def _room(
    tree: MergeTree,
    faces: tuple[Array, Array, Ints, int],
    ends: Ints,
    sill: Array,
    start: int,
    h: float,
) -> tuple[float, float]:
    """Volume [m³] and free surface [m²] of what hangs together with ``start`` below ``h``."""
    if tree.z[start] > h:
        return 0.0, 0.0
    nodes = len(tree.birth)
    joined = np.zeros(nodes, np.bool_)
    joined[climb(tree, tree.node[start], h)] = True
    for _ in range(len(sill)):
        more = False
        for k in range(len(sill)):
            into, out = ends[k, 0], ends[k, 1]
            if into < 0 or sill[k] >= h or tree.z[into] >= h or tree.z[out] >= h:
                continue
            beyond = climb(tree, tree.node[out], h)
            if joined[climb(tree, tree.node[into], h)] and not joined[beyond]:
                joined[beyond] = more = True
        if not more:
            break
    for node in range(nodes - 1, -1, -1):
        above = tree.parent[node]
        if above >= 0 and joined[above]:
            joined[node] = True
    z, flow, node_of, count = faces
    volume = area = 0.0
    for f in range(count):
        z0 = z[f, 0]
        if z0 < h and joined[node_of[f]]:
            volume += flow[f] * phi(h, z0, z[f, 1], z[f, 2])
            area += flow[f] * wet_share(h, z0, z[f, 1], z[f, 2])
    return volume, area


@compiled_inner
def _next(low: float, high: float, at: float, gap: float, area: float) -> float:
    """Newton's next try for a root between ``low`` and ``high``, or their middle."""
    trial = at - gap / area if area > 0.0 else low
    return trial if low < trial < high else 0.5 * (low + high)


@compiled_inner
def _rise(
    tree: MergeTree,
    faces: tuple[Array, Array, Ints, int],
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
    if _needed(tree, faces, top, ends, sill, places, edges, low)[0] >= volume:
        return floor
    at = guess if low < guess < high else 0.5 * (low + high)
    for _ in range(_MOST_PASSES):
        held, area = _needed(tree, faces, top, ends, sill, places, edges, at)
        gap = held - volume
        if abs(gap) <= exact:
            return at
        if gap > 0.0:
            high = at
        else:
            low = at
        trial = _next(low, high, at, gap, area)
        if trial in (low, high):
            break
        at = trial
    return low


@compiled_inner
def _highest(
    tree: MergeTree,
    faces: tuple[Array, Array, Ints, int],
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
        held, area = _room(tree, faces, ends, sill, start, at)
        gap = held - volume
        if abs(gap) <= exact:
            return at
        if gap > 0.0:
            high = at
        else:
            low = at
        trial = _next(low, high, at, gap, area)
        if trial in (low, high):
            break
        at = trial
    return high


@compiled
def _wet_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links,
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
        ends, sill = _mouths(graph, tree, grid, links, up[d])
        faces = _flat_faces(graph, tree, up[d])
        found = 0
        for p in range(count):
            v = _below(graph, tree, grid, places[d, p])[0]
            if v >= 0:
                at[found], edge[found] = v, edges[d, p]
                found += 1
        if found == 0:
            out[d] = np.nan
        elif len(volume):
            out[d] = _rise(
                tree, faces, top, ends, sill, at[:found], edge[:found], volume[d], guess[d], exact
            )
        else:
            out[d] = _needed(tree, faces, top, ends, sill, at[:found], edge[:found], 0.0)[0]


@compiled
def _dry_rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links,
    up: Array,
    places: Array,
    edges: Array,
    volume: Array,
    guess: Array,
    sure: bool,
    out: Array,
) -> None:
    """Least room of the places below their edges; with ``volume`` the least gap up to them instead."""
    top, exact = graph.size, 1e-15 * graph.capacity
    for d in range(first, last):
        tree = grow_tree(graph, up[d], NEGLIGIBLE)
        grid = grid_for(up[d], graph.size)
        ends, sill = _mouths(graph, tree, grid, links, up[d])
        faces = _flat_faces(graph, tree, up[d])
        least = np.inf
        for p in range(places.shape[1]):
            v, floor = _below(graph, tree, grid, places[d, p])
            if v < 0:
                continue
            h = edges[d, p] if sure else max(edges[d, p], floor)
            if len(volume):
                level = _highest(tree, faces, top, ends, sill, v, volume[d], guess[d], exact)
                least = min(least, h - max(level, floor) if sure else h - level)
            elif sure and floor >= h:
                least = 0.0
            else:
                least = min(least, _room(tree, faces, ends, sill, v, h)[0])
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
    sure : give no room where the wall straight below a place is not below its edge. Only then does
        the result for edges lowered by the slack of a cell of attitudes hold all over the cell.
    Returns the least room (D,) of the places; NaN where none is in the tank. See :func:`need`.
    """
    return _solved(_dry_rows, graph, links, up, places, edges, None, 0.0, sure)


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
    sure: bool = False,
) -> Array:
    """How far (D,) [m] ``volume`` (D,) [m³] certainly stays below the edges; negative above.

    guess : (D,) [m]   the level to begin with, ``up · x``. Others as for :func:`room`.
    """
    shift = np.atleast_2d(np.asarray(up, np.float64)) @ graph.origin
    return _solved(
        _dry_rows, graph, links, up, places, edges, volume, np.asarray(guess) - shift, sure
    )


def _solved(
    loop: Callable[..., None],
    graph: MeshGraph,
    links: Links,
    up: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    volume: ArrayLike | None = None,
    guess: ArrayLike = 0.0,
    *flags: bool,
) -> Array:
    """Hand a batch to a loop: everything from the mesh's own origin, one row an attitude."""
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    at = np.asarray(places, np.float64) - graph.origin
    at = np.ascontiguousarray(np.broadcast_to(at, (len(ups), *at.shape[-2:])))
    height = np.asarray(edges, np.float64) - (ups @ graph.origin)[:, None]
    height = np.ascontiguousarray(np.broadcast_to(height, at.shape[:2]))
    held, start = _NONE_GIVEN, _NONE_GIVEN
    if volume is not None:
        held = np.ascontiguousarray(np.broadcast_to(np.asarray(volume, np.float64), len(ups)))
        start = np.ascontiguousarray(np.broadcast_to(np.asarray(guess, np.float64), len(ups)))
    out = np.empty(len(ups))
    near = shifted(links, graph.origin)
    in_threads(loop, len(out), graph, near, ups, at, height, held, start, *flags, out)
    return out
