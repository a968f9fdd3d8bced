"""``tanksolve marks``: the least and most fill for a requirement."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_Dipstick = Annotated[
    list[str] | None,
    typer.Option(
        metavar="X,Y,Zmm[,lean=10deg][,towards=90deg]",
        help="Marks on a dipstick: its tip, how far it leans from upright, to which heading.",
    ),
]

_EXAMPLE = (
    "tanksolve marks --box 900x300x300mm --pickup suction=20,150,50mm,bore=38mm,facing=down "
    "--breather cap=450,150,300mm --require 15deg --dipstick 100,150,5mm,lean=10deg,towards=0deg"
)


@asks(
    views=("marks",),
    csv=True,
    retired={"--one-level": "leave it out: marks hold whatever the machine did before"},
)
def _marks(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    dipstick: _Dipstick = None,
    sight_glass: Annotated[
        list[str] | None,
        typer.Option(metavar="X,Y,Zmm", help="Marks on a sight glass: its lower end."),
    ] = None,
    reading_error: Annotated[
        str | None, typer.Option(metavar="2mm", help="Of the dipstick, either way.")
    ] = None,
    reading_tilt: Annotated[
        str | None, typer.Option(metavar="1deg", help="Slope the machine may stand on when read.")
    ] = None,
    thermal: Annotated[
        str | None, typer.Option(metavar="5%", help="Growth or shrinking after it was read.")
    ] = None,
    draw_down: Annotated[
        str | None, typer.Option(metavar="3L", help="Liquid that goes out, or comes back, in use.")
    ] = None,
    tolerance: Annotated[
        str, typer.Option(help="How far a bound may lie beyond its root, as mean depth.")
    ] = "0.1mm",
) -> None:
    """Find the least and most fill with which every port keeps its rule at all required attitudes."""
    from tanksolve.present.marks_document import marks_document
    from tanksolve.project.gauge_words import check_sticks, parse_allowances, parse_gauges
    from tanksolve.questions.marks.marks import marks
    from tanksolve.units import parse_length
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require)
    allowances = parse_allowances(reading_error, reading_tilt, thermal, draw_down)
    with busy("reading the tank and searching the marks"):
        case = read_case(words, limits=True)
        gauges = parse_gauges(dipstick or [], sight_glass or [])
        check_sticks(gauges, case.tank)
        result = marks(
            case.tank,
            case.ports,
            requirement,
            pickups=case.pickups,
            allowances=allowances,
            gauges=gauges,
            tolerance=parse_length(tolerance, "--tolerance"),
        )
    document = marks_document(
        *(case.inputs, result, requirement, (case.tank, case.ports), gauges),
        askew=case.askew,
    )
    answer(document, ask)


register = tank_command("marks", _marks, _EXAMPLE)
