"""The envelope with the pump running: what holds at rest and in steady running.

Where the openings are only stated as areas (a mesh whose plates nobody named), the drop is that of
openings wholly under liquid, and each pickup's cover is raised by all of it.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.bays import Bays
from tanksolve.model.ports import Port
from tanksolve.pump.crossflow import DISCHARGE, head_for_flow
from tanksolve.pump.flow_ports import check_flow, drawn_flows, return_flow
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.running_limits import RunningConditions
from tanksolve.questions.envelope.envelope import Envelope, envelope_under
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]

__all__ = [
    "FlowAtHeading",
    "FlowEffect",
    "envelope_with_flow",
    "raised_covers",
    "running_conditions",
    "stated_drop",
]


@dataclass(frozen=True)
class FlowAtHeading:
    """What the flow does to one row of the limits.

    Attributes
    ----------
    at_rest_deg, running_deg : where a port first gives out with the pump stopped and in steady
        running; None where none does.
    lowered_m : how much lower the pickup's bay stands than one level would at the running limit;
        None where no pickup sets it.
    cannot_carry : whether an opening cannot carry the flow there at any level in the tank.
    """

    heading_deg: float
    at_rest_deg: float | None
    running_deg: float | None
    lowered_m: float | None
    cannot_carry: bool


@dataclass(frozen=True, eq=False)
class FlowEffect:
    """The flow and what it does to the limits.

    Attributes
    ----------
    flows_m3_s : of each pickup, by name.
    lowered_m : of each pickup's bay on level ground, by name; None where the flow is not carried.
    discharge : coefficient of the openings.
    bounded : whether the running limits are bounds. False where openings are stated: then they are
        only as long as these stay under liquid.
    stated_areas_m2 : areas of the openings as stated, one after the other; None where they are known.
    limits : a row for each heading of the envelope.
    """

    flows_m3_s: dict[str, float]
    lowered_m: dict[str, float | None]
    discharge: float = DISCHARGE
    bounded: bool = True
    stated_areas_m2: tuple[float, ...] | None = None
    limits: tuple[FlowAtHeading, ...] = field(default=(), repr=False)


def envelope_with_flow(
    find: Callable[[Sequence[Port]], Envelope],
    conditions: Conditions,
    openings: Bays | Sequence[float],
    discharge: float = DISCHARGE,
) -> tuple[Envelope, FlowEffect]:
    """The envelope at rest and in steady running, and what the flow does to it.

    Parameters
    ----------
    find : the envelope at rest for some ports.
    conditions : tank, fill and ports; pickups with a flow, and a return.
    openings : the tank's bays, or areas [m²] that the flow goes through one after the other.

    Raises PortError, TankError for a flow that cannot be put together.
    """
    rest = find(conditions.tank_ports)
    if isinstance(openings, Bays):
        flow = return_flow(conditions.tank, openings, conditions.tank_ports, discharge)
        return _with_return_flow(rest, conditions, flow)
    drop = stated_drop(conditions.tank_ports, openings, discharge)
    found = find(raised_covers(conditions.tank_ports, drop)) if drop > 0.0 else rest
    rows = tuple(
        FlowAtHeading(a.heading_deg, a.slope_deg, b.slope_deg, drop, False)
        for a, b in zip(rest.limits, found.limits, strict=True)
    )
    flows = drawn_flows(conditions.tank_ports)
    lowered: dict[str, float | None] = dict.fromkeys(flows, drop)
    return found, FlowEffect(flows, lowered, discharge, False, tuple(openings), rows)


def running_conditions(
    rest: Conditions, openings: Bays | Sequence[float], discharge: float = DISCHARGE
) -> Conditions:
    """The conditions of steady running from those at rest; parameters and errors as above."""
    if isinstance(openings, Bays):
        flow = return_flow(rest.tank, openings, rest.tank_ports, discharge)
        return RunningConditions.running_of(rest, flow)
    drop = stated_drop(rest.tank_ports, openings, discharge)
    return replace(
        rest,
        ports=raised_covers(rest.ports, drop),
        tank_ports=raised_covers(rest.tank_ports, drop),
    )


def stated_drop(ports: Sequence[Port], areas: Sequence[float], discharge: float) -> float:
    """Drop of level [m] across openings of ``areas`` [m²] one after the other, at the whole flow.

    Raises PortError where there is no return, or no flow.
    """
    total = sum(check_flow(ports).values())
    return sum(head_for_flow(area, total, discharge) for area in areas)


def raised_covers(ports: Sequence[Port], drop: float) -> tuple[Port, ...]:
    """The ports with the cover of each pickup that draws raised by ``drop`` [m]."""
    drawn = drawn_flows(ports)
    return tuple(
        replace(port, cover=port.required_cover + drop) if port.name in drawn else port
        for port in ports
    )


def _with_return_flow(
    rest: Envelope, conditions: Conditions, flow: ReturnFlow
) -> tuple[Envelope, FlowEffect]:
    """The envelope of rest and steady running together, and what the flow does to that at rest."""
    if not any(flow.crosses(name) for name in flow.pickups):
        rows = (
            FlowAtHeading(a.heading_deg, a.slope_deg, a.slope_deg, 0.0, False) for a in rest.limits
        )
        lowered: dict[str, float | None] = dict.fromkeys(flow.pickups, 0.0)
        return rest, FlowEffect(dict(flow.flows), lowered, flow.discharge, limits=tuple(rows))
    running = RunningConditions.running_of(conditions, flow)
    found = envelope_under(
        running,
        every_deg=360.0 / len(rest.limits),
        search_to_deg=rest.searched_to_deg,
        tolerance_deg=rest.tolerance_deg,
        islands=False,  # a running envelope tells none
    )
    return found, _effect(rest, found, running)


def _effect(rest: Envelope, found: Envelope, running: RunningConditions) -> FlowEffect:
    """What the flow does, on level ground and at each heading."""
    flow = running.flow
    level_ground = np.array([[0.0, 0.0, 1.0]])
    lowered = {name: _lowered(running, name, level_ground)[0] for name in flow.pickups}
    headings = np.radians([row.heading_deg for row in found.limits])
    slopes = np.radians([row.slope_deg or 0.0 for row in found.limits])
    ups = up_from_slope_heading(slopes, headings)
    each = {name: _lowered(running, name, ups) for name in flow.pickups}
    rows = []
    for k, (a, b) in enumerate(zip(rest.limits, found.limits, strict=True)):
        drop = each[b.port][k] if b.port in each else None
        stuck = b.port in each and drop is None
        rows.append(FlowAtHeading(b.heading_deg, a.slope_deg, b.slope_deg, drop, stuck))
    return FlowEffect(dict(flow.flows), lowered, flow.discharge, limits=tuple(rows))


def _lowered(running: RunningConditions, name: str, up: Array) -> Sequence[float | None]:
    """How much lower a pickup's bay is than one level (D,) [m]; None where nothing carries."""
    flow, volume = running.flow, running.least
    rest = levels(flow.tank.tree, up, volume, lowest=False)[0]
    level = flow.level_of(name, up, volume, rest)
    carried = flow.needed(name, up, level) <= volume * (1.0 + 1e-9)
    return [float(r - v) if c else None for r, v, c in zip(rest, level, carried, strict=True)]
