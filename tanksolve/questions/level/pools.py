"""Which liquid is where once walls part it: the pools at an attitude, and which port stands in which.

Where the liquid stands depends on how it got there: how the tank was filled, and the attitudes the
machine went through. Both are part of the question and are named in the answer.
"""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FillError
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.settle import Settled
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.level.link_states import LinkAt, links_at, out_of_reach
from tanksolve.result import Result
from tanksolve.state.route import carried_to_each_side
from tanksolve.unit_systems import stated, told

Array = NDArray[np.float64]

__all__ = ["Pool", "PoolsAt", "PortInPool", "pools"]


@dataclass(frozen=True)
class Pool:
    """Liquid with one surface.

    Attributes
    ----------
    level_height_m : height of the surface along up above the tank frame's origin [m].
    pit_m : its lowest point, tank frame [m].
    ports : names of the ports that stand in it or, if dry, over it.
    """

    volume_m3: float
    level_height_m: float
    surface_area_m2: float
    pit_m: tuple[float, float, float]
    ports: tuple[str, ...]


@dataclass(frozen=True)
class PortInPool:
    """One port against the level of its own pool.

    Attributes
    ----------
    pool : place in the list of pools; None where what lies below the port is dry.
    margin_m : how far the rule is kept [m], cover or clearance taken off; negative where broken.
        For a port without a rule: liquid over its highest point. Over a dry bay the level is that
        of the bay's lowest point.
    wet : whether any part of the opening is under liquid.
    covered : whether all of the opening is under liquid.
    holds : whether the port's rule is kept; true where it has none.
    """

    name: str
    kind: str
    rule: str
    pool: int | None
    margin_m: float
    wet: bool
    covered: bool
    holds: bool


@dataclass(frozen=True, eq=False, repr=False)
class PoolsAt(Result):
    """The pools at one attitude, greatest first; SI, tank frame.

    Attributes
    ----------
    filled : how the tank was filled, in words.
    path : how the machine came to the attitude, in words.
    trapped_m3 : liquid in pools that no pickup dips into [m³]; None where there is no pickup.
        What lies below a pickup's mouth in its own pool is not counted here, nor what runs to it
        through a flap or a balance pipe.
    attitudes_settled : attitudes that the liquid was carried through on the way.
    links : flaps and balance pipes, open or shut.
    close_to_m : by how much halving the steps of the route last moved a level over a port [m].
    level_crest : whether the route leads liquid to a crest that is level to rounding; told is the side
        that is worse for the ports.
    """

    rows_of: ClassVar[str] = "pools"

    up: tuple[float, float, float]
    volume_m3: float
    filled: str
    path: str
    pools: tuple[Pool, ...]
    ports: tuple[PortInPool, ...]
    trapped_m3: float | None
    attitudes_settled: int
    links: tuple[LinkAt, ...] = ()
    close_to_m: float = 0.0
    level_crest: bool = False


def pools(
    tank: Tank,
    fill: float,
    attitude: Attitude | None = None,
    ports: Sequence[Port] = (),
    *,
    path: Sequence[Attitude] = (),
    filled_at: Port | None = None,
) -> PoolsAt:
    """Settle ``fill`` [m³] on level ground, carry it to ``attitude``, and tell the pools.

    path : attitudes to go through, from level ground, before ``attitude``; none goes straight there.
    filled_at : poured in here on level ground; None takes the first filler among ``ports``, and
        where there is none all bays stand at one level there.
    Raises FillError for a volume that is not above zero or does not fit, PortError for ports outside.
    """
    volume, attitude = fill, attitude or Attitude.level()
    tank.check_ports(ports)
    if not 0.0 < volume <= tank.capacity:
        raise FillError(
            f"a fill of {stated(volume, 'volume')} does not fit the tank",
            allowed=f"more than 0 L, up to {told(tank.capacity, 'volume')}",
        )
    way = np.array([(0.0, 0.0, 1.0), *(stop.up for stop in path), attitude.up])
    words = "straight from level ground"
    if path:
        words = f"through {len(path)} attitude{'s' * (len(path) != 1)} as given"
    if tank.is_convex:
        return _one_pool(tank, volume, attitude, ports, words)
    fillers = [port for port in ports if port.kind is PortKind.FILLER]
    source = filled_at or (fillers[0] if fillers else None)
    found = carried_to_each_side(
        tank,
        way,
        volume,
        np.array([tank.seated(port.position) for port in ports]).reshape(-1, 3),
        np.array([] if source is None else [tank.seated(source.position)]).reshape(-1, 3),
    )
    filled = f"poured in at '{source.name}'" if source else "all bays at one level on level ground"
    answers = [
        replace(
            _answer(tank, volume, attitude, ports, settled, filled, words),
            close_to_m=moved,
            level_crest=len(found) > 1,
        )
        for settled, moved in found
    ]
    return min(answers, key=_least_margin)


