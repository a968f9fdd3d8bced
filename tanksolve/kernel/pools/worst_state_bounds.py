"""The worst settled state all over a cell of attitudes: bounds from one merge tree, at its centre.

At one attitude F is the fill with which liquid certainly stands at a port's edge, whatever happened
before: the port's own pool up to the edge, and every other hollow to its brim (docs/theory/
worst_state.md). :func:`need_over` bounds F from above over whole cells. It is exact at the centre and
right to first order beside it, where brims move, so cells can be large.

An attitude of the cell is ``u + d``, d square to the centre u and in the hull of the d_j that the
cell's hull points give. For each vertex :mod:`tanksolve.kernel.pools.held_heights` tells how high it
can hold liquid, L. Liquid above a face, straight up along u, stands at most as high as the greatest L
of its corners, and each part of what follows is convex in d, so the greatest sum at a d_j is a bound:

* a face below the liquid counts all that lies above it, up to that height, at its own heights at d_j;
* a face above it (a ceiling that is wet at u) counts as linear in d, from u: a tangent of a convex
  volume that is taken away.

A link (flap, pipe) is one more place that takes liquid, at the height at which it gets on from the
out-mouth (:mod:`tanksolve.kernel.pools.link_bounds`). A body of liquid without a way counts full.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.attitude.tangent import heights_at, swing_of, tangent_directions
from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_weights
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.held_heights import Chains, chains_of, spread_from
from tanksolve.kernel.pools.link_bounds import Passages, passages
from tanksolve.kernel.pools.links import NO_LINKS, Links, where_any
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import NONE, drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.kernel.vectors import greatest, put

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["ALL_MINIMA", "CellArrays", "NeedOver", "cell_arrays", "need_over", "rounding"]

ALL_MINIMA = -1.0  # of the tank's volume: even a minimum that holds nothing starts a node
_SLACK = 4e-12  # of size times surface


class NeedOver(NamedTuple):
    """What a fill must be for a port to be covered for certain.

    Attributes
    ----------
    at_centre : (C, P) float [m³]   F at each cell's centre; NaN where the place is outside the tank.
    over_cell : (C, P) float [m³]   upper bound of F all over the cell, ``inf`` where there is none.
    """

    at_centre: Array
    over_cell: Array


class CellArrays(NamedTuple):
    """C cells and P places, contiguous, from the mesh's own origin; see :func:`need_over`."""

    up: Array  # (C, 3)
    points: Array  # (C, J, 3)
    places: Array  # (C, P, 3)
    edges: Array  # (C, P)
    edges_at: Array  # (C, J, P)


def cell_arrays(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    edges_at: ArrayLike,
) -> CellArrays:
    """Cells and places as given to :func:`need_over`, from the mesh's own origin."""
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    hull = np.ascontiguousarray(points, np.float64)
    at = np.asarray(places, np.float64) - graph.origin
    with np.errstate(divide="ignore", invalid="ignore"):
        shift_at = (hull @ graph.origin) / np.einsum("cjk,ck->cj", hull, ups)
    return CellArrays(
        ups,
        hull,
        np.array(
            np.broadcast_to(at, (len(ups), *at.shape[-2:])), order="C"
        ),  # one that may be written
        np.ascontiguousarray(np.asarray(edges, np.float64) - (ups @ graph.origin)[:, None]),
        np.ascontiguousarray(np.asarray(edges_at, np.float64) - shift_at[..., None]),
    )


def rounding(graph: MeshGraph) -> float:
    """More than all rounding can do to a volume of the tank [m³]: of heights, of sums and of the tree."""
    return float(_SLACK * graph.size * np.linalg.norm(graph.areas, axis=1).sum())


class _Sources(NamedTuple):
    """The ports of one F at one cell: S faces straight below them, lowest corners, edges [m]."""

    face: Ints
    lowest: Ints
    edge: Array  # (S,) at the centre
    edge_at: Array  # (S, J) at the d_j


@compiled_inner
def _sources(
    graph: MeshGraph,
    tree: MergeTree,
    up: Array,
    ups: Array,
    number: Ints,
    places: Array,
    edges: Array,
    edges_at: Array,
) -> _Sources:
    """What lies below each of S places; edges below a place are raised to it, which changes nothing."""
    count = len(places)
    face, lowest = np.empty(count, np.int64), np.empty(count, np.int64)
    edge, edge_at = np.empty(count), np.full((count, len(ups)), -np.inf)
    grid = grid_for(up, graph.size)
    for s in range(count):
        p = places[s]
        face[s], height = drop_from_point(graph, grid, p)
        if face[s] < 0:
            continue
        lowest[s] = lowest_corner(graph.faces, tree.rank, face[s])
        along = up[0] * p[0] + up[1] * p[1] + up[2] * p[2]
        lift = max(height - along, 0.0)  # a place a hair below the floor that it is mounted on
        edge[s] = max(edges[s], along + lift)
        for j in range(len(number)):
            edge_at[s, number[j]] = max(edge_at[s, number[j]], edges_at[j, s])
        for j in range(len(ups)):
            along = ups[j, 0] * p[0] + ups[j, 1] * p[1] + ups[j, 2] * p[2]
            edge_at[s, j] = max(edge_at[s, j], along + lift)
    return _Sources(face, lowest, edge, edge_at)


