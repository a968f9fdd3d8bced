"""``tanksolve sheet``: what to check on the real machine before trusting any figure."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement, with_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["POURS", "register"]

_EXAMPLE = (
    "tanksolve sheet --box 900x300x300mm --fill 30L..42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --write sheet.md"
)
POURS = {"metric": "5L", "us": "1gal", "imperial": "1imperial_gallon"}


@asks(csv=True, page=True, retired={"--step": "write --pour 5L"})
def _sheet(
    ask: Ask,
    words: TankWords,
    pour: Annotated[
        str | None, typer.Option(metavar="5L", help="Poured between dips; 5 L, or a gallon.")
    ] = None,
    require: Require = None,
) -> None:
    """Make the commissioning sheet: predicted dips, a tilt test, and when not to use the figures."""
    from tanksolve.present.sheet_document import sheet_document
    from tanksolve.questions.sheet import commissioning_sheet
    from tanksolve.units import parse_volume
    from tanksolve_cli.case import read_case

    poured = parse_volume(pour or POURS[ask.system.name], "--pour")
    with busy("reading the tank and predicting its readings"):
        case = read_case(words, limits=True)
        result = commissioning_sheet(
            *(case.tank, case.ports, case.fill, poured),
            described=(case.wall_tank, case.wall_ports),
            requirement=read_requirement(require) if require else None,
        )
        document = with_requirement(sheet_document(case.inputs, result), case, require)
    answer(document, ask)


register = tank_command("sheet", _sheet, _EXAMPLE)
