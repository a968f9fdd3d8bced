"""Bodies of air above liquid that may stand in several pools, and what shuts them in.

Whatever is dry stays dry on the way up. So two dry points hang together just when the surface
between them does, and the tree of the turned tank (``grow_tree`` along ``-up``) says how: a vertex
with no higher neighbour is either the top of a pocket, or has air straight above it. Leaving the
wet vertices out leaves the bodies of air. docs/theory/air.md has the argument.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.volumes_plain import mean_depth
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

__all__ = ["AirBodies", "Roofs", "air_bodies", "roofs_without_vent"]

_HAIR = 2.0**-37  # of the tank's size: levels are moved by this, so that none is at a vertex


class AirBodies(NamedTuple):
    """K bodies of air over P pools, the greatest first; heights along up, tank frame.

    Attributes
    ----------
    volume : (K,) float [m³].
    top : (K, 3) float [m]   a highest point of each.
    surface : (K, P) float [m²]   free surface of each pool that lies under each body.
    standing : (Q,) int   the body that each port is in or straight under; -1: none.
    seal : (K,) float [m]   the edge that shuts the body in: with the liquid below this height it
        reaches a vent; NaN where it has one, and where it never would.
    shut : (K,) float [m³]   room above that edge on the body's side: the most air it can shut in;
        all of it where there is no edge, NaN where there is a vent.
    """

    volume: Array
    top: Array
    surface: Array
    standing: Ints
    seal: Array
    shut: Array


class Roofs(NamedTuple):
    """Parts of the roof that reach no vent once liquid has risen past an edge; greatest first.

    ``top`` (K, 3) [m] a highest point, ``seal`` (K,) [m] height of the edge along up, NaN where there
    is none and the space never reaches a vent; ``shut`` (K,) [m³] the room above the edge.
    """

    top: Array
    seal: Array
    shut: Array


def air_bodies(
    graph: MeshGraph,
    up: ArrayLike,
    pits: ArrayLike,
    level: ArrayLike,
    ports: ArrayLike = (),
    is_vent: ArrayLike = (),
    *,
    negligible: float = NEGLIGIBLE,
) -> AirBodies:
    """Find the bodies of air above P pools at one attitude.

    up : (3,) float [-]   unit vector opposite to gravity, tank frame
    pits : (P,) int   a vertex of the mesh in the liquid of each pool
    level : (P,) float [m]   ``up · x`` of each free surface
    ports : (Q, 3) float [m]   points in the tank or on its wall
    is_vent : (Q,) bool   which of them are dry and open to the atmosphere
    negligible : bodies that hold less than this share of the tank are left out.

    Raises ValueError where the mesh is faulty: a drop from an overhang falls out of it.
    """
    up = np.ascontiguousarray(up, np.float64)
    height = np.asarray(level, np.float64).reshape(-1) - up @ graph.origin
    rising, sinking = _trees(graph, up)
    pool, surface_at = _pool_of_vertices(graph, rising, np.asarray(pits, np.int64), height)
    dry = (pool < 0) | (rising.z > surface_at[pool])
    body = _bodies(graph, sinking, dry)
    volume, surface = _volumes(graph, up, rising, body, pool, surface_at[:-1])
    above = [_standing(graph, sinking, up, p, body)[0] for p in _points(graph, ports)]
    kept = np.flatnonzero(volume > negligible * graph.capacity)
    kept = kept[np.argsort(-volume[kept], kind="stable")]
    place = np.full(len(volume) + 1, -1, np.int64)
    place[kept] = np.arange(len(kept))
    body, standing = place[body], place[np.array(above, np.int64)]
    highest = np.argsort(rising.z, kind="stable")
    apex = np.empty(len(kept), np.int64)
    apex[body[highest[body[highest] >= 0]]] = highest[body[highest] >= 0]  # the last one stays
    opens = standing[np.asarray(is_vent, np.bool_)]
    vented = np.isin(body, opens[opens >= 0])
    reached = _with_ancestors(sinking, np.unique(sinking.node[vented]))
    found = [_edge_above(graph, sinking, up, int(v), reached) for v in apex]
    seal, shut = np.array(found).reshape(-1, 2).T
    return AirBodies(
        volume[kept],
        graph.vertices[apex] + graph.origin,
        surface[kept],
        standing,
        seal + up @ graph.origin,
        shut,
    )


def roofs_without_vent(
    graph: MeshGraph, up: ArrayLike, vents: ArrayLike, *, negligible: float = NEGLIGIBLE
) -> Roofs:
    """Find the parts of the roof whose air liquid rising evenly would shut off from every vent.

    up : (3,) float [-]   unit vector opposite to gravity, tank frame
    vents : (Q, 3) float [m]   openings to the atmosphere; without any, the highest point is taken.

    Raises as ``air_bodies``.
    """
    up = np.ascontiguousarray(up, np.float64)
    _, sinking = _trees(graph, up)
    everywhere = np.zeros(len(sinking.node), np.int64)
    nodes = len(sinking.birth)
    vented = np.zeros(nodes, np.bool_)
    for p in _points(graph, vents):
        _, corner = _standing(graph, sinking, up, p, everywhere)
        node = int(sinking.node[corner])
        while (
            sinking.parent[node] >= 0 and sinking.z[sinking.birth[sinking.parent[node]]] < -p @ up
        ):
            node = int(sinking.parent[node])
        vented[node] = True
    if not vented.any():
        vented[sinking.node[np.argmin(sinking.z)]] = True
    reached = _with_ancestors(sinking, np.flatnonzero(vented))
    for node in range(nodes - 1, -1, -1):  # all that joins above a vent's mouth is vented by it
        above = sinking.parent[node]
        vented[node] |= above >= 0 and vented[above]
    found = []
    for node in range(nodes):
        above = sinking.parent[node]
        if not (reached[node] or vented[node]) and (above < 0 or reached[above]):
            apex = int(sinking.pit[node])
            found.append((apex, *_edge_above(graph, sinking, up, apex, reached)))
    found = [row for row in found if not row[2] <= negligible * graph.capacity]
    found.sort(key=lambda row: -row[2])
    apexes = np.array([row[0] for row in found], np.int64)
    seal, shut = np.array([row[1:] for row in found]).reshape(-1, 2).T
    return Roofs(graph.vertices[apexes] + graph.origin, seal + up @ graph.origin, shut)


def _trees(graph: MeshGraph, up: Array) -> tuple[MergeTree, MergeTree]:
    """The merge trees along ``up``, of liquid, and along ``-up``, of air."""
    rising, sinking = (grow_tree(graph, way, NEGLIGIBLE) for way in (up, -up))
    if rising.lost or sinking.lost:
        raise ValueError("a drop falls out of the mesh: it is not closed, or a point lies outside")
    return rising, sinking


def _points(graph: MeshGraph, points: ArrayLike) -> Array:
    return np.asarray(points, np.float64).reshape(-1, 3) - graph.origin


def _pool_of_vertices(
    graph: MeshGraph, tree: MergeTree, pits: Ints, height: Array
) -> tuple[Ints, Array]:
    """The pool that each vertex (N,) is in or over, -1 over dry floor; and each level, -1's too."""
    hair = _HAIR * graph.size
    own = np.full(len(tree.birth), -1, np.int64)
    surface = np.append(height, np.nan)
    for k, pit in enumerate(pits):
        node = int(tree.node[np.flatnonzero(graph.source == pit)[0]])
        above = int(tree.parent[node])
        while above >= 0 and tree.z[tree.birth[above]] < height[k] - hair:
            node, above = above, int(tree.parent[above])
        own[node] = k
        brims = above >= 0 and tree.z[tree.birth[above]] <= height[k] + hair
        surface[k] = tree.z[tree.birth[above]] - 2.0 * hair if brims else height[k] + hair
    for node in range(len(own) - 1, -1, -1):  # parents have higher numbers
        if own[node] < 0 and tree.parent[node] >= 0:
            own[node] = own[tree.parent[node]]
    return own[tree.node], surface


