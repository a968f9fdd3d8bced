"""``tanksolve dip``: the dipstick table."""

from pathlib import Path
from typing import Annotated

import typer

from tanksolve_cli.output import echo_case, print_json, print_table
from tanksolve_cli.tank_options import TankWords, takes_tank
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = "Example: tanksolve dip --cylinder 450x1200mm --lies across --step 25mm --csv dip.csv"
_CAUTIONS = ("depths are for a tank standing level, from the lowest point of the liquid",)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("dip", epilog=_EXAMPLE)(takes_tank(_dip))


def _dip(
    words: TankWords,
    step: Annotated[str, typer.Option(help="Step of depth.")] = "10mm",
    csv: Annotated[Path | None, typer.Option(help="Write the table as CSV.")] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Tabulate depth against volume, standing level, from the lowest point of the liquid."""
    from tanksolve.questions.dip import dip
    from tanksolve.units import parse_length
    from tanksolve_cli.case import read_case

    if csv is not None:
        from tanksolve.files import check_text_path

        check_text_path(csv, (".csv", ".txt"), "--csv")
    with busy("reading the tank and filling the table"):
        case = read_case(words)
        table = dip(case.wall_tank, parse_length(step, "--step"))
    if csv is not None:
        from tanksolve.files import write_text

        lines = ["depth_m,volume_m3", *(f"{r.depth_m!r},{r.volume_m3!r}" for r in table.rows)]
        write_text(csv, "\n".join(lines) + "\n")
    if as_json:
        from tanksolve.record import as_plain

        print_json("dip", words.as_inputs(), as_plain(table), _CAUTIONS)
    else:
        from tanksolve.units import length_words, volume_words

        echo_case(case)
        typer.echo("")
        rows = [
            (
                length_words(row.depth_m),
                volume_words(row.volume_m3, case.volume_unit),
                f"{100.0 * row.volume_m3 / table.capacity_m3:.1f} %",
            )
            for row in table.rows
        ]
        print_table(("depth", "volume", "of full"), rows, _CAUTIONS[0], left=())
    if csv is not None:
        typer.echo(f"wrote {csv}", err=as_json)
