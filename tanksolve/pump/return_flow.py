"""The envelope with the pump running: the limits at rest and in steady running, the lower of each.

The machine stands still with the pump off as well, so both have to hold. Where the openings are
only stated as areas (a mesh whose plates nobody named), the drop is that of openings wholly under
liquid, and each pickup's cover is raised by all of it.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, fields, replace
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.bays import Bays
from tanksolve.model.ports import Port
from tanksolve.pump.crossflow import DISCHARGE, head_for_flow
from tanksolve.pump.flow_ports import check_flow, return_flow
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.running_limits import OneSurfaceEach, RunningConditions
from tanksolve.questions.envelope.envelope import Envelope, Limit, envelope_under
from tanksolve.questions.envelope.map import MarginMap
from tanksolve.questions.envelope.pooled_envelope import (
    EXACT_TOLERANCE,
    PooledEnvelope,
    PooledLimit,
)
from tanksolve.questions.envelope.rows import grade_of, lowered_to
from tanksolve.state.certify import Prover, held_out_to, worst_of_all_headings
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
    bounded : whether the running limits are bounds: each bay has one surface for certain, with all that a
        dead end may hold back left in it. False too where openings are stated: then they are bounds
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
    *,
    one_level: bool = False,
) -> tuple[Envelope, FlowEffect]:
    """The envelope at rest and in steady running, and what the flow does to it.

    Parameters
    ----------
    find : the envelope at rest for some ports, with pools or with one level.
    conditions : tank, fill and ports; pickups with a flow, and one return.
    openings : the tank's bays, or areas [m²] that the flow goes through one after the other.
    one_level : take one level in each bay as given, as ``find`` takes one in the tank; else limits
        are bounds only where that is certain.

    Raises PortError, TankError for a flow that cannot be put together.
    """
    rest = find(conditions.tank_ports)
    if isinstance(openings, Bays):
        flow = return_flow(conditions.tank, openings, conditions.tank_ports, discharge)
        return _with_return_flow(rest, conditions, flow, one_level)
    drop = stated_drop(conditions.tank_ports, openings, discharge)
    found = find(raised_covers(conditions.tank_ports, drop)) if drop > 0.0 else rest
    rows = tuple(
        FlowAtHeading(a.heading_deg, a.slope_deg, b.slope_deg, drop, False)
        for a, b in zip(rest.limits, found.limits, strict=True)
    )
    flows = {port.name: port.flow for port in conditions.tank_ports if port.flow}
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

    Raises PortError where there is no return, or several, or no flow.
    """
    total = sum(check_flow(ports).values())
    return sum(head_for_flow(area, total, discharge) for area in areas)


def raised_covers(ports: Sequence[Port], drop: float) -> tuple[Port, ...]:
    """The ports with the cover of each pickup that draws raised by ``drop`` [m]."""
    return tuple(
        replace(port, cover=port.required_cover + drop) if port.flow else port for port in ports
    )


def _with_return_flow(
    rest: Envelope, conditions: Conditions, flow: ReturnFlow, one_level: bool
) -> tuple[Envelope, FlowEffect]:
    """Lower an envelope at rest to what holds in steady running too.

    rest : of the same ``conditions``, with pools or with one level; every row and the worst are
    the lower of both. Its class and its meaning of ``held_to_deg`` stay.
    """
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
    merger = _Merger(rest, found, running, one_level)
    return merger.envelope(), merger.effect()


