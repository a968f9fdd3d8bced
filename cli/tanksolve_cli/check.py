"""``tanksolve check``: the trade's layout rules."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve check --box 900x300x300mm --fill 42L --pickup suction=150,150,60mm,bore=38mm,facing=down"
    " --return back=750,150,80mm,bore=25mm --flow 60L/min --suction-bore 38mm --pressure-bore 19mm"
)


@asks(retired={"--attitude": "write --require slope=9deg,heading=90deg, or --require 15deg"})
def _check(
    ask: Ask,
    words: TankWords,
    flow: Annotated[str | None, typer.Option(metavar="60L/min", help="Of the pump.")] = None,
    suction_bore: Annotated[str | None, typer.Option(metavar="38mm", help="Inside.")] = None,
    pressure_bore: Annotated[
        list[str] | None, typer.Option(metavar="19mm", help="Of each pressure line.")
    ] = None,
    strainer_area: Annotated[
        str | None, typer.Option(metavar="60cm2", help="Open area of the suction strainer.")
    ] = None,
    case_drain: Annotated[
        str | None,
        typer.Option(
            metavar="tank|WHERE",
            help="'tank' where it goes straight back, unpressurised; else where it goes.",
        ),
    ] = None,
    parked: Annotated[
        str, typer.Option(metavar="ATTITUDE", help="How it stands when drained.")
    ] = "0deg,0deg",
    require: Require = None,
) -> None:
    """Hold the layout against the trade's rules: pass, fail with a number, or not given."""
    from tanksolve.present.check_document import check_document
    from tanksolve.project.motion_words import parse_area, parse_attitude
    from tanksolve.questions.check import Layout, check_layout
    from tanksolve.units import parse, parse_length
    from tanksolve_cli.case import read_case

    def length(text: str | None, where: str) -> float | None:
        return None if text is None else parse_length(text, where)

    with busy("reading the tank and checking its layout"):
        case = read_case(words, limits=True)
        layout = Layout(
            tank=case.tank,
            ports=case.ports,
            least_fill=None if case.read_fill is None else case.fill.least,
            flow=None if flow is None else parse(flow, "flow", "--flow"),
            suction_bore=length(suction_bore, "--suction-bore"),
            pressure_bores=tuple(
                parse_length(text, "--pressure-bore") for text in pressure_bore or []
            ),
            strainer_area=None if strainer_area is None else parse_area(strainer_area),
            case_drain=case_drain,
            parked=parse_attitude(parked, "--parked"),
            required=read_requirement(require) if require else None,
        )
        findings = check_layout(layout)
    answer(check_document(case.inputs, findings), ask)


register = tank_command("check", _check, _EXAMPLE)
