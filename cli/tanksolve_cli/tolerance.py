"""``tanksolve tolerance``: limits with fill, ports, walls and inclinometer off."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.links import wall_cautions
from tanksolve_cli.output import (
    CAUTIONS,
    echo_case,
    echo_cautions,
    print_json,
    print_table,
    slope_cell,
)
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.tolerance import Toleranced, Tolerances, ToleranceTable

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve tolerance --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,50mm --fill-error 2L --position-error 5mm --wall-error 2mm --gauge-error 0.5deg"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "tolerance", takes_tank(_tolerance), _EXAMPLE)


def _tolerance(
    words: TankWords,
    fill_error: Annotated[str | None, typer.Option(metavar="2L", help="Of the fill.")] = None,
    position_error: Annotated[
        str | None, typer.Option(metavar="5mm", help="Of each opening's place.")
    ] = None,
    wall_error: Annotated[str | None, typer.Option(metavar="2mm", help="Of each wall.")] = None,
    gauge_error: Annotated[
        str | None, typer.Option(metavar="0.5deg", help="Of the inclinometer.")
    ] = None,
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    picture: Annotated[
        list[Path] | None,
        typer.Option(help="Draw the limits and what each error takes (.png, .svg, .pdf)."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Solve the limits nominally and with everything off the bad way, and what each error takes."""
    import math

    from tanksolve.questions.tolerance import tolerances
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    check_pictures(picture)
    off = _off(fill_error, position_error, wall_error, gauge_error)
    with busy("reading the tank and solving its limits at the adverse corner"):
        case = read_case(words)
        result = tolerances(
            case.tank,
            case.ports,
            case.fill,
            off,
            pickups=case.pickups,
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
        )
        cautions = (*wall_cautions(case.tank), *CAUTIONS)
        if picture:
            from tanksolve.present.tolerance_view import tolerance_figure

            note = case.first_caution or ""
            save_pictures(tolerance_figure(result, unit=case.volume_unit, note=note), picture)
    if as_json:
        from tanksolve.record import as_plain

        print_json("tolerance", words.as_inputs(), as_plain(result), (*case.cautions, *cautions))
    else:
        echo_case(case)
        _print(result, case.volume_unit)
        echo_cautions(cautions)
    tell_pictures(as_json, picture)
    if any(limit.adverse_deg == 0.0 for limit in result.limits):
        raise typer.Exit(3)


def _off(
    fill: str | None, position: str | None, walls: str | None, gauge: str | None
) -> "Tolerances":
    """The tolerances given. Raises QuantityError; FillError where there is none, or a bad one."""
    import math

    from tanksolve.errors import FillError
    from tanksolve.questions.tolerance import Tolerances
    from tanksolve.units import parse_angle, parse_length, parse_volume

    off = Tolerances(
        fill=parse_volume(fill, "--fill-error") if fill is not None else 0.0,
        position=parse_length(position, "--position-error") if position is not None else 0.0,
        walls=parse_length(walls, "--wall-error") if walls is not None else 0.0,
        gauge=math.degrees(parse_angle(gauge, "--gauge-error")) if gauge is not None else 0.0,
    )
    if off == Tolerances():
        raise FillError(
            "no tolerance is given, or only noughts: there is nothing to be off",
            allowed="--fill-error 2L, --position-error 5mm, --wall-error 2mm, --gauge-error 0.5deg",
            next_step="give at least one; 'tanksolve envelope' tells the limits with nothing off",
        )
    return off


def _print(result: "ToleranceTable", unit: str | None) -> None:
    from tanksolve.model.attitude import uphill_words
    from tanksolve.questions.tolerance import SHARES

    def cell(degrees: float | None) -> str:
        return (
            f"none to {slope_cell(result.searched_to_deg)}"
            if degrees is None
            else slope_cell(degrees)
        )

    def side(limit: "Toleranced") -> str:
        if limit.side != "worst heading" or limit.heading_deg is None:
            return limit.side
        return f"worst heading: {uphill_words(limit.heading_deg)}"

    names = [name for name in SHARES if name in result.limits[0].shares_deg]
    typer.echo(f"off by  {', '.join(result.tolerances.words(unit))}, either way")
    typer.echo("")
    if any(limit.adverse_deg == 0.0 for limit in result.limits):
        typer.echo("NO: with everything off the bad way it is not held on level ground")
    print_table(
        ("side", "nominal (grade)", "adverse (grade)", "port", *(SHARES[name] for name in names)),
        [
            (
                side(limit),
                cell(limit.nominal_deg),
                cell(limit.adverse_deg),
                limit.port or "-",
                *(_share(limit, name) for name in names),
            )
            for limit in result.limits
        ],
        "tank limits, solved, rounded down; what each error takes of the nominal limit by itself, by "
        "derivative there, in degrees and grade",
        left=(0, 3),
    )
    _print_why_no_share(result)


def _print_why_no_share(result: "ToleranceTable") -> None:
    """Below the table: why a '-' stands where a share was asked for."""
    free = [limit for limit in result.limits if limit.nominal_deg is None]
    if free:
        typer.echo(
            "- no share: with nothing off nothing gives out there up to "
            f"{slope_cell(result.searched_to_deg)}, so there is no limit to take from"
            + (
                "; the limit at the adverse corner is jumped to, no derivative tells of it"
                if any(limit.adverse_deg is not None for limit in free)
                else ""
            )
        )
    if any(limit.nominal_deg and None in limit.shares_deg.values() for limit in result.limits):
        typer.echo(
            "- no share: the limit is found on turns on slopes a degree apart, too far for a derivative"
        )
    if any(limit.nominal_deg == 0.0 for limit in result.limits):
        typer.echo("- no share: with nothing off it is not held on level ground, nothing is left")


def _share(limit: "Toleranced", name: str) -> str:
    """What a tolerance takes of a nominal limit: degrees, and percent of grade there."""
    import math

    share = limit.shares_deg[name]
    if share is None or limit.nominal_deg is None:
        return "-"
    grade = 100.0 * math.radians(share) / math.cos(math.radians(limit.nominal_deg)) ** 2
    return f"{share:.2f}° ({grade:.1f} %)"
