"""``tanksolve report``: every answer about a tank in one file, for a browser or as PDF."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.sheet import POURS
from tanksolve_cli.suction_options import LineWords
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve report --box 900x300x300mm --fill 42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --require 15deg -o report.html"
)


@asks()
def _report(
    ask: Ask,
    words: TankWords,
    asked: LineWords,
    require: Require = None,
    machine_limit: Annotated[
        str | None,
        typer.Option(
            metavar="'15deg, manual p. 12'", help="The machine maker's slope limit, for the plate."
        ),
    ] = None,
    allowance: Annotated[
        str | None, typer.Option(metavar="3deg", help="For rough ground, for the plate.")
    ] = None,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file to write (.html, .pdf).")
    ] = Path("report.html"),
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Write every answer about a tank into one page, with the tank to tilt in it; or as PDF."""
    from tanksolve.files import check_new
    from tanksolve.present.drawn import check_drawn_path
    from tanksolve.present.report_parts import report_of, write_report
    from tanksolve.project.plate_words import parse_plate
    from tanksolve.project.suction_words import find_suction
    from tanksolve.units import parse_volume
    from tanksolve_cli.case import read_case

    check_drawn_path(output, "a report", (".html", ".pdf"))
    if not force:
        check_new(output)
    given = machine_limit is not None or allowance is not None
    plate = parse_plate(machine_limit, allowance) if given else None
    requirement = read_requirement(require) if require else None
    pour = parse_volume(POURS[ask.system.name], "--pour")
    with busy("reading the tank and answering everything about it"):
        case = read_case(words, limits=True)
        line = find_suction(asked, case, words, require) if asked.any_given else None
        report = report_of(case, requirement, plate, line, liquid=asked.liquid or "", pour=pour)
        write_report(report, output)
    answer(report.told[0].document, ask, [output])


register = tank_command("report", _report, _EXAMPLE)
