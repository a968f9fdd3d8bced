"""``tanksolve strip``: scales for dipsticks and sight glasses, true size."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve strip --box 900x300x300mm --pickup suction=450,150,40mm,bore=38mm,facing=down "
    "--require 15deg --dipstick 100,150,5mm,lean=10deg,towards=0deg --step 5L -o strip.pdf"
)


@asks()
def _strip(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    dipstick: Annotated[
        list[str] | None,
        typer.Option(
            metavar="X,Y,Zmm[,lean=10deg][,towards=90deg]",
            help="A dipstick: its tip, how it leans.",
        ),
    ] = None,
    sight_glass: Annotated[
        list[str] | None, typer.Option(metavar="X,Y,Zmm", help="A sight glass: its lower end.")
    ] = None,
    step: Annotated[str, typer.Option(help="Volume from line to line.")] = "5L",
    paper: Annotated[
        str | None, typer.Option(metavar="a4|letter", help="Letter with US units, else A4.")
    ] = None,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file to write (.svg, .pdf).")
    ] = Path("strip.svg"),
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Draw the scale of a dipstick or a sight glass at true size, with the least and most mark."""
    from datetime import date

    from tanksolve.errors import QuantityError
    from tanksolve.files import check_new
    from tanksolve.present.drawn import check_drawn_path, save_sheets
    from tanksolve.present.paper import paper_named
    from tanksolve.present.strip import strip_document, strip_sheets
    from tanksolve.project.gauge_words import check_sticks, parse_gauges
    from tanksolve.questions.marks.marks import marks
    from tanksolve.questions.marks.strip import strip
    from tanksolve.units import parse_volume
    from tanksolve_cli.case import read_case

    gauges = parse_gauges(dipstick or [], sight_glass or [])
    if not gauges:
        raise QuantityError(
            "no scale is asked for",
            where="--dipstick, --sight-glass",
            allowed="the place of its nought",
            next_step="add --dipstick 100,150,5mm or --sight-glass 0,150,20mm with your own place",
        )
    requirement = read_requirement(require) if require else None
    each = parse_volume(step, "--step")
    sheet = paper_named(paper)
    check_drawn_path(output, "a scale")
    if not force:
        check_new(output)
    with busy("reading the tank and placing the lines"):
        case = read_case(words)
        check_sticks(gauges, case.tank)
        found = (
            marks(case.tank, case.ports, requirement, pickups=case.pickups, gauges=gauges).gauges
            if requirement
            else [None] * len(gauges)
        )
        strips = [strip(case.tank, g, each, m) for g, m in zip(gauges, found, strict=True)]
    document = strip_document(case.inputs, strips)
    written: tuple[Path, ...] = ()
    if document.verdict.exit_code == 0:
        written = save_sheets(strip_sheets(strips, date.today(), sheet), output)
    answer(document, ask, written)


register = tank_command("strip", _strip, _EXAMPLE)
