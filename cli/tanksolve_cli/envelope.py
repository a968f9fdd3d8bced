"""``tanksolve envelope``: the tank limit at every heading."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import typer

from tanksolve_cli.output import CAUTIONS, busy, echo_case, print_json, print_table, slope_cell
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.tank_options import TankWords, takes_tank

if TYPE_CHECKING:
    from tanksolve.analysis.envelope import Envelope, Limit
    from tanksolve_cli.case import Case

__all__ = ["envelope_json", "register"]

_EXAMPLE = (
    "Example: tanksolve envelope --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,100mm,bore=38mm --plan limits.png"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("envelope", epilog=_EXAMPLE)(takes_tank(_envelope))


def _envelope(
    words: TankWords,
    every: Annotated[str, typer.Option(help="Spacing of the headings.")] = "5deg",
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
    tolerance: Annotated[
        str, typer.Option(help="How far the bound may lie below the solved limit.")
    ] = "0.05deg",
    plan: Annotated[
        list[Path] | None,
        typer.Option(help="Write the limits as a plan of the machine (.png, .svg, .pdf)."),
    ] = None,
    map_: Annotated[
        list[Path] | None,
        typer.Option("--map", help="Write the margins as a pitch-roll map (.png, .svg, .pdf)."),
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Find the safe pitch-roll envelope: how steep, in every heading, until a port gives out."""
    import math

    from tanksolve.analysis.envelope import envelope
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    check_pictures(plan, map_)
    with busy("reading the tank and searching its limits"):
        case = read_case(words)
        result = envelope(
            case.tank,
            case.ports,
            case.fill,
            pickups=case.pickups,
            every_deg=math.degrees(parse_angle(every, "--every")),
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
            tolerance_deg=math.degrees(parse_angle(tolerance, "--tolerance")),
        )
        _draw(result, case, plan or [], map_ or [])
    if as_json:
        first = (case.first_caution,) if case.first_caution else ()
        print_json("envelope", words.as_inputs(), envelope_json(result), (*first, *CAUTIONS))
    else:
        _print(result, case)
    tell_pictures(as_json, plan, map_)
    if not result.ok_at_level:
        raise typer.Exit(3)


def envelope_json(result: "Envelope") -> dict[str, Any]:
    """The keys of the envelope's JSON; docs/json.md lists them."""
    from tanksolve.record import as_plain

    plain: dict[str, Any] = as_plain(result)
    plain["fill"] = {"unit": "m3", "least": result.fill.least, "most": result.fill.most}
    for name in ("limits",):
        plain[name] = [{**row, "searched_to_deg": result.searched_to_deg} for row in plain[name]]
    plain["worst"]["searched_to_deg"] = result.searched_to_deg
    return plain


def _draw(result: "Envelope", case: "Case", plans: list[Path], maps: list[Path]) -> None:
    note = case.first_caution or ""
    if plans:
        from tanksolve.report.plan import plan_figure

        save_pictures(plan_figure(result, unit=case.volume_unit, note=note), plans)
    if maps:
        from tanksolve.report.pitch_roll_map import map_figure

        save_pictures(map_figure(result, unit=case.volume_unit, note=note), maps)


def _print(result: "Envelope", case: "Case") -> None:
    echo_case(case)
    typer.echo("")
    if not result.ok_at_level:
        typer.echo(
            f"NO: not held on level ground; {result.worst.port} is short by "
            f"{-1000.0 * result.margin_at_level_m:.1f} mm"
        )
        _cautions()
        return
    step = max(1, round(15.0 / (360.0 / len(result.limits))))
    rows = [_row(limit, result) for limit in result.limits[::step]]
    print_table(
        ("uphill is", "heading", "tank limit (grade)", "solved", "port", ""),
        rows,
        "tank limit, no gap between samples (still liquid, this mesh), rounded down",
        left=(0, 4, 5),
    )
    worst = result.worst
    typer.echo("")
    if worst.limited:
        typer.echo(
            f"worst over all headings: {slope_cell(worst.held_to_deg)} with uphill at "
            f"{worst.heading_deg:.1f}° ({_side(worst.heading_deg)}), set by {worst.port}"
            + ("; grazing" if worst.grazing else "")
        )
    else:
        typer.echo(
            f"no port gives out up to {slope_cell(worst.held_to_deg)}, the end of the search"
        )
    for island in result.islands[:8]:
        typer.echo(
            f"beyond the limit at heading {island.heading_deg:.0f}° the ports hold again from "
            f"{island.from_deg:.1f}° to {island.to_deg:.1f}°: do not count on reaching that"
        )
    _cautions()


def _row(limit: "Limit", result: "Envelope") -> tuple[str, ...]:
    solved = "-" if limit.slope_deg is None else f"{limit.slope_deg:.3f}°"
    remark = "" if limit.limited else f"nothing gives out up to {result.searched_to_deg:g}°"
    if limit.grazing:
        remark = "grazing"
    return (
        _side(limit.heading_deg),
        f"{limit.heading_deg:.0f}°",
        slope_cell(limit.held_to_deg),
        solved,
        limit.port or "-",
        remark,
    )


def _side(heading: float) -> str:
    """Which side is up, in words."""
    sides = {0: "nose up", 90: "right side down", 180: "nose down", 270: "left side down"}
    near = round(heading / 90.0) * 90 % 360
    off = (heading - near + 180.0) % 360.0 - 180.0
    if abs(off) < 1e-6:
        return sides[near]
    low = int(heading // 90.0) * 90 % 360
    first, second = sorted((low, (low + 90) % 360), key=lambda k: k % 180)
    return f"{sides[first]}, {sides[second]}"


def _cautions() -> None:
    typer.echo("")
    for caution in CAUTIONS:
        typer.echo(f"caution: {caution}")
