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

Links (flaps, pipes) are left out: that only adds states. A body of liquid that only a link joins to the
port counts full.
"""

from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.attitude.tangent import heights_at, tangent_directions
from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_weights
from tanksolve.kernel.compiled import compiled_inner, compiled_parallel, threads_for
from tanksolve.kernel.pools.held_heights import Chains, chains_of, spread_from
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["ALL_MINIMA", "SLACK", "NeedOver", "need_over"]

ALL_MINIMA = -1.0  # of the tank's volume: even a minimum that holds nothing starts a node
SLACK = 4e-12  # of size times surface: more than the rounding of heights, of sums and of the tree


class NeedOver(NamedTuple):
    """What a fill must be for a port to be covered for certain.

    Attributes
    ----------
    at_centre : (C, P) float [m³]   F at each cell's centre; NaN where the place is outside the tank.
    over_cell : (C, P) float [m³]   upper bound of F all over the cell, ``inf`` where there is none.
    """

    at_centre: Array
    over_cell: Array


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
            node = tree.node[sources.lowest[s]]
            takes[node] = min(takes[node], sources.edge[s])
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
def _pool_heights(tree: MergeTree, level: Array, pool: Ints, held: Array) -> Ints:
    """For each pool (M,) the vertex below its surface with the least L: its height at the d_j."""
    nodes = len(tree.birth)
    lowest, vertex = np.full(nodes, np.inf), np.full(nodes, -1, np.int64)
    for v in range(len(tree.node)):
        node = tree.node[v]
        if tree.z[v] < level[node] < np.inf:
            most = held[v].max()
            if most < lowest[pool[node]]:
                lowest[pool[node]], vertex[pool[node]] = most, v
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
) -> tuple[float, float]:
    """F at the centre and its bound over the cell [m³], before slack."""
    corners = z.shape[1]
    pool_vertex = _pool_heights(tree, level, pool, held)
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
    return centre + full, sums.max() + full


@compiled_inner
def _one_need(
    graph: MeshGraph,
    tree: MergeTree,
    chains: Chains,
    up: Array,
    z: Array,
    top: Array,
    sources: _Sources,
    slack: float,
) -> tuple[float, float]:
    """F at the centre and its bound over the cell [m³], of ports of which one suffices."""
    level, pool = _levels(tree, sources)
    held, known = np.empty(z.shape), np.empty(len(z), np.bool_)
    first = True
    for s in range(len(sources.face)):
        if sources.face[s] < 0:
            continue
        face, lowest = sources.face[s], sources.lowest[s]
        edge = sources.edge_at[s]
        if first:
            held[:] = np.inf
            spread_from(graph, tree, chains, z, face, lowest, edge, top, known, held)
            first = False
            continue
        other = np.full(z.shape, np.inf)
        spread_from(graph, tree, chains, z, face, lowest, edge, top, known, other)
        for v in range(len(z)):
            if other[v].max() < held[v].max():
                held[v] = other[v]
    if first:
        return np.nan, np.inf
    centre, over = _sum_faces(graph, tree, up, z, level, pool, held)
    return centre, min(over + slack, graph.capacity)


@compiled_inner
def _cell(
    graph: MeshGraph,
    up: Array,
    points: Array,
    places: Array,
    edges: Array,
    edges_at: Array,
    parts: Ints,
    slack: float,
    centre: Array,
    over: Array,
) -> None:
    """One cell: F and its bound for each part of the ports, written to ``centre`` and ``over`` (P,)."""
    centre[:], over[:] = np.nan, np.inf
    tree = grow_tree(graph, up, ALL_MINIMA)
    ups, number = tangent_directions(up, points)
    if tree.lost or number.min() < 0:
        return
    chains, z = chains_of(tree), heights_at(graph.vertices, ups)
    top = np.empty(len(ups))
    for j in range(len(ups)):
        top[j] = z[:, j].max()
    sources = _sources(graph, tree, up, ups, number, places, edges, edges_at)
    for part in range(len(parts) - 1):
        a, b = parts[part], parts[part + 1]
        chosen = _Sources(
            sources.face[a:b], sources.lowest[a:b], sources.edge[a:b], sources.edge_at[a:b]
        )
        centre[part], over[part] = _one_need(graph, tree, chains, up, z, top, chosen, slack)


@compiled_parallel
def _cells(
    graph: MeshGraph,
    up: Array,
    points: Array,
    places: Array,
    edges: Array,
    edges_at: Array,
    parts: Ints,
    slack: float,
) -> tuple[Array, Array]:
    centre, over = np.empty((len(up), len(parts) - 1)), np.empty((len(up), len(parts) - 1))
    for c in numba.prange(len(up)):
        _cell(
            graph, up[c], points[c], places[c], edges[c], edges_at[c], parts, slack, centre[c], over[c]
        )  # fmt: skip
    return centre, over


def need_over(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    edges_at: ArrayLike,
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
    any_suffices : one of the ports is enough: one F for all of them, the results are (C, 1).

    F is that of the mesh alone, without links. ``over_cell`` is at most the tank's volume.
    """
    ups = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    shift = ups @ graph.origin
    hull = np.ascontiguousarray(points, np.float64)
    at = np.asarray(places, np.float64) - graph.origin
    at = np.ascontiguousarray(np.broadcast_to(at, (len(ups), *at.shape[-2:])))
    along = np.einsum("cjk,ck->cj", hull, ups)
    with np.errstate(divide="ignore", invalid="ignore"):
        shift_at = (hull @ graph.origin) / along
    height = np.ascontiguousarray(np.asarray(edges, np.float64) - shift[:, None])
    height_at = np.ascontiguousarray(np.asarray(edges_at, np.float64) - shift_at[..., None])
    ports = at.shape[1]
    parts = np.array([0, ports]) if any_suffices else np.arange(ports + 1)
    surface = np.linalg.norm(graph.areas, axis=1).sum()
    with threads_for(64 * len(ups)):
        found = _cells(graph, ups, hull, at, height, height_at, parts, SLACK * graph.size * surface)
    return NeedOver(*found)
