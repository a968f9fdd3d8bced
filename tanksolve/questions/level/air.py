"""Air above the liquid: which of it reaches a breather, and what shut-in air does to the levels.

Every level that is computed here takes all air as open to the atmosphere. Where it is not, liquid
stands otherwise, within bounds that need no more than volumes: docs/theory/air.md.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.pools.air import AirBodies, air_bodies, roofs_without_vent
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.questions.level.hollows import least_to_reach
from tanksolve.questions.level.pools import PoolsAt
from tanksolve.unit_systems import told
from tanksolve.units import length_words, volume_words

Array = NDArray[np.float64]
Point = tuple[float, float, float]
Box = tuple[str, Array, Array]

__all__ = ["LEAST", "WORTH_SAYING", "Air", "AirPocket", "RoofBay", "air_above", "roof_bays"]

WORTH_SAYING = 1e-3  # of the tank's volume: no words are made of smaller pockets
LEAST = 1e-6  # of the tank's volume: smaller pockets are not listed
_ATMOSPHERE = 101325.0  # Pa, US Standard Atmosphere 1976 at sea level
_GRAVITY = 9.80665  # m/s²
_WATER = 1000.0  # kg/m³, taken where no density is known: heavier than oils and fuels


@dataclass(frozen=True)
class AirPocket:
    """One body of air above settled liquid.

    Attributes
    ----------
    vented : whether a breather that is wholly dry opens into it; None where no breather is given.
    breathers : names of those that do.
    top_point_m : a highest point of it, tank frame [m].
    ports : names of the ports in it or straight below it.
    edge_depth_m : how far the edge that shuts it in lies under the liquid next to it [m], and so
        how far, at most, the level under it may lie below that computed; None where it is vented
        and where no edge would ever open it.
    shut_in_most_m3 : the most air that this edge can have shut in at this attitude [m³].
    lower_elsewhere_m, higher_elsewhere_m : how far the surfaces beyond the edge may lie below and
        above those computed, about [m]; None where there is none beyond.
    squeezed_most : share of its volume that the head of liquid may press such air together by.
    """

    volume_m3: float
    vented: bool | None
    breathers: tuple[str, ...]
    top_point_m: Point
    ports: tuple[str, ...]
    edge_depth_m: float | None
    shut_in_most_m3: float | None
    lower_elsewhere_m: float | None
    higher_elsewhere_m: float | None
    squeezed_most: float | None


@dataclass(frozen=True)
class Air:
    """All air of the tank at one attitude, the greatest pocket first.

    Attributes
    ----------
    breathers_under_liquid : names of those of whose opening any part is under liquid: they are
        taken not to vent.
    warnings : what cannot vent and what that does, in words; empty where all is well.
    """

    pockets: tuple[AirPocket, ...]
    breathers_under_liquid: tuple[str, ...]
    warnings: tuple[str, ...]


@dataclass(frozen=True)
class RoofBay:
    """A part of the roof whose air is shut off once liquid stands above an edge, on level ground.

    Attributes
    ----------
    names : the compartments that it belongs to; empty where none are known.
    top_m : a highest point, from rear wall, right wall and floor [m].
    edge_m : height of the edge over the floor [m]; None where the space reaches no vent at all.
    shut_in_m3 : the room above the edge: air that stays when the tank is filled past it.
    from_m3 : with less liquid than this none can stand at the edge; 0 where a hollow may hold it all, or
        where there is no edge.
    words : all that, as a warning.
    """

    names: tuple[str, ...]
    top_m: Point
    edge_m: float | None
    shut_in_m3: float
    from_m3: float
    words: str


def air_above(
    tank: Tank, settled: PoolsAt, ports: Sequence[Port], *, density: float | None = None
) -> Air:
    """Find the bodies of air above settled liquid, and say what the shut-in ones do to the levels.

    settled : from :func:`tanksolve.questions.level.pools.pools`, of the same tank and ports.
    density : of the liquid [kg/m³]; None takes water's, heavier than oils and fuels.
    """
    wet = {judged.name for judged in settled.ports if judged.wet}
    breathers = [port for port in ports if port.kind is PortKind.BREATHER]
    bodies = (
        _one_body(tank, settled, ports)
        if tank.is_convex
        else air_bodies(
            tank.graph,
            settled.up,
            [np.argmin(((tank.vertices - pool.pit_m) ** 2).sum(axis=1)) for pool in settled.pools],
            [pool.level_height_m for pool in settled.pools],
            [tank.seated(port.position) for port in ports],
            [port in breathers and port.name not in wet for port in ports],
            negligible=LEAST,
        )
    )
    density = _WATER if density is None else density
    pockets = tuple(
        _pocket(bodies, k, settled, ports, bool(breathers), density * _GRAVITY / _ATMOSPHERE)
        for k in range(len(bodies.volume))
    )
    under = tuple(port.name for port in breathers if port.name in wet)
    told = [
        f"breather {name} is under liquid: it does not vent, and liquid may leave through it"
        for name in under
    ]
    spoken = [
        (k, pocket)
        for k, pocket in enumerate(pockets, start=1)
        if pocket.volume_m3 > WORTH_SAYING * tank.capacity
    ]
    if not breathers and len(spoken) > 1:
        told.append(
            f"the air stands in {len(spoken)} bodies that do not meet, and no breather is given: "
            "the levels take each of them as open to the atmosphere"
        )
    pickups = {port.name for port in ports if port.kind is PortKind.PICKUP}
    told += [_effect(k, pocket, pickups) for k, pocket in spoken if pocket.vented is False]
    return Air(pockets, under, tuple(told))


def _one_body(tank: Tank, settled: PoolsAt, ports: Sequence[Port]) -> AirBodies:
    """The air of a convex tank, where nothing can shut off a part of it."""
    air = tank.capacity - settled.volume_m3
    some = int(air > LEAST * tank.capacity)
    top = tank.vertices[np.argmax(tank.vertices @ settled.up)]
    return AirBodies(
        volume=np.full(some, air),
        top=np.tile(top, (some, 1)),
        surface=np.full((some, 1), settled.pools[0].surface_area_m2),
        standing=np.full(len(ports), some - 1),
        seal=np.full(some, np.nan),
        shut=np.full(some, np.nan),
    )


def _pocket(
    bodies: AirBodies,
    k: int,
    settled: PoolsAt,
    ports: Sequence[Port],
    known: bool,
    per_metre: float,
) -> AirPocket:
    """One body of air; ``per_metre`` is the share of an atmosphere that a metre of liquid weighs."""
    here = [port for q, port in enumerate(ports) if bodies.standing[q] == k]
    under = {judged.name for judged in settled.ports if judged.wet}
    open_ = tuple(p.name for p in here if p.kind is PortKind.BREATHER and p.name not in under)
    volume, seal, shut = float(bodies.volume[k]), float(bodies.seal[k]), float(bodies.shut[k])
    touched = np.flatnonzero(bodies.surface[k] > 0.0)
    depth = lower = higher = squeezed = None
    if known and not open_ and not math.isnan(seal) and len(touched):
        depth = max(settled.pools[p].level_height_m for p in touched) - seal
        beyond = sum(settled.pools[p].surface_area_m2 - bodies.surface[k, p] for p in touched)
        if beyond > 1e-9 * bodies.surface[k].sum():
            lower = float(min(volume / beyond, max(depth, 0.0)))
            higher = float(max(shut - volume, 0.0) / beyond)
            head = per_metre * (max(depth, 0.0) + higher)
            squeezed = head / (1.0 + head)
    return AirPocket(
        volume_m3=volume,
        vented=bool(open_) if known else None,
        breathers=open_,
        top_point_m=_point(bodies.top[k]),
        ports=tuple(port.name for port in here if port.name not in open_),
        edge_depth_m=depth,
        shut_in_most_m3=None if depth is None else shut,
        lower_elsewhere_m=lower,
        higher_elsewhere_m=higher,
        squeezed_most=squeezed,
    )


def _effect(number: int, pocket: AirPocket, pickups: set[str]) -> str:
    """What one pocket without a vent does, in words."""
    below = [name for name in pocket.ports if name in pickups]
    over = f" over {' and '.join(below)}" if below else ""
    head = f"air body {number} ({volume_words(pocket.volume_m3)}{over}) cannot vent"
    if pocket.lower_elsewhere_m is None or pocket.shut_in_most_m3 is None:
        pull = 1e-3 / (pocket.volume_m3 + 1e-3) * _ATMOSPHERE
        return (
            f"{head}, and nor can what stands under it: the first litre drawn from there pulls a "
            f"vacuum of about {1e-3 * pull:.1f} kPa, each further one more, until the flow stops"
        )
    assert pocket.edge_depth_m is not None
    assert pocket.higher_elsewhere_m is not None
    return (
        f"{head}: the edge that shuts it in is {length_words(pocket.edge_depth_m)} under liquid. "
        "Filled like that, the level under it may be that much lower than computed, and beyond the "
        f"edge up to about {length_words(pocket.higher_elsewhere_m)} higher. Drawn down like that, "
        f"up to {volume_words(pocket.volume_m3)} hangs back under it, and the level beyond may be "
        f"up to about {length_words(pocket.lower_elsewhere_m)} lower"
    )


def roof_bays(tank: Tank, ports: Sequence[Port], bays: Sequence[Box] = ()) -> tuple[RoofBay, ...]:
    """Find the parts of the roof without a vent gap and without a breather, on level ground.

    bays : name, rear right bottom and front left top (3,) [m] of each compartment, from rear wall,
        right wall and floor. Without any breather the tank's highest point is taken to be vented.
    """
    if tank.is_convex:
        return ()
    breathers = [port for port in ports if port.kind is PortKind.BREATHER]
    up = np.array([0.0, 0.0, 1.0])
    roofs = roofs_without_vent(tank.graph, up, [port.position for port in breathers])
    floor = float(tank.vertices[0] @ up) - tank.from_walls(tank.vertices[0])[2]
    found = []
    for top, seal, shut in zip(roofs.top, roofs.seal, roofs.shut, strict=True):
        if shut < WORTH_SAYING * tank.capacity:
            continue
        at = tank.from_walls(top)
        edge = None if math.isnan(seal) else float(seal) - floor
        names = tuple(name for name, low, high in bays if _within(at, low, high, tank))
        words = _roof_words(names, at, edge, float(shut), bool(breathers))
        least = 0.0 if edge is None else least_to_reach(tank, float(seal))
        found.append(RoofBay(names, at, edge, float(shut), least, words))
    return tuple(found)


def _within(at: Point, low: Array, high: Array, tank: Tank) -> bool:
    hair = 1e-6 * float(np.linalg.norm(tank.upper - tank.lower))
    return bool(np.all(at >= low - hair) and np.all(at <= high + hair))


def _roof_words(
    names: Sequence[str], at: Point, edge: float | None, shut: float, known: bool
) -> str:
    x, y, z = (length_words(c) for c in at)
    place = f"its top is {x} from the rear wall, {y} from the right wall, {z} above the floor"
    which = f"bay {' or '.join(names)}" if names else "part of the roof"
    if edge is None:
        return f"{which} ({volume_words(shut)}) has no way to a breather at any level; {place}"
    lacks = (
        "no vent gap and no breather" if known else "no vent gap to the rest (no breather given)"
    )
    return (
        f"{which} has {lacks} at its roof: filled past {told(edge, 'length', 'down')} above the floor it "
        f"shuts in up to {told(shut, 'volume', 'up')} of air; {place}"
    )


def _point(values: Array) -> Point:
    x, y, z = (float(v) for v in values)
    return x, y, z
