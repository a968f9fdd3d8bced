"""How far hollows fill before they run to a place: on the merge tree of one direction, with links.

A vertex x gets to a place at its pass, the least height to be climbed to on the way; the *brim* of the
hollow that x lies in is the least pass to any place that takes liquid there. The statement that rests on
it is in :mod:`tanksolve.kernel.pools.worst_state`.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner, phi, three_sorted, wet_share
from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.pools.links import Links, mouth_below, sill_height
from tanksolve.kernel.topology.drop_ray import NONE, Grid, drop_from_point
from tanksolve.kernel.topology.merge_tree import MergeTree, climb
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Faces = tuple[Array, Array, Ints, int]  # see flat_faces

__all__ = ["Faces", "corner_below", "flat_faces", "joined_room", "mouths", "needed", "reach"]


@compiled_inner
def corner_below(graph: MeshGraph, tree: MergeTree, grid: Grid, point: Array) -> tuple[int, float]:
    """Lowest corner of the face straight below a point (3,), and where that is hit; -1 outside."""
    face, height = drop_from_point(graph, grid, point)
    return (lowest_corner(graph.faces, tree.rank, face) if face >= 0 else NONE), height


@compiled_inner
def mouths(
    graph: MeshGraph, tree: MergeTree, grid: Grid, links: Links | None, up: Array
) -> tuple[Ints, Array]:
    """Vertices (K, 2) below where each link lets in and out, -1 for one that is left out; sills (K,).

    Leaving a link out leaves more states possible, so it is safe.
    """
    if links is None:
        return np.empty((0, 2), np.int64), np.empty(0)
    count = len(links.first_station) - 1
    ends, sill = np.full((count, 2), NONE, np.int64), np.empty(count)
    for k in range(count):
        sill[k] = sill_height(links, k, up)
        for end in range(2):
            station = links.first_station[k + end] - end
            ends[k, end] = corner_below(graph, tree, grid, mouth_below(links, station, up))[0]
        if ends[k].min() < 0:
            ends[k] = NONE
    return ends, sill


@compiled_inner
def reach(tree: MergeTree, at: Ints, cost: Array, inside: Array, outside: Array) -> None:
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
    """As ``reach``, with the in-mouths of links among the places: the last of ``at``, ``cost``.

    A mouth takes liquid from the sill, or from the height at which it gets on from the out-mouth.
    Costs fall from ``inf`` until none does: at most one round a link.
    """
    first = len(at) - len(sill)
    for k in range(len(sill)):
        at[first + k], cost[first + k] = NONE, np.inf
    reach(tree, at, cost, inside, outside)
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
        reach(tree, at, cost, inside, outside)


@compiled_inner
def flat_faces(graph: MeshGraph, tree: MergeTree, up: Array) -> Faces:
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
    faces: Faces, top: float, inside: Array, outside: Array, taken: float
) -> tuple[float, float]:
    """F [m³] for what ``reach`` found, and the free surface [m²] of what stands at ``taken`` in it."""
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
def needed(
    tree: MergeTree,
    faces: Faces,
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
    for p in range(count):
        at[p], cost[p] = places[p], edges[p] + rise
    inside, outside = np.empty(len(tree.birth)), np.empty(len(tree.birth))
    _through_links(tree, ends, sill, at, cost, inside, outside)
    volume, area = _held_back(faces, top, inside, outside, cost[0])
    for p in range(1, count):
        if edges[p] != edges[0]:
            area += _held_back(faces, top, inside, outside, cost[p])[1]
    return volume, area


@compiled_inner
def joined_room(
    tree: MergeTree,
    faces: Faces,
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
