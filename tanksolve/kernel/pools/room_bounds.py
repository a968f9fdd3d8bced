"""The room below a port that must stay dry, all over a cell of attitudes: a lower bound from one tree.

At one attitude the room of a place is the volume of the pool that holds the floor straight below it, up
to the edge, joined only through passes below the edge: so much liquid cannot reach the edge, whatever
happened before (docs/theory/worst_state.md). Here the attitudes of a cell are ``u + d`` as in
:mod:`tanksolve.kernel.attitude.tangent`, and the edge is concave in d.

Let K be the pool at the centre that holds the floor, filled only so far that no attitude of the cell
brings any of it up to the edge. K lies below the edge all over the cell, and so does whatever stands
straight above its floors and below the edge. That volume is concave in d: the least at a d_j is a bound.
The pool that counts at an attitude is that of the lowest corner of the face below the place. It is the same
pool as that of any other corner of this face that is below the edge, and of whatever its corners fall to.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.attitude.tangent import heights_at, swing_of, tangent_directions
from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_weights
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.pools.link_bounds import Passages, passages
from tanksolve.kernel.pools.links import NO_LINKS, Links, where_any
from tanksolve.kernel.pools.worst_state_bounds import ALL_MINIMA, CellArrays, cell_arrays, rounding
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.drop_ray import Grid, drop_from_point, grid_for
from tanksolve.kernel.topology.floors_below import floors_below
from tanksolve.kernel.topology.merge_tree import MergeTree, climb, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tanksolve.kernel.vectors import put, whole

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


class _Cell(NamedTuple):
    """What all places of a cell share."""

    tree: MergeTree
    up: Array
    ups: Array  # (J, 3) the attitudes u + d_j
    z: Array  # (N, J) [m] heights there
    grid: Grid
    links: Passages


@compiled_inner
def _joined(cell: _Cell, height: Array, start: int, h: float, edge_at: Array) -> Bools:
    """Which nodes (M,) are filled with the pool of a vertex at ``h``, and by links on from there.

    height : (K, J) [m] that links lead over; only those below ``edge_at`` (J,) lead on for certain.
    """
    tree, links = cell.tree, cell.links
    inside = np.zeros(len(tree.birth), np.bool_)
    inside[climb(tree, tree.node[start], h)] = True
    more = len(links.sill) > 0
    while more:
        more = False
        for k in range(len(links.sill)):
            into, out = links.lowest[k]
            if links.face[k, 0] < 0 or tree.z[into] >= h or tree.z[out] >= h:
                continue
            beyond = climb(tree, tree.node[out], h)
            if inside[beyond] or not inside[climb(tree, tree.node[into], h)]:
                continue
            passed = True
            for j in range(len(edge_at)):
                passed = passed and height[k, j] < edge_at[j]
            if passed:
                inside[beyond] = more = True
    for node in range(len(inside) - 1, -1, -1):  # children come before parents
        above = tree.parent[node]
        inside[node] = inside[node] or (above >= 0 and inside[above])
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
def _falls_below(cell: _Cell, v: int, h: float) -> int:
    """A vertex lower than ``h`` that liquid falls to from ``v`` all over the cell, or -1."""
    tree, z = cell.tree, cell.z
    while tree.z[v] >= h:
        w = tree.came[v]
        if w < 0 or tree.rank[w] >= tree.rank[v]:
            return -1
        for j in range(z.shape[1]):
            if z[w, j] > z[v, j]:
                return -1
        v = w
    return int(v)


@compiled_inner
def _over_floor(
    graph: MeshGraph, cell: _Cell, face: int, edge: float, edge_at: Array, known: Array
) -> float:
    """Least volume [m³] below the edge, all over the cell, of the pool that a face lies in.

    known : (2, M) by node, NaN where not known yet: how far its pool at the edge may be filled [m], and
        what is then above its floors [m³].
    """
    tree = cell.tree
    lowest = lowest_corner(graph.faces, tree.rank, face)
    least, highest = np.inf, tree.z[lowest]
    for k in range(3):
        highest = max(highest, tree.z[graph.faces[face, k]])
    for h in (edge, max(edge, highest) + _SAFE_HEIGHT * graph.size):
        if h <= tree.z[lowest]:
            continue
        pool = climb(tree, tree.node[lowest], h)
        if np.isnan(known[0, pool]):
            reached = _joined(cell, cell.links.height, whole(lowest), h, edge_at)
            rise = _rise(graph, tree, cell.z, reached, edge, edge_at)
            known[0, pool] = edge - rise - _SAFE_HEIGHT * graph.size
        below = known[0, pool]
        if h == edge and tree.z[lowest] >= below:
            continue  # all of the face may be above the edge: where does liquid on it run to
        for k in range(1 if tree.z[lowest] < below else 3):
            v = lowest if tree.z[lowest] < below else graph.faces[face, k]
            v = _falls_below(cell, v, below)
            if v < 0:
                return 0.0
            kept = climb(tree, tree.node[v], below)
            if np.isnan(known[1, kept]):
                inside = _joined(cell, cell.links.height, whole(v), below, edge_at)
                known[1, kept] = _least_above(graph, tree, cell.up, cell.z, inside, below, edge_at)
            least = min(least, known[1, kept])
        return least
    return 0.0


@compiled_inner
def _floor_edge(
    graph: MeshGraph, cell: _Cell, face: int, point: Array, spread: float, turns: bool, out: Array
) -> float:
    """Heights ``out`` (J,) [m] of a face's plane straight below a place, and at the centre; -inf for none.

    With y the place, m the face's normal into the liquid and D how far y is above the plane, the drop
    along v = u + d ends at v·y - D |v|² / (m·v): concave in d, as a square over a linear form is convex.
    Where the floor along the centre's own vertical counts the end stays where it is: v·y - D / (m·u).
    """
    area, corner = graph.areas[face], graph.vertices[graph.faces[face, 0]]
    whole = np.sqrt(area[0] ** 2 + area[1] ** 2 + area[2] ** 2)
    above = steep = 0.0
    for k in range(3):
        above -= area[k] / whole * (point[k] - corner[k])
        steep -= area[k] / whole * cell.up[k]
    if above < 0.0 or steep <= 0.0:
        return -np.inf
    for j in range(len(out)):
        along = square = leans = 0.0
        for k in range(3):
            v = cell.ups[j, k]
            along, square, leans = along + v * point[k], square + v * v, leans - area[k] / whole * v
        if leans <= 0.0:
            return -np.inf
        drop = square / leans if turns else 1.0 / steep
        out[j] = along - above * drop - spread * (np.sqrt(square) + drop)
    along = 0.0
    for k in range(3):
        along += cell.up[k] * point[k]
    return float(along - above / steep - spread * (1.0 + 1.0 / steep))


@compiled_inner
def _one_room(
    graph: MeshGraph,
    cell: _Cell,
    point: Array,
    edge: float,
    edge_at: Array,
    spread: float,
    swing: float,
    over_floors: bool,
    known: Array,
) -> tuple[float, float]:
    """Room at the centre and its bound over the cell [m³] of one place."""
    tree, up = cell.tree, cell.up
    under, floor = drop_from_point(graph, cell.grid, point)
    if under < 0:
        return np.nan, 0.0
    lowest = lowest_corner(graph.faces, tree.rank, under)
    h = max(edge, floor, tree.z[lowest])
    sill, at_h = cell.links.sill.reshape(-1, 1), np.full(1, h)
    centre = _volume(graph, tree, up, _joined(cell, sill, whole(lowest), h, at_h), h)
    faces, tops = floors_below(graph, tree, up, cell.grid, point, under, spread, swing)
    least, raised_at = np.inf, np.empty_like(edge_at)
    for i in range(len(faces)):
        held = _over_floor(graph, cell, faces[i], edge, edge_at, known)
        if over_floors and tops[i] > edge:
            raised = _floor_edge(graph, cell, faces[i], point, spread, swing > 0.0, raised_at)
            if raised > edge:
                none = np.full_like(known, np.nan)
                held = max(held, _over_floor(graph, cell, faces[i], raised, raised_at, none))
        least = min(least, held)
    return centre, least


@compiled
def _rows(
    first: int,
    last: int,
    graph: MeshGraph,
    links: Links | None,
    cells: CellArrays,
    spread: Array,
    turns: bool,
    over_floors: bool,
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
        grid, reach = grid_for(up, graph.size), swing_of(up, ups)
        through = passages(graph, tree, grid, links, up, ups, reach)
        cell = _Cell(tree, up, ups, heights_at(graph.vertices, ups), grid, through)
        edge_at, before = np.empty(len(ups)), np.full(len(ups), np.nan)
        known = np.empty((2, len(tree.birth)))
        for p in range(cells.edges.shape[1]):
            edge_at[:] = np.inf
            for j in range(len(number)):
                edge_at[number[j]] = min(edge_at[number[j]], cells.edges_at[c, j, p])
            fresh = False  # places of one opening have one edge
            for j in range(len(edge_at)):
                fresh = fresh or edge_at[j] != before[j]
            if fresh:
                known[:] = np.nan
                put(before, edge_at)
            centre[c, p], held = _one_room(
                graph, cell, cells.places[c, p], cells.edges[c, p], edge_at, spread[c, p],
                reach if turns else 0.0, over_floors, known,
            )  # fmt: skip
            over[c, p] = max(held - slack, 0.0)


def room_over(
    graph: MeshGraph,
    up: ArrayLike,
    points: ArrayLike,
    places: ArrayLike,
    edges: ArrayLike,
    edges_at: ArrayLike,
    links: Links = NO_LINKS,
    *,
    spread: ArrayLike = 0.0,
    clearance: bool = True,
    over_floors: bool = True,
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

    links : flaps and pipes, by which the liquid of a room may spread further. One that may lead at the edge
        or above it somewhere in the cell is left out, which is safe.

    over_floors : whether a floor above the edge counts as the edge there, as it does at one attitude.
    """
    cells = cell_arrays(graph, up, points, places, edges, edges_at)
    moves = np.array(np.broadcast_to(np.asarray(spread, float), cells.edges.shape), order="C")
    centre, over = np.empty(moves.shape), np.empty(moves.shape)
    near = where_any(links, graph.origin)
    in_threads(
        _rows, len(over), graph, near, cells, moves, clearance, over_floors, rounding(graph), centre,
        over,
    )  # fmt: skip
    return RoomOver(centre, over)
