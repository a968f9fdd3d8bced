"""The worst state that a port may stand in at one attitude, as pools: for pictures.

What :mod:`tanksolve.state` bounds is the level over a port in the state of rest that is worst for it.
For a wet port that is its own pool at that level, and every other hollow full to the brim over which it
would run to the port (or, where these have room for all of it, what there is); for a dry one its own
pool, and what that has no room for elsewhere.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.pools.pool_shape import volume_to
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.level.pools import Pool, PoolsAt, PortInPool

Array = NDArray[np.float64]

__all__ = ["corner_below", "worst_pools"]

_NOTHING = 1e-9  # of the capacity
_STEP = 1e-6  # m: over which a pool's surface is told


def worst_pools(
    tank: Tank, volume: float, attitude: Attitude, port: Port, margin: float
) -> PoolsAt:
    """The pools of the state in which a port has ``margin`` [m], the least that any route leaves it.

    volume : of all liquid [m³]. What the pools told do not hold is elsewhere, and where is not known: of a
    dry port, and in a tank with flaps or pipes. Only the port itself is judged.
    """
    up = np.array(attitude.up)
    wet = port.effective_rule is Rule.WET
    if wet:
        level = float(support_high(port.discs, up[None])[0]) + port.required_cover + margin
    else:
        level = float(support_low(port.discs, up[None])[0]) - port.required_cover - margin
    graph = tank.graph
    shift = float(up @ graph.origin)
    tree = grow_tree(graph, up, NEGLIGIBLE)
    own = int(tree.node[corner_below(tank, up, np.asarray(tank.seated(port.position)))])
    while tree.parent[own] >= 0 and tree.z[tree.birth[tree.parent[own]]] < level - shift:
        own = int(tree.parent[own])
    filled = [(own, level - shift)]
    if wet and not tank.links:
        left = volume - max(volume_to(graph, tree, up, own, level - shift), 0.0)
        for node, brim in _brimful(tree, own):
            filled += _poured(tank, tree, up, node, brim, left)
            left -= volume_to(graph, tree, up, node, brim)
    found = [_pool(tank, tree, up, node, height) for node, height in filled]
    pools = [pool for pool in found if pool.volume_m3 > _NOTHING * graph.capacity]
    stands = bool(pools) and pools[0] is found[0]
    pools.sort(key=lambda pool: -pool.volume_m3)
    at = pools.index(found[0]) if stands else None
    judged = PortInPool(
        *(port.name, str(port.kind), str(port.effective_rule), at, margin),
        wet=stands,
        covered=margin >= 0.0 if wet else margin < 0.0,
        holds=margin >= 0.0,
    )
    words = "the worst state of rest for this port, whatever the machine did before"
    return PoolsAt(attitude.up, volume, "any way", words, tuple(pools), (judged,), None, 0)


def corner_below(tank: Tank, up: Array, place: Array) -> int:
    """Lowest corner of the face straight below a place (3,) [m]."""
    graph = tank.graph
    corners = graph.vertices[graph.faces] + graph.origin
    a, u, v = corners[:, 0], corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]
    flat, away = np.cross(u, v) @ up, place - a
    upright = np.abs(flat) <= 1e-12 * graph.size**2
    flat = np.where(upright, 1.0, flat)
    first, second = np.cross(away, v) @ up / flat, np.cross(u, away) @ up / flat
    fall = np.einsum("fi,fi->f", np.cross(u, v), away) / flat
    edge = 1e-9
    hit = (first >= -edge) & (second >= -edge) & (first + second <= 1.0 + edge)
    hit &= ~upright & (fall >= -edge)
    if not hit.any():
        raise ValueError("the port stands over no face")
    face = int(np.flatnonzero(hit)[np.argmin(fall[hit])])
    ends = graph.faces[face]
    return int(ends[np.argmin(graph.vertices[ends] @ up)])


def _brimful(tree: MergeTree, own: int) -> list[tuple[int, float]]:
    """Every hollow beside the way up from the node ``own``, and the saddle that it runs over."""
    out = []
    node = own
    while tree.parent[node] >= 0:
        above = int(tree.parent[node])
        other = int(tree.left[above]) if tree.left[above] != node else int(tree.right[above])
        out.append((other, float(tree.z[tree.birth[above]])))
        node = above
    return out


def _poured(
    tank: Tank, tree: MergeTree, up: Array, node: int, brim: float, amount: float
) -> list[tuple[int, float]]:
    """A hollow with an amount [m³] in it, or as much as it holds: nodes and levels."""
    from scipy.optimize import brentq  # a third of a second to import

    def held(height: float) -> float:
        return float(volume_to(tank.graph, tree, up, node, height))

    if amount <= _NOTHING * tank.graph.capacity:
        return []
    if amount >= held(brim):
        return [(node, brim)]
    begins = float(tree.z[tree.birth[node]])
    if tree.left[node] < 0 or amount >= held(begins):
        return [(node, float(brentq(lambda h: held(h) - amount, begins, brim, xtol=1e-12)))]
    first, second = int(tree.left[node]), int(tree.right[node])
    full = float(volume_to(tank.graph, tree, up, first, begins))
    return [
        *_poured(tank, tree, up, first, begins, amount),
        *_poured(tank, tree, up, second, begins, amount - full),
    ]


def _pool(tank: Tank, tree: MergeTree, up: Array, node: int, height: float) -> Pool:
    held = volume_to(tank.graph, tree, up, node, height)
    below = volume_to(tank.graph, tree, up, node, height - _STEP)
    x, y, z = (float(c) for c in tank.graph.vertices[tree.pit[node]] + tank.graph.origin)
    level = height + float(up @ tank.graph.origin)
    return Pool(max(held, 0.0), level, max(held - below, 0.0) / _STEP, (x, y, z), ())
