"""What the envelope command says of a running pump."""

from typing import TYPE_CHECKING, Any

import typer

from tanksolve_cli.output import slope_cell

if TYPE_CHECKING:
    from collections.abc import Callable

    from tanksolve.pump.return_flow import FlowAtHeading, FlowEffect
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve.state.conditions import Conditions
    from tanksolve_cli.case import Case
    from tanksolve_cli.flow_options import RunningCase
    from tanksolve_cli.tank_options import TankWords

__all__ = [
    "FLOW_CAUTION",
    "at_rest_cautions",
    "coefficient_words",
    "conditions_of",
    "envelope_running",
    "flow_cautions",
    "flow_json",
    "print_flow",
]

FLOW_CAUTION = (
    "the pump runs steadily and liquid is still otherwise: levels from bay to bay are estimates; "
    "cold, thick oil passes openings far more slowly"
)


def envelope_running(
    find: "Callable[..., Envelope]",
    case: "Case",
    running: "RunningCase | None",
) -> "tuple[Envelope, FlowEffect | None]":
    """The envelope, in steady running too where a flow is given, and what the flow does to it."""
    from tanksolve.pump.return_flow import envelope_with_flow
    from tanksolve.state.conditions import Conditions

    if running is None:
        return find(ports=case.ports), None
    return envelope_with_flow(
        lambda ports: find(ports=ports),
        Conditions.of(case.tank, running.ports, case.fill, case.pickups),
        running.openings,
        running.discharge,
    )


def conditions_of(case: "Case", running: "RunningCase | None") -> "Conditions":
    """What the ports have to keep, in steady running where a flow is given."""
    from tanksolve.pump.return_flow import running_conditions
    from tanksolve.state.conditions import Conditions

    if running is None:
        return Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    rest = Conditions.of(case.tank, running.ports, case.fill, case.pickups)
    return running_conditions(rest, running.openings, running.discharge)


def flow_cautions(effect: "FlowEffect | None") -> tuple[str, ...]:
    """What to say first beside figures with a flow; nothing without one."""
    return () if effect is None else (FLOW_CAUTION,)


def at_rest_cautions(
    case: "Case", words: "TankWords", running: "RunningCase | None"
) -> tuple[str, ...]:
    """That limits are for the pump at rest, where a plate parts return from pickup and no flow is given."""
    from tanksolve.geometry.bays import bays_of
    from tanksolve.model.ports import PortKind
    from tanksolve_cli.case import is_mesh

    returns = [port for port in case.wall_ports if port.kind is PortKind.RETURN]
    pickups = [port for port in case.wall_ports if port.kind is PortKind.PICKUP]
    pairs = [(back, pickup) for back in returns for pickup in pickups]
    if running is not None or not pairs or case.tank.is_convex:
        return ()
    parts = None if case.project is None or is_mesh(case, words) else case.project.parts
    if parts is not None:
        bays = bays_of(parts)
        parted = [one for one in pairs if len({bays.bay_of(port.position) for port in one}) > 1]
    else:
        from tanksolve.questions.place.sight import wall_between

        tank = case.wall_tank
        parted = [one for one in pairs if wall_between(tank, one[0].position, one[1].position)]
    return tuple(
        f"limits are for the pump at rest: a plate or wall stands between {back.name} and {pickup.name}, and "
        f"while the pump runs the bay of {pickup.name} stands lower than told; add --pump-flow"
        for back, pickup in parted
    )


def coefficient_words(discharge: float) -> str:
    """The coefficient and where it comes from."""
    from tanksolve.pump.crossflow import DISCHARGE

    source = "sharp edges, from memory; 0.6 in N. Midoux" if discharge == DISCHARGE else "as given"
    return f"discharge coefficient {discharge:g} ({source})"


def flow_json(effect: "FlowEffect | None") -> dict[str, Any] | None:
    """The key ``return_flow``; docs/json.md lists what is in it."""
    from tanksolve.record import as_plain

    return None if effect is None else as_plain(effect)


def print_flow(effect: "FlowEffect") -> None:
    """Say the flow, the allowance that it makes, and what it costs."""
    from tanksolve.units import ceil_to

    for name, flow in effect.flows_m3_s.items():
        lowered = effect.lowered_m[name]
        if lowered is None:
            told = "the openings cannot carry it on level ground with the least fill"
        else:
            told = f"allowance: its bay stands {ceil_to(1000.0 * lowered, 0.1):.1f} mm lower on level ground"
        typer.echo(f"running {name} draws {60000.0 * flow:g} L/min; {told}")
    typer.echo(f"        {coefficient_words(effect.discharge)}")
    if effect.stated_areas_m2:
        areas = ", ".join(f"{1e4 * area:g} cm²" for area in effect.stated_areas_m2)
        typer.echo(f"        openings as stated: {areas}, taken to be wholly under liquid: check")
        typer.echo("        every limit and bound below holds only as long as that does")
    _tell_cost(effect)


def _tell_cost(effect: "FlowEffect") -> None:
    lost = [row for row in effect.limits if _cost(row) > 0.05]
    if lost:
        row = max(lost, key=_cost)
        at_rest = "none found" if row.at_rest_deg is None else slope_cell(row.at_rest_deg)
        why = "; there an opening cannot carry the flow at any level" if row.cannot_carry else ""
        typer.echo(
            f"        at heading {row.heading_deg:.0f}° the limit is {slope_cell(row.running_deg or 0.0)}"
            f" with the pump running, {at_rest} with it stopped{why}"
        )


def _cost(row: "FlowAtHeading") -> float:
    if row.running_deg is None:
        return 0.0
    return (90.0 if row.at_rest_deg is None else row.at_rest_deg) - row.running_deg