@compiled_inner
def _levels(tree: MergeTree, sources: _Sources) -> tuple[Array, Ints]:
    """How high each node (M,) can hold liquid at the centre [m], and the node of the pool it is then in.

    ``inf`` without a way to a port. Of a node within, or below whose saddle, a port takes liquid: the
    least over the nodes around it of the greater of saddle and edge.
    """
    nodes = len(tree.birth)
    takes, level, pool = np.full(nodes, np.inf), np.empty(nodes), np.empty(nodes, np.int64)
    for s in range(len(sources.face)):
        if sources.face[s] >= 0:
            v = sources.lowest[s]
            takes[tree.node[v]] = min(takes[tree.node[v]], max(sources.edge[s], tree.z[v]))
    for node in range(nodes):
        above = tree.parent[node]
        if above >= 0:
            takes[above] = min(takes[above], takes[node])
    for node in range(nodes - 1, -1, -1):
        above = tree.parent[node]
        level[node] = max(takes[node], tree.z[tree.birth[node]])
        pool[node] = node
        if above >= 0:
            level[node] = min(level[node], level[above])
            if tree.z[tree.birth[above]] < level[node]:
                pool[node] = pool[above]
    return level, pool


@compiled_inner
def _pool_heights(tree: MergeTree, level: Array, pool: Ints, most: Array) -> Ints:
    """For each pool (M,) the vertex below its surface with the least L: its height at the d_j."""
    nodes = len(tree.birth)
    lowest, vertex = np.full(nodes, np.inf), np.full(nodes, -1, np.int64)
    for v in range(len(tree.node)):
        node = tree.node[v]
        if tree.z[v] < level[node] < np.inf and most[v] < lowest[pool[node]]:
            lowest[pool[node]], vertex[pool[node]] = most[v], v
    return vertex


@compiled_inner
def _sum_faces(
    graph: MeshGraph,
    tree: MergeTree,
    up: Array,
    z: Array,
    level: Array,
    pool: Ints,
    held: Array,
    most: Array,
) -> tuple[float, float]:
    """F at the centre and its bound over the cell [m³], before slack."""
    corners = z.shape[1]
    pool_vertex = _pool_heights(tree, level, pool, most)
    sums, weights, at = np.zeros(corners), np.empty(3), np.empty(3)
    centre = full = 0.0
    for face in range(len(graph.faces)):
        area = graph.areas[face]
        flow = -(up[0] * area[0] + up[1] * area[1] + up[2] * area[2])
        if flow == 0.0:
            continue
        a, b, c = graph.faces[face]
        at[0], at[1], at[2] = tree.z[a], tree.z[b], tree.z[c]
        node = tree.node[lowest_corner(graph.faces, tree.rank, face)]
        h = level[node]
        if h == np.inf:
            full += flow * (graph.size - (at[0] + at[1] + at[2]) / 3.0)
            continue
        z0, z1, z2 = three_sorted(at[0], at[1], at[2])
        centre += flow * phi(min(h, graph.size), z0, z1, z2)
        surface = pool_vertex[pool[node]] if z0 < h else -1
        if flow > 0.0:
            for j in range(corners):
                brim = max(held[a, j], held[b, j], held[c, j])
                if surface >= 0:
                    brim = max(brim, held[surface, j])
                if brim > min(z[a, j], z[b, j], z[c, j]):
                    z0, z1, z2 = three_sorted(z[a, j], z[b, j], z[c, j])
                    sums[j] += flow * phi(brim, z0, z1, z2)
        elif surface >= 0:
            wet_weights(h, at, weights)
            share = weights[0] + weights[1] + weights[2]
            for j in range(corners):
                below = weights[0] * z[a, j] + weights[1] * z[b, j] + weights[2] * z[c, j]
                sums[j] += flow * (share * held[surface, j] - below)
    return centre + full, greatest(sums) + full


@compiled_inner
def _next_link(tree: MergeTree, links: Passages, free: Bools, level: Array) -> tuple[int, float]:
    """The link by which liquid gets on lowest, of those that help at the centre, and at what height [m]."""
    best, lowest = NONE, np.inf
    for k in range(len(free)):
        if not free[k] or links.face[k, 0] < 0:
            continue
        into, out = links.lowest[k]
        on = max(links.sill[k], tree.z[out], level[tree.node[out]])
        if max(on, tree.z[into]) < max(level[tree.node[into]], tree.z[into]) and on < lowest:
            best, lowest = k, on
    return best, lowest


