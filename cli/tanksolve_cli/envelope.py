"""``tanksolve envelope``: the tank limit at every heading."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.flow_options import Discharge, OpeningArea, PumpFlow
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

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

    from tanksolve.present.envelope_document import air_cautions, envelope_document
    from tanksolve.present.flow_facts import at_rest_caution
    from tanksolve.present.understood import wall_cautions
    from tanksolve.project.envelope_case import conditions_of, envelope_of, kept_of
    from tanksolve.project.flow_words import FlowWords, parted_by_walls, running_case
    from tanksolve.questions.envelope.envelope import envelope
    from tanksolve.questions.envelope.requirement_met import conditions_met
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require) if require else None
    with busy("reading the tank and searching its limits"):
        case = read_case(words, limits=True)
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
        result, effect = envelope_of(find, case, running)
        met = (
            conditions_met(conditions_of(case, running), requirement)
            if requirement and not pump_off
            else ()
        )
        kept = kept_of(case, words, result)
        cautions = (
            *air_cautions(result, case.tank, case.ports, case.fill),
            *at_rest_caution(parted_by_walls(case, words) if running is None else ()),
            *wall_cautions(case.tank),
        )
    document = envelope_document(
        case.inputs if running is None else case.inputs.drawing(running.ports),
        result,
        requirement=requirement,
        met=met,
        effect=effect,
        kept=kept,
        pump_off=pump_off,
        cautions=cautions,
    )
    answer(document, ask)


register = tank_command("envelope", _envelope, _EXAMPLE)
