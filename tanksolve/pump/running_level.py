"""The bays at one attitude while the pump runs, and the seconds that are left once inflow stops."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.attitude import Attitude
from tanksolve.model.bays import Gap
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import head_for_flow
from tanksolve.pump.door import door_of_gap
from tanksolve.pump.flow_ports import check_flow
from tanksolve.pump.network import NetworkState, run_network, worst_start
from tanksolve.pump.return_flow import stated_drop
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.settling_time import SettlingTime, settling_times
from tanksolve.unit_systems import told

Array = NDArray[np.float64]

__all__ = [
    "OpeningAtLevel",
    "PickupRunning",
    "RunningLevel",
    "running_level",
    "running_level_stated",
]


@dataclass(frozen=True)
class OpeningAtLevel:
    """An opening on the way of the flow to a pickup.

    Attributes
    ----------
    from_bay, to_bay : names of the bays that the flow leaves and enters; None where not known.
    flow_m3_s : its share of the flow between the two bays.
    drop_m : difference of level across it [m]; None where the flow is not carried.
    under : ``whole`` where all of it is below the level behind it, ``part`` where some is, ``none``
        where liquid falls free through it, ``dry`` where it is above both levels, ``taken to be
        whole`` where it is only stated.
    """

    name: str
    from_bay: str | None
    to_bay: str | None
    area_m2: float
    flow_m3_s: float
    drop_m: float | None
    under: str


@dataclass(frozen=True)
class PickupRunning:
    """A pickup's bay in steady running.

    Attributes
    ----------
    rest_level_m, level_m : levels of its pool at rest and of its bay in steady running, along up
        above the tank frame's origin [m]; the lower of the two counts.
    lowered_m : by how much the second is lower; None where there is no steady state.
    carried : whether there is a steady state: the openings carry the flow with what is in the tank,
        dead ends being as full as any drive can have left them, and the mouth stays under.
    why_not : where there is none, why, in words; else empty.
    margin_m : of the pickup's rule in steady running [m].
    bay : its name; None where the bays are not known.
    left_m3 : liquid in its bay between the level and the mouth [m³]; nothing is counted that may
        still come from other bays. From the level at rest where the flow is not carried. None
        where the bay is not known and liquid has parted.
    seconds_left : for which that lasts once inflow stops, at the flow of all pickups in the bay;
        where there is no steady state the mouth is bare no sooner than this.
    """

    name: str
    bay: str | None
    flow_m3_s: float
    rest_level_m: float
    level_m: float
    lowered_m: float | None
    carried: bool
    margin_m: float
    left_m3: float | None
    seconds_left: float | None
    openings: tuple[OpeningAtLevel, ...]
    why_not: str = ""


@dataclass(frozen=True)
class RunningLevel:
    """A tank in steady running at one attitude.

    Attributes
    ----------
    flow_m3_s : of all pickups together.
    dwell_s : volume over flow, as if all of it were changed in turn.
    discharge : coefficient of the openings.
    settling : for each two bays with an opening between, how long they take to stand level.
    imbalance_m3_s : where all bays were solved as a network (several pickups, or more than one way
        round): the most that comes into a bay less what goes out; else None.
    """

    flow_m3_s: float
    dwell_s: float
    return_bay: str | None
    discharge: float
    pickups: tuple[PickupRunning, ...]
    settling: tuple[SettlingTime, ...]
    imbalance_m3_s: float | None = None


def running_level(
    flow: ReturnFlow,
    volume: float,
    attitude: Attitude,
    ports: Sequence[Port],
    rest_margins: dict[str, float],
) -> RunningLevel:
    """Tell the bays at one attitude while the pump runs.

    rest_margins : margin [m] of each pickup at rest, by the port's name.

    Raises PortError where it is not known what each of several returns brings back.
    """
    drawn = [port for port in ports if port.name in flow.pickups]
    up = np.array([attitude.up])
    network = None
    if len(flow.sources) > 1 and flow.brought is None:
        raise PortError(
            f"{len(flow.sources)} returns are given, and not what each brings back",
            where="--flow",
            next_step="say it by the return's name, as in --flow NAME=20L/min, for all of them but one",
        )
    if not flow.has_one_way and any(flow.crosses(port.name) for port in drawn):
        mouths = {port.name: float(support_high(port.discs, up)[0]) for port in drawn}
        network = run_network(flow, up[0], worst_start(flow, up[0], volume), mouths)
    return RunningLevel(
        flow_m3_s=flow.total,
        dwell_s=volume / flow.total,
        return_bay=", ".join(flow.bays.bays[bay].name for bay in dict.fromkeys(flow.sources)),
        discharge=flow.discharge,
        pickups=tuple(
            _pickup(flow, volume, up, port, rest_margins[port.name], network) for port in drawn
        ),
        settling=settling_times(flow, volume, attitude),
        imbalance_m3_s=None if network is None else network.imbalance_m3_s,
    )


def running_level_stated(
    tank: Tank,
    volume: float,
    attitude: Attitude,
    ports: Sequence[Port],
    rest_margins: dict[str, float],
    areas: Sequence[float],
    discharge: float,
    *,
    parted: bool,
) -> RunningLevel:
    """The same where openings are only stated as ``areas`` [m²], one after the other.

    Each is taken to be wholly under liquid, and each pickup's level to be lower by all drops.
    ``parted`` : whether liquid stands in several pools. Raises PortError as ``check_flow``.
    """
    flows = check_flow(ports)
    total, up = sum(flows.values()), np.array([attitude.up])
    openings = tuple(
        OpeningAtLevel(
            *(f"opening {k} as stated", None, None, area, total),
            head_for_flow(area, total, discharge),
            "taken to be whole",
        )
        for k, area in enumerate(areas, start=1)
    )
    drop = stated_drop(ports, areas, discharge)
    found = []
    for port in (port for port in ports if port.name in flows):
        mouth = support_high(port.discs, up)
        rest = _surface(port, up, rest_margins[port.name])
        held = volumes(tank.tree, up, np.array([rest - drop]))[0] - volumes(tank.tree, up, mouth)[0]
        left = None if parted else max(float(held[0]), 0.0)
        found.append(
            PickupRunning(
                *(port.name, None, flows[port.name], rest, rest - drop, drop, True),
                margin_m=rest - drop - float(mouth[0]) - port.required_cover,
                left_m3=left,
                seconds_left=None if left is None else left / total,
                openings=openings,
            )
        )
    return RunningLevel(total, volume / total, None, discharge, tuple(found), ())


def _surface(port: Port, up: Array, margin: float) -> float:
    """Level [m] that a port's margin was taken from."""
    if port.effective_rule is Rule.DRY:
        return float(support_low(port.discs, up)[0]) - port.required_cover - margin
    cover = port.required_cover if port.effective_rule is Rule.WET else 0.0
    return float(support_high(port.discs, up)[0]) + cover + margin


