"""Pickups over which the air cannot vent, at a few attitudes: a caution beside limits.

Where walls part the liquid it is asked of three states in which it may be at rest: one level through
the whole tank; the worst for the pickup, on which its limit rests; and the one in which its own pool
stands highest, which covers the edges that shut air in. None of them depends on a route.
"""

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.support import support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.pools.air import air_bodies
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.level.air import LEAST, WORTH_SAYING, air_above
from tanksolve.questions.level.hollows import top_of
from tanksolve.questions.level.pools import pools
from tanksolve.questions.level.worst_pools import corner_below, worst_pools
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]
Rest = list[tuple[int, float]]  # pools: a vertex of the tank's mesh in each, and its level [m]

__all__ = ["shut_bays"]

_HAIR = 1e-9  # of the tank's size


def shut_bays(
    tank: Tank,
    ports: Sequence[Port],
    volume: float,
    attitudes: Iterable[tuple[str, Attitude]],
) -> tuple[str, ...]:
    """Name the pickups over which the air cannot vent, and at which of a few named attitudes.

    volume : liquid [m³]. Nothing is said where no breather is given.
    """
    if not any(port.kind is PortKind.BREATHER for port in ports):
        return ()
    volume = min(volume, tank.capacity * (1.0 - 1e-9))  # brim-full no plane marks the top
    where: dict[str, list[str]] = {}
    for words, attitude in attitudes:
        for name in _under_shut_air(tank, ports, volume, attitude):
            where.setdefault(name, []).append(words)
    return tuple(
        f"the air over pickup {name} cannot vent {', '.join(places)}: the limits take it as open, and "
        "the level there is not as computed; 'tanksolve level' tells by how much"
        for name, places in sorted(where.items())
    )


def _under_shut_air(
    tank: Tank, ports: Sequence[Port], volume: float, attitude: Attitude
) -> set[str]:
    """Names of the pickups under air that cannot vent in one of the states asked for."""
    pickups = [port for port in ports if port.kind is PortKind.PICKUP]
    names = {port.name for port in pickups}
    if tank.is_convex or tank.links:  # with links the worst state is not told pool by pool
        air = air_above(tank, pools(tank, volume, attitude, ports), ports)
        shut = [p for p in air.pockets if p.vented is False]
        worth = [p for p in shut if p.volume_m3 > WORTH_SAYING * tank.capacity]
        return {name for pocket in worth for name in names.intersection(pocket.ports)}
    tree = grow_tree(tank.graph, np.array(attitude.up), NEGLIGIBLE)
    rests = [_one_level(tank, tree, volume, attitude)]
    for pickup in pickups:
        rests += _around(tank, volume, attitude, pickup)
    return {name for rest in rests for name in _shut(tank, tree, attitude, ports, rest)}


def _one_level(tank: Tank, tree: MergeTree, volume: float, attitude: Attitude) -> Rest:
    """One level through the whole tank: a pool in each hollow that it reaches."""
    up = np.array(attitude.up)
    level = float(levels(tank.tree, up[None], volume)[0][0])
    height = level - float(up @ tank.graph.origin)
    tops = {top_of(tree, node, height) for node in range(len(tree.birth)) if tree.left[node] < 0}
    pits = (tree.pit[node] for node in tops)
    return [(int(tank.graph.source[pit]), level) for pit in pits if tree.z[pit] < height]


def _around(tank: Tank, volume: float, attitude: Attitude, pickup: Port) -> Iterator[Rest]:
    """The states in which the liquid over a pickup stands lowest and, over its place, highest."""
    wet = replace(pickup, rule=Rule.WET)
    dry = replace(pickup, rule=Rule.DRY, cover=0.0, bore=None, facing=None, length=0.0, rim=())
    for port in (wet, dry):
        asked = Conditions.of(tank, [port], volume)
        margin = float(asked.margins_at_fill(np.array([attitude.up]), np.array([volume]))[0, 0])
        if np.isfinite(margin):
            found = worst_pools(tank, volume, attitude, port, margin)
            yield [
                (int(np.argmin(((tank.vertices - p.pit_m) ** 2).sum(axis=1))), p.level_height_m)
                for p in found.pools
            ]


def _shut(
    tank: Tank, tree: MergeTree, attitude: Attitude, ports: Sequence[Port], rest: Rest
) -> set[str]:
    """Names of the pickups that stand under air that no dry breather opens into."""
    up = np.array(attitude.up)
    breathers = [port.kind is PortKind.BREATHER for port in ports]
    vents = [
        vents and not _is_wet(tank, tree, up, port, rest)
        for port, vents in zip(ports, breathers, strict=True)
    ]
    bodies = air_bodies(
        tank.graph,
        up,
        [pit for pit, _ in rest],
        [level for _, level in rest],
        [tank.seated(port.position) for port in ports],
        vents,
        negligible=LEAST,
    )
    open_ = {int(bodies.standing[q]) for q in range(len(ports)) if vents[q]}
    return {
        port.name
        for port, body in zip(ports, bodies.standing, strict=True)
        if port.kind is PortKind.PICKUP
        and body >= 0
        and int(body) not in open_
        and bodies.volume[body] > WORTH_SAYING * tank.capacity
    }


def _is_wet(tank: Tank, tree: MergeTree, up: Array, port: Port, rest: Rest) -> bool:
    """Whether any part of a port's opening is under the pool that it stands in or over."""
    low = float(support_low(port.discs, up[None])[0])
    own = int(tree.node[corner_below(tank, up, np.asarray(tank.seated(port.position)))])
    for pit, level in rest:
        height = level - float(up @ tank.graph.origin) - _HAIR * tank.graph.size
        node = int(tree.node[np.flatnonzero(tank.graph.source == pit)[0]])
        if low < level and top_of(tree, own, height) == top_of(tree, node, height):
            return True
    return False
