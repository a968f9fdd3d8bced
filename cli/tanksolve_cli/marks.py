"""``tanksolve marks``: the least and most fill for a requirement."""

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
    set_by_words,
)
from tanksolve_cli.pictures import check_pictures
from tanksolve_cli.requirement import Require, echo_requirement, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.marks.gauge import Gauge
    from tanksolve.questions.marks.marks import Allowances, Marks
    from tanksolve_cli.case import Case

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


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "marks", takes_tank(_marks), _EXAMPLE)


def _marks(
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
    picture: Annotated[
        list[Path] | None, typer.Option(help="Draw the marks (.png, .svg, .pdf).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Find the least and most fill with which every port keeps its rule at all required attitudes."""
    from tanksolve.questions.marks.marks import marks
    from tanksolve.units import parse_length
    from tanksolve_cli.case import read_case

    check_pictures(picture)
    requirement = read_requirement(require)
    allowances = _allowances(reading_error, reading_tilt, thermal, draw_down)
    with busy("reading the tank and searching the marks"):
        case = read_case(words)
        gauges = _gauges(dipstick or [], sight_glass or [], case)
        result = marks(
            case.tank,
            case.ports,
            requirement,
            pickups=case.pickups,
            allowances=allowances,
            gauges=gauges,
            tolerance=parse_length(tolerance, "--tolerance"),
        )
        _draw(result, case, gauges, picture or [])
    cautions = (*wall_cautions(case.tank), *_askew(case, gauges), *CAUTIONS)
    if as_json:
        from tanksolve.record import as_plain

        inputs = {**words.as_inputs(), "require": require}
        between = _fill_is_between(result, case)
        keys = {**as_plain(result), "fill_between_marks": between}
        print_json("marks", inputs, keys, (*case.cautions, *cautions))
    else:
        echo_case(case)
        echo_requirement(requirement)
        _print(result, case)
        echo_cautions(cautions)
    for path in picture or []:
        typer.echo(f"wrote {path}", err=as_json)
    if not result.feasible:
        raise typer.Exit(3)


def _allowances(
    error: str | None, tilt: str | None, thermal: str | None, draw_down: str | None
) -> "Allowances":
    from tanksolve.errors import QuantityError
    from tanksolve.questions.marks.marks import Allowances
    from tanksolve.units import parse_angle, parse_length, parse_volume, split_quantity

    growth = 0.0
    if thermal is not None:
        number, unit = split_quantity(thermal, "--thermal", "share")
        if unit != "%":
            raise QuantityError(
                f"'{thermal}' is not a share", where="--thermal", allowed="as in 5%"
            )
        growth = number / 100.0
    return Allowances(
        reading_error=parse_length(error, "--reading-error") if error else 0.0,
        tilt=parse_angle(tilt, "--reading-tilt") if tilt else 0.0,
        thermal_growth=growth,
        draw_down=parse_volume(draw_down, "--draw-down") if draw_down else 0.0,
    )


def _gauges(sticks: list[str], glasses: list[str], case: "Case") -> "list[Gauge]":
    from tanksolve.project.requirements import parse_gauge

    named = [("dipstick", text) for text in sticks] + [("sight glass", text) for text in glasses]
    counts: dict[str, int] = {}
    gauges = []
    for kind, text in named:
        counts[kind] = counts.get(kind, 0) + 1
        name = kind if counts[kind] == 1 else f"{kind} {counts[kind]}"
        gauges.append(parse_gauge(name, text, f"--{kind.replace(' ', '-')}"))
    return gauges


def _print(result: "Marks", case: "Case") -> None:
    from tanksolve.bound_words import safe_length_words, safe_volume_words
    from tanksolve.questions.envelope.rows import SURE
    from tanksolve.units import length_words

    unit = case.volume_unit
    typer.echo("")
    if not result.feasible:
        typer.echo(f"NO: {_why_not(result, unit)}")
        typer.echo("")
    rows = [
        (
            end,
            safe_volume_words(volume, unit, up=up),
            safe_length_words(dip, up=up),
            set_by_words(by)
            if by
            else ("nothing: an empty tank" if end == "least" else "the brim"),
        )
        for end, volume, dip, by, up in (
            ("least", result.least_m3, result.least_dip_m, result.least_set_by, True),
            ("most", result.most_m3, result.most_dip_m, result.most_set_by, False),
        )
    ]
    taken = "allowances taken in" if result.allowances.any_given else "no allowances given"
    title = f"fill marks, {SURE}, {taken}"
    print_table(("mark", "fill", "dip standing level", "set by"), rows, title, left=(0, 3))
    if not result.allowances.any_given:
        typer.echo(
            "none given: add --reading-error, --reading-tilt, --thermal or --draw-down to move both "
            "marks inwards"
        )
    _tell_fill(result, case)
    limits = result.limits
    cost = f"bounded within {length_words(result.tolerance_m)} of mean depth by"
    typer.echo(
        f"solved without allowances: {safe_volume_words(limits.least_root_m3, unit, up=True)} to "
        f"{safe_volume_words(limits.most_root_m3, unit, up=False)}; {cost} {limits.evaluations} attitudes"
    )
    for gauge in result.gauges:
        typer.echo(
            f"{gauge.gauge}: least mark {safe_length_words(gauge.least_mark_m, up=True)}, most mark "
            f"{safe_length_words(gauge.most_mark_m, up=False)} along the scale from its nought "
            f"({safe_volume_words(gauge.least_m3, unit, up=True)} and "
            f"{safe_volume_words(gauge.most_m3, unit, up=False)} on level ground)"
        )
    _print_attitudes(result, unit)


def _fill_is_between(result: "Marks", case: "Case") -> bool | None:
    """Whether the fill that was given lies between the marks; None where none was."""
    if case.read_fill is None:
        return None
    return result.least_m3 <= case.fill.least and case.fill.most <= result.most_m3


def _tell_fill(result: "Marks", case: "Case") -> None:
    """Say whether the fill given, by the tank file or with --fill, lies between the marks."""
    from tanksolve.units import volume_words

    between = _fill_is_between(result, case)
    if between is None or case.read_fill is None:
        return
    given = f"fill given, {case.read_fill.words.removeprefix('fill ')}"
    if between:
        typer.echo(f"the {given}, lies between the marks")
        return
    below, above = result.least_m3 - case.fill.least, case.fill.most - result.most_m3
    parts = [
        f"{volume_words(by, case.volume_unit)} {words}"
        for by, words in ((below, "below the least mark"), (above, "above the most mark"))
        if by > 0.0
    ]
    typer.echo(f"NOT BETWEEN THE MARKS: the {given}, is {' and '.join(parts)}")


def _askew(case: "Case", gauges: "list[Gauge]") -> tuple[str, ...]:
    if not case.askew or not gauges:
        return ()
    return (
        "the tank is mounted askew: places of dipsticks and sight glasses, and their leans, are in "
        "machine axes (x forward, y left, z up), not along its own walls",
    )


def _print_attitudes(result: "Marks", unit: str | None) -> None:
    from math import radians

    from tanksolve.bound_words import safe_volume_words
    from tanksolve.model.attitude import uphill_words
    from tanksolve.units import slope_words

    typer.echo("")
    most = max(result.attitudes, key=lambda row: row.unusable_m3)
    step = max(1, len(result.attitudes) // 12)
    shown = [row for k, row in enumerate(result.attitudes) if k % step == 0 or row is most]
    print_table(
        ("slope", "uphill at", "unusable", "usable below the most mark", "port"),
        [
            (
                slope_words(radians(row.slope_deg)),
                uphill_words(row.heading_deg) if row.slope_deg >= 0.05 else "level ground",
                safe_volume_words(row.unusable_m3, unit, up=True),
                safe_volume_words(row.usable_m3, unit, up=False),
                row.port or "-",
            )
            for row in shown
        ],
        "usable and unusable volume at level ground and at corners of the requirement",
        left=(1, 4),
    )


def _why_not(result: "Marks", unit: str | None) -> str:
    from tanksolve.units import length_words, volume_words

    if result.out_of_reach_m > 0.0:
        return (
            f"no fill meets it: at some required attitude a port's edge, cover or clearance counted, "
            f"is {length_words(result.out_of_reach_m)} outside the tank"
        )
    return (
        f"the least fill is above the most by {volume_words(result.short_by_m3, unit)}, "
        f"{length_words(result.short_by_dip_m)} of dip"
    )


def _draw(result: "Marks", case: "Case", gauges: "list[Gauge]", paths: list[Path]) -> None:
    if not paths:
        return
    from tanksolve.present.marks_view import marks_figure
    from tanksolve.present.save import save_picture

    for path in paths:
        figure = marks_figure(case.tank, case.ports, result, gauges, unit=case.volume_unit)
        save_picture(figure, path)
