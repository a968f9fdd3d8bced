"""``tanksolve compare``: pickup positions side by side."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.output import CAUTIONS, busy, echo_case, print_json, print_table, slope_cell
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.tank_options import TankWords, takes_tank

if TYPE_CHECKING:
    from tanksolve.analysis.compare import Comparison
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "Example: tanksolve compare --box 900x300x300mm --fill 42L "
    "--pickup rear=20,150,50mm --pickup middle=450,150,50mm"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("compare", epilog=_EXAMPLE)(takes_tank(_compare))


def _compare(
    words: TankWords,
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    overlay: Annotated[
        list[Path] | None, typer.Option(help="Write all limits in one plan (.png, .svg, .pdf).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Try each pickup on its own, with the other ports, and rank them by their worst heading."""
    import math

    from tanksolve.analysis.compare import compare
    from tanksolve.errors import PortError
    from tanksolve.model.ports import PortKind
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    check_pictures(overlay)
    with busy("reading the tank and searching the limits of each pickup"):
        case = read_case(words)
        pickups = {p.name: [p] for p in case.ports if p.kind is PortKind.PICKUP}
        if len(pickups) < 2:
            raise PortError(
                f"{len(pickups)} pickup is nothing to compare",
                allowed="two or more pickups",
                next_step="add --pickup NAME=X,Y,Zmm",
            )
        others = [p for p in case.ports if p.kind is not PortKind.PICKUP]
        degrees = math.degrees(parse_angle(search_to, "--search-to"))
        result = compare(case.tank, pickups, case.fill, others=others, search_to_deg=degrees)
        if overlay:
            from tanksolve.report.comparison import comparison_figure

            note = case.first_caution or ""
            save_pictures(comparison_figure(result, unit=case.volume_unit, note=note), overlay)
    if as_json:
        _print_json(result, case, words)
    else:
        _print(result, case)
    tell_pictures(as_json, overlay)
    if not any(c.envelope.ok_at_level for c in result.contenders):
        raise typer.Exit(3)


def _print_json(result: "Comparison", case: "Case", words: TankWords) -> None:
    from tanksolve_cli.envelope import envelope_json

    first = (case.first_caution,) if case.first_caution else ()
    contenders = [
        {
            "name": c.name,
            "rank": c.rank,
            "worst_held_to_deg": c.worst_held_to_deg,
            "mean_deg": c.mean_deg,
            "envelope": envelope_json(c.envelope),
        }
        for c in result.contenders
    ]
    print_json("compare", words.as_inputs(), {"contenders": contenders}, (*first, *CAUTIONS))


def _print(result: "Comparison", case: "Case") -> None:
    echo_case(case)
    typer.echo("")
    rows = [
        (
            f"{c.rank}",
            c.name,
            slope_cell(c.worst_held_to_deg),
            "-" if not c.envelope.worst.limited else f"{c.envelope.worst.heading_deg:.0f}°",
            c.envelope.worst.port or "-",
            slope_cell(c.mean_deg),
        )
        for c in result.contenders
    ]
    columns = ("rank", "pickup", "worst limit (grade)", "uphill at", "set by", "mean of headings")
    print_table(columns, rows, "tank limits, rounded down", left=(1, 4))
    typer.echo("")
    for caution in CAUTIONS:
        typer.echo(f"caution: {caution}")
