"""``tanksolve check``: the trade's layout rules."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.output import echo_case, echo_cautions, print_json
from tanksolve_cli.pump_options import AsJson, Attitudes, given
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.check import Finding

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve check --box 900x300x300mm --fill 42L --pickup suction=150,150,60mm,bore=38mm,facing=down"
    " --return back=750,150,80mm,bore=25mm --flow 60L/min --suction-bore 38mm --pressure-bore 19mm"
)
_CAUTIONS = ("habits that mostly serve well, not laws; what is not given is not passed",)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "check", takes_tank(_check), _EXAMPLE)


def _check(
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
        str, typer.Option(metavar="PITCH,ROLL", help="How it stands when drained.")
    ] = "0deg,0deg",
    attitude: Attitudes = None,
    as_json: AsJson = False,
) -> None:
    """Hold the layout against the trade's rules: pass, fail with a number, or not given."""
    inputs = given(**locals())
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve.questions.check import Layout, Verdict, check_layout
    from tanksolve.units import parse, parse_length
    from tanksolve_cli.case import read_case

    def length(text: str | None, where: str) -> float | None:
        return None if text is None else parse_length(text, where)

    with busy("reading the tank and checking its layout"):
        case = read_case(words)
        layout = Layout(
            tank=case.tank,
            ports=case.ports,
            least_fill=None if case.read_fill is None else case.fill.least,
            flow=None if flow is None else parse(flow, "flow", "--flow"),
            suction_bore=length(suction_bore, "--suction-bore"),
            pressure_bores=tuple(
                parse_length(text, "--pressure-bore") for text in pressure_bore or []
            ),
            strainer_area=None
            if strainer_area is None
            else parse(strainer_area, "area", "--strainer-area"),
            case_drain=case_drain,
            parked=parse_attitude(parked, "--parked"),
            required=tuple(parse_attitude(text) for text in attitude or []),
        )
        findings = check_layout(layout)
    failed = sum(finding.verdict is Verdict.FAIL for finding in findings)
    if as_json:
        from tanksolve.record import as_plain

        result = {"findings": as_plain(findings), "failed": failed}
        print_json("check", inputs, result, (*case.cautions, *_CAUTIONS))
    else:
        echo_case(case)
        typer.echo("")
        for finding in findings:
            _tell(finding)
        echo_cautions(_CAUTIONS)
    if failed:
        raise typer.Exit(3)


def _tell(finding: "Finding") -> None:
    """One rule on lines of at most 100 letters: verdict and rule, what was found, the source."""
    import textwrap

    head = f"{finding.verdict.value:<9}  "
    for words, start in ((finding.rule, head), (finding.found, ""), (finding.source, "")):
        indent = " " * len(head)
        typer.echo(
            textwrap.fill(
                words, 100, initial_indent=start or indent, subsequent_indent=indent + "  "
            )
        )