def _pickup(
    flow: ReturnFlow,
    volume: float,
    up: Array,
    port: Port,
    margin: float,
    network: NetworkState | None,
) -> PickupRunning:
    name, rest = port.name, _surface(port, up, margin)
    one = levels(flow.tank.tree, up, volume, lowest=False)[0]
    most = np.minimum(one, rest)
    level, why_not = most, ""
    mouth = support_high(port.discs, up)
    if network is not None:
        level = np.minimum(network.levels_m[[flow.pickups[name]]], most)
        why_not = _why_no_network(flow, up, network)
    elif flow.crosses(name):
        level = np.minimum(flow.level_of(name, up, volume, one), most)
        why_not = _why_not_steady(flow, name, up, volume, float(level[0]), float(mouth[0]))
    carried = not why_not
    bay = flow.bays.bays[flow.pickups[name]]
    start = level if carried else most  # one that runs dry starts from rest
    held = volumes(bay.tree, up, start)[0] - volumes(bay.tree, up, mouth)[0]
    left = max(float(held[0]), 0.0)
    beside = [flow.flows[other] for other, b in flow.pickups.items() if b == flow.pickups[name]]
    return PickupRunning(
        name=name,
        bay=bay.name,
        flow_m3_s=flow.flows[name],
        rest_level_m=rest,
        level_m=float(level[0]),
        lowered_m=rest - float(level[0]) if carried else None,
        carried=carried,
        margin_m=float(level[0] - mouth[0]) - port.required_cover,
        left_m3=left,
        seconds_left=left / sum(beside),
        openings=_openings(flow, name, up, level, carried, network),
        why_not=why_not,
    )