@compiled_inner
def _one_need(
    graph: MeshGraph,
    tree: MergeTree,
    chains: Chains,
    up: Array,
    z: Array,
    top: Array,
    ports: _Sources,
    links: Passages,
    slack: float,
) -> tuple[float, float]:
    """F at the centre and its bound over the cell [m³], of ports of which one suffices."""
    corners, most_sources = z.shape[1], len(ports.face) + len(links.sill)
    sources = _Sources(
        np.full(most_sources, NONE, np.int64),
        np.empty(most_sources, np.int64),
        np.empty(most_sources),
        np.empty((most_sources, corners)),
    )
    free = np.ones(len(links.sill), np.bool_)
    held, most = np.empty(z.shape), np.full(len(z), np.inf)
    other, its_most = held, most
    count = 0
    for turn in range(most_sources):
        if turn < len(ports.face):
            if ports.face[turn] < 0:
                continue
            sources.face[turn], sources.lowest[turn] = ports.face[turn], ports.lowest[turn]
            sources.edge[turn] = ports.edge[turn]
            put(sources.edge_at[turn], ports.edge_at[turn])
        else:
            k, on = _next_link(tree, links, free, _levels(tree, sources)[0])
            if k < 0 or count == 0:
                break
            free[k] = False
            sources.face[turn], sources.lowest[turn] = links.face[k, 0], links.lowest[k, 0]
            sources.edge[turn] = on
            a, b, c = graph.faces[links.face[k, 1]]
            for j in range(corners):
                beyond = max(held[a, j], held[b, j], held[c, j], z[links.lowest[k, 1], j])
                sources.edge_at[turn, j] = max(links.height[k, j], beyond)
        count += 1
        if count == 2:
            other, its_most = np.empty(z.shape), np.empty(len(z))
        spread_from(
            graph,
            tree,
            chains,
            z,
            sources.face[turn],
            sources.lowest[turn],
            sources.edge_at[turn],
            top,
            other,
            its_most,
        )
        if count > 1:
            for v in range(len(z)):
                if its_most[v] < most[v]:
                    most[v] = its_most[v]
                    put(held[v], other[v])
    if count == 0:
        return np.nan, np.inf
    level, pool = _levels(tree, sources)
    centre, over = _sum_faces(graph, tree, up, z, level, pool, held, most)
    return min(centre, graph.capacity), min(over + slack, graph.capacity)


@compiled
def _rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links | None,
    cells: CellArrays,
    parts: Ints,
    slack: float,
    centre: Array,
    over: Array,
) -> None:
    """F and its bound for each part of the ports, written to rows of ``centre`` and ``over`` (C, parts)."""
    for c in range(first, last):
        up = cells.up[c]
        tree = grow_tree(graph, up, ALL_MINIMA)
        ups, number = tangent_directions(up, cells.points[c])
        if tree.lost or number.min() < 0:
            centre[c], over[c] = np.nan, np.inf
            continue
        chains, z = chains_of(tree), heights_at(graph.vertices, ups)
        top = z[0].copy()
        for v in range(1, len(z)):
            for j in range(len(ups)):
                top[j] = max(top[j], z[v, j])
        sources = _sources(
            graph, tree, up, ups, number, cells.places[c], cells.edges[c], cells.edges_at[c]
        )
        grid = grid_for(up, graph.size)
        through = passages(graph, tree, grid, links, up, ups, swing_of(up, ups))
        for part in range(len(parts) - 1):
            a, b = parts[part], parts[part + 1]
            chosen = _Sources(
                sources.face[a:b], sources.lowest[a:b], sources.edge[a:b], sources.edge_at[a:b]
            )
            centre[c, part], over[c, part] = _one_need(
                graph, tree, chains, up, z, top, chosen, through, slack
            )


def need_over(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    edges_at: ArrayLike,
    links: Links = NO_LINKS,
    *,
    any_suffices: bool = False,
) -> NeedOver:
    """Bound from above, over each of C cells, the fill with which liquid stands at each of P edges.

    up : (C, 3) float [-]   centres of the cells, unit vectors opposite to gravity, tank frame.
    points : (C, J, 3) float [-]   points whose hull holds every up vector of the cell, of any length,
        within 90 degrees of the centre: ``kernel.attitude.cells.hulls``.
    places : (P, 3) or (C, P, 3) float [m]   a place in the liquid for each port, tank frame.
    edges : (C, P) float [m]   ``up · x`` of what must be covered: highest point of the opening, plus cover.
    edges_at : (C, J, P) float [m]   the same at ``v = points / (points · up)``: the support function of
        the opening at v, not scaled to unit length, plus cover times the length of v.
    links : flaps and pipes.
    any_suffices : one of the ports is enough: one F for all of them, the results are (C, 1).
    """
    cells = cell_arrays(graph, up, points, places, edges, edges_at)
    count, ports = cells.edges.shape
    parts = np.array([0, ports]) if any_suffices else np.arange(ports + 1)
    centre, over = np.empty((count, len(parts) - 1)), np.empty((count, len(parts) - 1))
    near = where_any(links, graph.origin)
    in_threads(_rows, count, graph, near, cells, parts, rounding(graph), centre, over)
    return NeedOver(centre, over)