def _bodies(graph: MeshGraph, sinking: MergeTree, dry: Bools) -> Ints:
    """Number of the body of air that each vertex (N,) lies in; -1 under liquid."""
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components

    start = np.repeat(np.arange(len(dry)), np.diff(graph.first_edge))
    along = dry[start] & dry[graph.neighbour]
    upward = np.flatnonzero(dry & (sinking.came >= 0))
    one = np.concatenate([start[along], upward])
    other = np.concatenate([graph.neighbour[along], sinking.came[upward]])
    links = coo_array((np.ones(len(one), np.bool_), (one, other)), shape=(len(dry), len(dry)))
    part = connected_components(links, directed=False)[1]
    number = np.unique(part[dry], return_inverse=True)[1]
    body = np.full(len(dry), -1, np.int64)
    body[dry] = number
    return body


def _volumes(
    graph: MeshGraph, up: Array, rising: MergeTree, body: Ints, pool: Ints, surface: Array
) -> tuple[Array, Array]:
    """Volume of each body (K,) [m³], and the free surface of each pool under it (K, P) [m²].

    The field ``(up · x - h) up`` has divergence 1 and is nothing on a surface at height h: summed
    over the dry parts of faces it gives the volume, h being the level that the face reaches down to.
    """
    bodies, pools = int(body.max(initial=-1)) + 1, len(surface)
    corner = np.arange(len(graph.faces))
    order = np.argsort(rising.rank[graph.faces], axis=1)
    ordered = np.take_along_axis(graph.faces, order, axis=1)
    of_face, over = body[ordered[:, 2]], pool[ordered[:, 0]]
    ordered, corner = ordered[of_face >= 0], corner[of_face >= 0]
    of_face, over = of_face[of_face >= 0], over[of_face >= 0]
    z = np.sort(rising.z[ordered], axis=1)
    flow = graph.areas[corner] @ up
    bare = over < 0
    level = np.append(surface, 0.0)[over]
    mean, share = mean_depth(-z[:, ::-1], -level)
    mean = np.where(bare, z.mean(axis=1), mean)
    volume = np.bincount(of_face, flow * mean, bodies)
    pair = of_face * pools + over
    walls = np.bincount(pair[~bare], (flow * share)[~bare], bodies * pools).reshape(bodies, pools)
    crossing = ~bare & (z[:, 0] < level) & (z[:, 2] > level)
    areas = _swept(graph, up, rising.z, corner[crossing], level[crossing])
    area: Array = np.bincount(pair[crossing], areas, bodies * pools).astype(np.float64)
    area = area.reshape(bodies, pools)
    return volume + (walls - area) @ surface, area


