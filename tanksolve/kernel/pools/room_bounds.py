"""The room below a port that must stay dry, all over a cell of attitudes: a lower bound from one tree.

At one attitude the room of a place is the volume of the pool that holds the floor straight below it, up
to the edge, joined only through passes below the edge: so much liquid cannot reach the edge, whatever
happened before (docs/theory/worst_state.md). Here the attitudes of a cell are ``u + d`` as in
:mod:`tanksolve.kernel.attitude.tangent`, and the edge is concave in d.

Let K be the pool at the centre that holds the floor, filled only so far that no attitude of the cell
brings any of it up to the edge. K lies below the edge all over the cell, and so does whatever stands
straight above its floors and below the edge. That volume is concave in d: the least at a d_j is a bound.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.attitude.tangent import heights_at, swing_of, tangent_directions
from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_weights
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.worst_state_bounds import ALL_MINIMA, CellArrays, cell_arrays, rounding
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import Grid, drop_from_point, grid_for
from tanksolve.kernel.topology.floors_below import floors_below
from tanksolve.kernel.topology.merge_tree import MergeTree, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["RoomOver", "room_over"]

_SAFE_HEIGHT = 4e-12  # of the tank's size: more than the rounding of heights


class RoomOver(NamedTuple):
    """What may be in the tank with a place certainly dry.

    Attributes
    ----------
    at_centre : (C, P) float [m³]   room at each cell's centre; NaN where the place is outside the tank.
    over_cell : (C, P) float [m³]   lower bound of the room all over the cell, 0 where nothing is proved.
    """

    at_centre: Array
    over_cell: Array


@compiled_inner
def _within(tree: MergeTree, pool: int) -> Bools:
    """Which nodes (M,) lie in the pool of a node."""
    inside = np.zeros(len(tree.birth), np.bool_)
    inside[pool] = True
    for node in range(pool - 1, -1, -1):  # children come before parents
        above = tree.parent[node]
        inside[node] = above >= 0 and inside[above]
    return inside


@compiled_inner
def _rise(
    graph: MeshGraph, tree: MergeTree, z: Array, pool: Bools, edge: float, edge_at: Array
) -> float:
    """How far [m] the liquid of a pool below ``edge`` comes up towards the edge anywhere in the cell."""
    most = 0.0
    for face in range(len(graph.faces)):
        lowest = lowest_corner(graph.faces, tree.rank, face)
        if not pool[tree.node[lowest]] or tree.z[lowest] >= edge:
            continue
        for k in range(3):
            v = graph.faces[face, k]
            for j in range(len(edge_at)):
                most = max(most, z[v, j] - tree.z[v] - (edge_at[j] - edge))
    return most


@compiled_inner
def _volume(graph: MeshGraph, tree: MergeTree, up: Array, pool: Bools, h: float) -> float:
    """Volume [m³] of a pool filled to ``h``."""
    volume = 0.0
    for face in range(len(graph.faces)):
        lowest = lowest_corner(graph.faces, tree.rank, face)
        if pool[tree.node[lowest]] and tree.z[lowest] < h:
            a, b, c = graph.faces[face]
            z0, z1, z2 = three_sorted(tree.z[a], tree.z[b], tree.z[c])
            area = graph.areas[face]
            volume -= (up[0] * area[0] + up[1] * area[1] + up[2] * area[2]) * phi(h, z0, z1, z2)
    return volume


@compiled_inner
def _least_above(
    graph: MeshGraph, tree: MergeTree, up: Array, z: Array, pool: Bools, h: float, edge_at: Array
) -> float:
    """Least volume [m³] in the cell above the floors of a pool filled to ``h`` and below the edge.

    Of ceilings, those of the pool are above its floors where they are below ``h``; above that, all
    ceilings of the tank are taken to be.
    """
    corners = z.shape[1]
    sums, weights, at = np.zeros(corners), np.empty(3), np.empty(3)
    for face in range(len(graph.faces)):
        lowest = lowest_corner(graph.faces, tree.rank, face)
        inside = pool[tree.node[lowest]] and tree.z[lowest] < h
        area = graph.areas[face]
        flow = -(up[0] * area[0] + up[1] * area[1] + up[2] * area[2])
        if flow == 0.0 or (flow > 0.0 and not inside):
            continue
        a, b, c = graph.faces[face]
        at[0], at[1], at[2] = tree.z[a], tree.z[b], tree.z[c]
        wet_weights(h, at, weights)
        share = weights[0] + weights[1] + weights[2]
        for j in range(corners):
            part = share * edge_at[j] - (
                weights[0] * z[a, j] + weights[1] * z[b, j] + weights[2] * z[c, j]
            )
            if flow > 0.0:
                sums[j] += flow * part
                continue
            z0, z1, z2 = three_sorted(z[a, j], z[b, j], z[c, j])
            whole = phi(edge_at[j], z0, z1, z2)
            sums[j] += flow * (whole if inside else max(whole - part, 0.0))
    return float(sums.min())


@compiled_inner
def _one_room(
    graph: MeshGraph,
    tree: MergeTree,
    up: Array,
    z: Array,
    grid: Grid,
    point: Array,
    edge: float,
    edge_at: Array,
    spread: float,
    swing: float,
    slack: float,
) -> tuple[float, float]:
    """Room at the centre and its bound over the cell [m³] of one place."""
    under, floor = drop_from_point(graph, grid, point)
    if under < 0:
        return np.nan, 0.0
    lowest = lowest_corner(graph.faces, tree.rank, under)
    h = max(edge, floor)
    centre = _volume(graph, tree, up, _within(tree, climb(tree, tree.node[lowest], h)), h)
    faces, tops = floors_below(graph, tree, up, grid, point, under, spread, swing)
    seen = np.zeros(len(tree.birth), np.bool_)
    below = np.full(len(tree.birth), np.nan)  # by pool at the edge: how far it may be filled
    least = np.inf
    for i in range(len(faces)):
        v = lowest_corner(graph.faces, tree.rank, faces[i])
        if tree.z[v] >= edge:
            return centre, 0.0
        pool = climb(tree, tree.node[v], edge)
        if np.isnan(below[pool]):
            rise = _rise(graph, tree, z, _within(tree, pool), edge, edge_at)
            below[pool] = edge - rise - _SAFE_HEIGHT * graph.size
        if tops[i] >= below[pool]:
            return centre, 0.0
        kept = climb(tree, tree.node[v], below[pool])
        if not seen[kept]:
            seen[kept] = True
            held = _least_above(graph, tree, up, z, _within(tree, kept), below[pool], edge_at)
            least = min(least, held)
    return centre, max(least - slack, 0.0)


@compiled
def _rows(
    first: int,
    last: int,
    graph: MeshGraph,
    cells: CellArrays,
    spread: Array,
    turns: bool,
    slack: float,
    centre: Array,
    over: Array,
) -> None:
    """Room and its bound, written to rows of ``centre`` and ``over`` (C, P)."""
    for c in range(first, last):
        up = cells.up[c]
        tree = grow_tree(graph, up, ALL_MINIMA)
        ups, number = tangent_directions(up, cells.points[c])
        centre[c], over[c] = np.nan, 0.0
        if tree.lost or number.min() < 0:
            continue
        z, grid = heights_at(graph.vertices, ups), grid_for(up, graph.size)
        swing = swing_of(up, ups) if turns else 0.0
        edge_at = np.empty(len(ups))
        for p in range(cells.edges.shape[1]):
            edge_at[:] = np.inf
            for j in range(len(number)):
                edge_at[number[j]] = min(edge_at[number[j]], cells.edges_at[c, j, p])
            centre[c, p], over[c, p] = _one_room(
                graph, tree, up, z, grid, cells.places[c, p], cells.edges[c, p], edge_at,
                spread[c, p], swing, slack,
            )  # fmt: skip


def room_over(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    edges_at: ArrayLike,
    *,
    spread: ArrayLike = 0.0,
    clearance: bool = True,
) -> RoomOver:
    """Bound from below, over each of C cells, the room of each of P places that must stay dry.

    up : (C, 3), points : (C, J, 3)   as for :func:`tanksolve.kernel.pools.worst_state_bounds.need_over`.
    places : (P, 3) or (C, P, 3) float [m]   places in the liquid space, tank frame.
    edges : (C, P) float [m]   ``up · x`` that liquid must not reach: of the place or of the opening's
        lowest point, less clearance.
    edges_at : (C, J, P) float [m]   the same at ``v = points / (points · up)``: concave along v, as the
        least height of a set of points is, less clearance times the length of v.
    spread : (C, P) float [m]   how far the place that counts may be from ``places`` in the cell: 0 for
        a fixed one, else for the lowest point of an opening.
    clearance : whether the edge lies below the place, so that the pool of the floor straight below it
        at the attitude itself counts. Without, whatever lies below the place is joined to it anyway.

    Of a floor above the edge nothing is proved. Links (flaps, pipes) are left out: with them the liquid
    of a room may spread further, so the room without them is not more.
    """
    cells = cell_arrays(graph, up, points, places, edges, edges_at)
    moves = np.ascontiguousarray(np.broadcast_to(np.asarray(spread, float), cells.edges.shape))
    centre, over = np.empty(moves.shape), np.empty(moves.shape)
    in_threads(_rows, len(over), graph, cells, moves, clearance, rounding(graph), centre, over)
    return RoomOver(centre, over)
