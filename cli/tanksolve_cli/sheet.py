"""``tanksolve sheet``: what to check on the real machine before trusting any figure."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.output import print_json
from tanksolve_cli.pump_options import AsJson, given
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve sheet --box 900x300x300mm --fill 30L..42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --write sheet.md"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "sheet", takes_tank(_sheet), _EXAMPLE)


def _sheet(
    words: TankWords,
    step: Annotated[str, typer.Option(help="Poured between dips.")] = "5L",
    write: Annotated[Path | None, typer.Option(help="Write it to a text file (.md, .txt).")] = None,
    as_json: AsJson = False,
) -> None:
    """Make the commissioning sheet: predicted dips, a tilt test, and when not to use the figures."""
    inputs = given(**locals())
    from tanksolve.files import check_text_path
    from tanksolve.present.sheet_text import sheet_text
    from tanksolve.questions.sheet import commissioning_sheet
    from tanksolve.units import parse_volume
    from tanksolve_cli.case import read_case

    if write is not None:
        check_text_path(write, (".md", ".txt"), "--write")
    with busy("reading the tank and predicting its readings"):
        case = read_case(words)
        result = commissioning_sheet(
            *(case.tank, case.ports, case.fill, parse_volume(step, "--step")),
            described=(case.wall_tank, case.wall_ports),
        )
    text = sheet_text(result, case.volume_unit)
    if write is not None:
        from tanksolve.files import write_text

        write_text(write, text)
    if as_json:
        from tanksolve.record import as_plain

        print_json("sheet", inputs, as_plain(result), result.cautions)
    else:
        typer.echo(text, nl=False)
    if write is not None:
        typer.echo(f"wrote {write}", err=as_json)
    if not result.holds_on_level_ground:
        raise typer.Exit(3)