def _swept(graph: MeshGraph, up: Array, z: Array, faces: Ints, level: Array) -> Array:
    """What each face's cut with its level adds to the free surface's area [m²]: (F,).

    Seen from above the outline runs anticlockwise: along each face from the edge that goes down
    through the level to the edge that goes up through it.
    """
    grid = grid_for(up, graph.size)
    across = np.array([[grid.ax, grid.ay, grid.az], [grid.bx, grid.by, grid.bz]])
    flat = graph.vertices @ across.T
    ends = np.zeros((2, len(faces), 2))
    for k in range(3):
        a, b = graph.faces[faces, k], graph.faces[faces, (k + 1) % 3]
        through = (z[a] < level) != (z[b] < level)
        share = np.where(through, (level - z[a]) / np.where(through, z[b] - z[a], 1.0), 0.0)
        at = flat[a] + share[:, None] * (flat[b] - flat[a])
        ends[(z[a] < level).astype(int)[through], np.flatnonzero(through)] = at[through]
    (px, py), (qx, qy) = ends[0].T, ends[1].T
    return np.asarray(0.5 * (px * qy - py * qx))


def _standing(
    graph: MeshGraph, sinking: MergeTree, up: Array, point: Array, body: Ints
) -> tuple[int, int]:
    """The body of air straight above a point, -1 where there is none, and a vertex of it."""
    face, _ = drop_from_point(graph, grid_for(-up, graph.size), point)
    if face < 0:
        return -1, -1
    corners = graph.faces[face]
    top = int(corners[np.argmin(sinking.rank[corners])])
    return int(body[top]), top


def _with_ancestors(tree: MergeTree, nodes: Ints) -> Bools:
    """Mark nodes (M,) and all that they become part of."""
    marked = np.zeros(len(tree.birth), np.bool_)
    marked[nodes] = True
    for node in range(len(marked)):
        if marked[node] and tree.parent[node] >= 0:
            marked[tree.parent[node]] = True
    return marked


def _edge_above(
    graph: MeshGraph, sinking: MergeTree, up: Array, apex: int, reached: Bools
) -> tuple[float, float]:
    """Height [m] of the edge below which the apex's body joins a vented one; room above it [m³]."""
    node = int(sinking.node[apex])
    while not reached[node] and sinking.parent[node] >= 0 and not reached[sinking.parent[node]]:
        node = int(sinking.parent[node])
    if reached[node]:
        return np.nan, np.nan
    inside = np.zeros(len(sinking.birth), np.bool_)
    inside[node] = True
    for part in range(node - 1, -1, -1):
        inside[part] = sinking.parent[part] >= 0 and inside[sinking.parent[part]]
    order = np.argmin(sinking.rank[graph.faces], axis=1)
    faces = np.flatnonzero(inside[sinking.node[graph.faces[np.arange(len(order)), order]]])
    z = np.sort(sinking.z[graph.faces[faces]], axis=1)
    above = sinking.parent[node]
    edge = float(sinking.z[sinking.birth[above]]) if above >= 0 else float(z.max())
    mean, _ = mean_depth(z, np.full(len(z), edge))
    return (-edge if above >= 0 else np.nan), float((graph.areas[faces] @ up * mean).sum())