def _why_not_steady(
    flow: ReturnFlow, name: str, up: Array, volume: float, level: float, mouth: float
) -> str:
    """Why a pickup's bay has no steady state, in words; empty where it has one."""
    bottom = flow.tank.height_range(up)[0]
    if not np.isfinite(flow.needed(name, up, bottom)[0]):
        return "the openings cannot carry the flow at any level in the tank"
    if level < mouth:
        need = float(flow.needed(name, up, np.array([mouth]))[0])
        if not np.isfinite(need):
            return "with its mouth under, the openings cannot carry the flow"
        return (
            f"it takes {told(need, 'volume')} with the mouth under (other bays raised by the flow, dead "
            f"ends full), and there are {told(volume, 'volume')}"
        )
    return ""


def _why_no_network(flow: ReturnFlow, up: Array, network: NetworkState) -> str:
    """Why the bays together have no steady state, in words; empty where they have one."""
    top = float(flow.tank.height_range(up)[1][0])
    over = int(np.argmax(network.levels_m))
    if float(network.levels_m[over]) > top:
        return (
            f"the openings cannot carry the flow: the bay {flow.bays.bays[over].name} is full to the roof, and "
            "more comes in than gets out"
        )
    if network.bare is not None:
        return f"the mouth of {network.bare} is bare after {network.seconds:.1f} s"
    return "" if network.steady else "not known: the bays were not seen to come to rest"


def _openings(
    flow: ReturnFlow,
    name: str,
    up: Array,
    level: Array,
    carried: bool,
    network: NetworkState | None,
) -> tuple[OpeningAtLevel, ...]:
    each = flow.levels(name, up, level)[0] if network is None else network.levels_m
    found: list[OpeningAtLevel] = []
    for pair, asked in {door.pair: flow for door, flow in flow.doors(name)}.items():
        through = asked if network is None else network.through.get(pair, 0.0)
        upper, lower = pair
        if each[upper] <= each[lower]:
            continue
        between = (each[upper], each[lower])
        shares = {
            gap: float(door_of_gap(gap, flow.discharge).flow(up, *between)[0])
            for gap in flow.bays.gaps
            if gap.joins == pair or (gap.joins == pair[::-1] and not gap.one_way)
        }
        whole = sum(shares.values())
        found += [
            OpeningAtLevel(
                name=gap.name,
                from_bay=flow.bays.bays[upper].name,
                to_bay=flow.bays.bays[lower].name,
                area_m2=gap.area_m2,
                flow_m3_s=through * share / whole if whole > 0.0 else 0.0,
                drop_m=float(each[upper] - each[lower]) if carried else None,
                under=_under(gap, up, float(each[upper]), float(each[lower])),
            )
            for gap, share in shares.items()
        ]
    return tuple(found)


def _under(gap: Gap, up: Array, before: float, behind: float) -> str:
    heights = gap.corners.reshape(-1, 3) @ up[0]
    if heights.min() >= before:
        return "dry"
    if heights.max() <= behind:
        return "whole"
    return "part" if heights.min() < behind else "none"