class _Merger:
    """Rows of both envelopes, the lower of each."""

    def __init__(
        self, rest: Envelope, found: Envelope, running: RunningConditions, one_level: bool
    ) -> None:
        self.rest, self.found, self.running = rest, found, running
        self.proof = OneSurfaceEach(running)
        self.sure_to: Array = np.full(len(found.limits), np.inf)
        self.sure_worst = math.inf
        self.one_level = one_level
        if one_level:
            return
        if not self.proof.is_possible:
            self.sure_to[:] = self.sure_worst = 0.0
        elif self.proof.is_needed and found.ok_at_level:
            self._prove()
        if not isinstance(rest, PooledEnvelope) and not self.bounded:
            self.rest = _as_pooled(rest)

    @property
    def bounded(self) -> bool:
        """Whether the running limits are bounds all round."""
        return bool(np.all(np.isinf(self.sure_to)) and math.isinf(self.sure_worst))

    def _prove(self) -> None:
        """How far the running limits are bounds: up to where each bay has one surface for certain."""
        headings: Array = np.radians([row.heading_deg for row in self.found.limits])
        ends = np.radians([row.held_to_deg for row in self.found.limits])
        to = held_out_to(self.proof, headings, np.zeros(len(ends)), ends, EXACT_TOLERANCE)
        self.sure_to = np.where(to >= ends, np.inf, np.degrees(to))
        top = math.radians(self.found.worst.held_to_deg)
        held = worst_of_all_headings(self.proof, top, EXACT_TOLERANCE)[0]
        self.sure_worst = math.inf if held >= top else math.degrees(held)

    def envelope(self) -> Envelope:
        """The envelope at rest with its rows lowered."""
        rest, found = self.rest, self.found
        rows = tuple(
            self._lower(a, b, sure)
            for a, b, sure in zip(rest.limits, found.limits, self.sure_to, strict=True)
        )
        worst = self._lower(rest.worst, found.worst, self.sure_worst)
        return replace(
            rest,
            ok_at_level=rest.ok_at_level and found.ok_at_level,
            margin_at_level_m=min(rest.margin_at_level_m, found.margin_at_level_m),
            limits=lowered_to(worst, rows) if worst.is_bound else rows,
            worst=worst,
            islands=(),
            make_map=self._map,
            provers=self._provers(),
            limits_at=None,
            nose_up=_lesser(rest.nose_up, found.nose_up),
            nose_down=_lesser(rest.nose_down, found.nose_down),
            left_down=_lesser(rest.left_down, found.left_down),
            right_down=_lesser(rest.right_down, found.right_down),
        )

    def _lower(self, rest: Limit, found: Limit, sure: float) -> Limit:
        """The lower of two rows, on the class of the row at rest."""
        first = _less(found, rest)
        held = min(rest.held_to_deg, found.held_to_deg, sure)
        changed: dict[str, Any] = {"held_to_deg": held}
        if first:
            names = ("heading_deg", "slope_deg", "port", "limited", "grazing")
            changed |= {name: getattr(found, name) for name in names}
        if isinstance(rest, PooledLimit):
            reach = found.held_to_deg if first else rest.held_to_deg
            changed["bounded"] = (rest.bounded or first) and held >= reach - 1e-9
            changed["one_surface_to_deg"] = min(rest.one_surface_to_deg, sure)
            if first:
                changed["path"] = None
        row = replace(rest, **changed)
        return replace(row, grade_percent=grade_of(row.told_deg))

    def _provers(self) -> tuple[Prover, ...]:
        """What a bound between headings takes: all that the rows themselves do."""
        sure = self.one_level or not self.proof.is_needed
        return (*self.rest.provers, self.running, *(() if sure else (self.proof,)))

    def _map(self) -> MarginMap:
        rest, found = self.rest.map, self.found.map
        lower = found.margin_m < rest.margin_m
        return replace(
            rest,
            margin_m=np.where(lower, found.margin_m, rest.margin_m),
            port_index=np.where(lower, found.port_index, rest.port_index),
        )

    def effect(self) -> FlowEffect:
        """What the flow does, on level ground and at each heading."""
        flow = self.running.flow
        up = np.array([[0.0, 0.0, 1.0]])
        lowered = {name: self._lowered(name, up)[0] for name in flow.pickups}
        headings = np.radians([row.heading_deg for row in self.found.limits])
        slopes = np.radians([row.slope_deg or 0.0 for row in self.found.limits])
        ups = up_from_slope_heading(slopes, headings)
        each = {name: self._lowered(name, ups) for name in flow.pickups}
        rows = []
        for k, (a, b) in enumerate(zip(self.rest.limits, self.found.limits, strict=True)):
            drop = each[b.port][k] if b.port in each else None
            stuck = b.port in each and drop is None
            rows.append(FlowAtHeading(b.heading_deg, a.slope_deg, b.slope_deg, drop, stuck))
        flows = dict(flow.flows)
        return FlowEffect(flows, lowered, flow.discharge, self.bounded, limits=tuple(rows))

    def _lowered(self, name: str, up: Array) -> Sequence[float | None]:
        """How much lower a pickup's bay is than one level (D,) [m]; None where nothing carries."""
        flow, volume = self.running.flow, self.running.least
        rest = levels(flow.tank.tree, up, volume, lowest=False)[0]
        level = flow.level_of(name, up, volume, rest)
        carried = flow.needed(name, up, level) <= volume * (1.0 + 1e-9)
        return [float(r - v) if c else None for r, v, c in zip(rest, level, carried, strict=True)]


def _as_pooled(plain: Envelope) -> PooledEnvelope:
    """A plain envelope, one surface certain throughout, as one whose rows say what is bounded."""
    rows = [
        PooledLimit(
            **{f.name: getattr(row, f.name) for f in fields(Limit)},
            one_level_deg=row.slope_deg,
            one_surface_to_deg=row.held_to_deg,
            sampled_to_deg=plain.searched_to_deg,
        )
        for row in (*plain.limits, plain.worst)
    ]
    shared = {f.name: getattr(plain, f.name) for f in fields(Envelope)}
    shared |= {"limits": tuple(rows[:-1]), "worst": rows[-1]}
    return PooledEnvelope(**shared, filled="any way: at rest one surface is certain")


def _less(first: Limit, second: Limit) -> bool:
    """Whether the first gives out before the second."""
    if first.slope_deg is None:
        return False
    return second.slope_deg is None or first.slope_deg < second.slope_deg


def _lesser(first: float | None, second: float | None) -> float | None:
    known = [one for one in (first, second) if one is not None]
    return min(known) if known else None
