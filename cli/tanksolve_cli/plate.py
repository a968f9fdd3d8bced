"""``tanksolve plate``: a plate for the machine, true size."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve plate --box 900x300x300mm --fill 42L --pickup suction=450,150,40mm,bore=38mm,facing=down "
    "--machine-limit '15deg, operating manual p. 12' --allowance 3deg -o plate.pdf"
)

_UNNAMED = "liquid"  # what a tank file calls one that it does not name


@asks()
def _plate(
    ask: Ask,
    words: TankWords,
    machine_limit: Annotated[
        str | None,
        typer.Option(
            metavar="'15deg, manual p. 12'",
            help="The machine maker's slope limit, and where it stands.",
        ),
    ] = None,
    allowance: Annotated[
        str | None,
        typer.Option(metavar="3deg", help="For rough ground: taken off the smaller limit."),
    ] = None,
    liquid: Annotated[
        str | None, typer.Option("--named", metavar="NAME", help="What the liquid is called.")
    ] = None,
    size: Annotated[str, typer.Option(metavar="WxHmm", help="Of the plate.")] = "150x100mm",
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file to write (.svg, .pdf).")
    ] = Path("plate.svg"),
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Write the slope for the machine's plate: the smaller limit, less an allowance, rounded down."""
    import math
    from datetime import date

    from tanksolve.files import check_new
    from tanksolve.present.drawn import check_drawn_path, save_sheets
    from tanksolve.present.plate import Plate, plate_document, plate_sheet
    from tanksolve.project.plate_words import parse_plate, parse_plate_size
    from tanksolve.questions.envelope.envelope import envelope
    from tanksolve_cli.case import read_case

    limit, source, less = parse_plate(machine_limit, allowance)
    sides = parse_plate_size(size)
    check_drawn_path(output, "a plate")
    if not force:
        check_new(output)
    with busy("reading the tank and searching its limits"):
        case = read_case(words, limits=True)
        limits = envelope(case.tank, case.ports, case.fill, pickups=case.pickups)
    told = case.project.liquid if case.project is not None else _UNNAMED
    named = liquid or ("" if told == _UNNAMED else told)
    plate = Plate.of(limits, named, math.degrees(limit), source, math.degrees(less))
    written: tuple[Path, ...] = ()
    if plate.whole_deg > 0:
        sheet = plate_sheet(plate, date.today(), sides, case.inputs.first_note)
        written = save_sheets([sheet], output)
    answer(plate_document(case.inputs, plate), ask, written)


register = tank_command("plate", _plate, _EXAMPLE)
