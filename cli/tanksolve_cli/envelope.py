"""``tanksolve envelope``: the tank limit at every heading."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.flow_options import Discharge, OpeningArea, PumpFlow
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from collections.abc import Callable

    from tanksolve.project.flow_words import RunningCase
    from tanksolve.pump.return_flow import FlowEffect
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve.state.conditions import Conditions
    from tanksolve.state.kept import Kept
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve envelope --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,30mm,bore=38mm,facing=down --require 10deg --picture limits.png"
)
_RETIRED = {
    "--pump-flow": "write --flow 60L/min",
    "--plan": "write --picture FILE",
    "--map": "write --picture FILE --view map",
    "--one-level": "leave it out: limits hold whatever the machine did before, in every tank",
    "--way": "leave it out: limits hold whatever way the machine took",
}


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "envelope", _envelope, _EXAMPLE)


@asks(views=("plan", "map"), csv=True, retired=_RETIRED)
def _envelope(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    every: Annotated[str, typer.Option(help="Spacing of the headings.")] = "5deg",
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    tolerance: Annotated[
        str, typer.Option(help="How far the bound may lie below the solved limit.")
    ] = "0.05deg",
    flow: PumpFlow = None,
    opening_area: OpeningArea = None,
    discharge: Discharge = "0.61",
    pump_off: Annotated[
        bool,
        typer.Option("--pump-off", help="Judge driving with the pump off, by what walls keep."),
    ] = False,
) -> None:
    """Find how steep the tank may stand, in every heading, until a port breaks its rule."""
    import math
    from functools import partial

    from tanksolve.present.envelope_document import envelope_document
    from tanksolve.present.flow_facts import at_rest_caution
    from tanksolve.present.understood import wall_cautions
    from tanksolve.project.flow_words import FlowWords, parted_by_walls, running_case
    from tanksolve.questions.envelope.envelope import envelope
    from tanksolve.questions.envelope.requirement_met import conditions_met
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require) if require else None
    with busy("reading the tank and searching its limits"):
        case = read_case(words)
        find = partial(
            envelope,
            case.tank,
            fill=case.fill,
            pickups=case.pickups,
            every_deg=math.degrees(parse_angle(every, "--every")),
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
            tolerance_deg=math.degrees(parse_angle(tolerance, "--tolerance")),
        )
        running = running_case(case, words, FlowWords(flow, opening_area, discharge))
        result, effect = _running(find, case, running)
        met = (
            conditions_met(_conditions(case, running), requirement)
            if requirement and not pump_off
            else ()
        )
        kept = _kept(case, words, result)
        cautions = (
            *_air_cautions(result, case),
            *at_rest_caution(parted_by_walls(case, words) if running is None else ()),
            *wall_cautions(case.tank),
        )
    document = envelope_document(
        case.inputs,
        result,
        requirement=requirement,
        met=met,
        effect=effect,
        kept=kept,
        pump_off=pump_off,
        cautions=cautions,
    )
    answer(document, ask)


def _running(
    find: "Callable[..., Envelope]", case: "Case", running: "RunningCase | None"
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


def _kept(case: "Case", words: "TankWords", result: "Envelope") -> "Kept | None":
    """How far walls keep enough for driving with the pump off; None where that is no further."""
    from math import radians

    from tanksolve.project.flow_words import known_bays
    from tanksolve.state.conditions import Conditions
    from tanksolve.state.kept import kept_out_to

    bays = known_bays(case, words)
    if bays is None:
        return None
    conditions = Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    held = result.worst.held_to_deg if result.ok_at_level else 0.0
    return kept_out_to(conditions, bays, radians(result.searched_to_deg), radians(held))


def _conditions(case: "Case", running: "RunningCase | None") -> "Conditions":
    """What the ports have to keep, in steady running where a flow is given."""
    from tanksolve.pump.return_flow import running_conditions
    from tanksolve.state.conditions import Conditions

    if running is None:
        return Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    rest = Conditions.of(case.tank, running.ports, case.fill, case.pickups)
    return running_conditions(rest, running.openings, running.discharge)


def _air_cautions(result: "Envelope", case: "Case") -> tuple[str, ...]:
    """Pickups whose air cannot vent on level ground, at a limit on a main side, or at the worst."""
    from math import radians

    from tanksolve.model.attitude import Attitude, heading_words
    from tanksolve.model.ports import PortKind

    if not any(port.kind is PortKind.BREATHER for port in case.ports):
        return ()
    from tanksolve.questions.level.shut_bays import shut_bays  # late: it costs a tenth of a second

    rows = [row for row in result.limits if row.heading_deg % 90.0 == 0.0 and row.limited]
    if result.worst.limited and result.worst.heading_deg % 90.0 != 0.0:
        rows.append(result.worst)
    places = [("on level ground", Attitude.level())]
    for row in rows:
        heading = radians(row.heading_deg)
        attitude = Attitude.from_slope(radians(row.held_to_deg), heading)
        places.append((f"at the limit {heading_words(heading)}", attitude))
    return shut_bays(case.tank, case.ports, case.fill.most, places)