def _least_margin(found: PoolsAt) -> float:
    """Of the ports with a rule [m]: where a crest is level to rounding the worse side is told."""
    return min((port.margin_m for port in found.ports if port.rule != str(Rule.NONE)), default=0.0)


def _one_pool(
    tank: Tank, volume: float, attitude: Attitude, ports: Sequence[Port], words: str
) -> PoolsAt:
    """The answer for a convex tank, where nothing can be cut off and no way matters."""
    up = np.array([attitude.up])
    height = levels(tank.tree, up, volume)[0]
    area = volumes(tank.tree, up, height)[1]
    judged = tuple(_judge(port, up, float(height[0]), 0) for port in ports)
    pit = tank.vertices[np.argmin(tank.vertices @ up[0])]
    names = tuple(port.name for port in ports)
    one = Pool(volume, float(height[0]), float(area[0]), _point(pit), names)
    has_pickup = any(port.kind is PortKind.PICKUP for port in ports)
    dips = any(port.kind == PortKind.PICKUP and port.wet for port in judged)
    trapped = (0.0 if dips else volume) if has_pickup else None
    return PoolsAt(attitude.up, volume, "one level, any way", words, (one,), judged, trapped, 0)


def _answer(
    tank: Tank,
    volume: float,
    attitude: Attitude,
    ports: Sequence[Port],
    found: Settled,
    filled: str,
    words: str,
) -> PoolsAt:
    last = -1
    number = int(found.number[0, last])
    order = np.argsort(-found.volume[0, last, :number], kind="stable")
    place = {int(pool): at for at, pool in enumerate(order)}
    judged = tuple(
        _judge(
            port,
            np.array([attitude.up]),
            float(found.port_level[0, last, q]),
            place.get(int(found.port_pool[0, last, q])),
        )
        for q, port in enumerate(ports)
    )
    listed = tuple(
        Pool(
            volume_m3=float(found.volume[0, last, pool]),
            level_height_m=float(found.level[0, last, pool]),
            surface_area_m2=float(found.area[0, last, pool]),
            pit_m=_point(tank.vertices[found.pit[0, last, pool]]),
            ports=tuple(port.name for port in judged if port.pool == at),
        )
        for at, pool in enumerate(order)
    )
    drawn = {
        int(order[port.pool])
        for port in judged
        if port.kind == PortKind.PICKUP and port.wet and port.pool is not None
    }
    has_pickup = any(port.kind is PortKind.PICKUP for port in ports)
    trapped = out_of_reach(found, drawn)
    return PoolsAt(
        up=attitude.up,
        volume_m3=volume,
        filled=filled,
        path=words,
        pools=listed,
        ports=judged,
        trapped_m3=float(trapped) if has_pickup else None,
        attitudes_settled=int(found.attitudes[0]),
        links=links_at(tank.links, found, place),
    )


def _point(values: Array) -> tuple[float, float, float]:
    x, y, z = (float(v) for v in values)
    return x, y, z


def _judge(port: Port, up: Array, surface: float, pool: int | None) -> PortInPool:
    """Hold a port's rule against the level of the pool that it stands in or over."""
    top = float(support_high(port.discs, up)[0])
    bottom = float(support_low(port.discs, up)[0])
    rule = port.effective_rule
    if rule is Rule.DRY:
        margin = bottom - port.required_cover - surface
    elif rule is Rule.WET:
        margin = surface - top - port.required_cover
    else:
        margin = surface - top
    wet = pool is not None and bottom < surface
    kept = margin >= 0.0 if rule is Rule.DRY else margin >= 0.0 and pool is not None
    return PortInPool(
        name=port.name,
        kind=str(port.kind),
        rule=str(rule),
        pool=pool,
        margin_m=margin,
        wet=wet,
        covered=pool is not None and top <= surface,
        holds=rule is Rule.NONE or kept,
    )
