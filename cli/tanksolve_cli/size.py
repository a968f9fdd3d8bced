"""``tanksolve size``: the smallest tank that meets a requirement, and what a sump would gain."""

from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.output import CAUTIONS, echo_case, echo_cautions, print_json, print_table
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.requirement import Require, echo_requirement, read_requirement, surface_caution
from tanksolve_cli.tank_options import TankWords, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.design.size import Smallest
    from tanksolve.design.sump_gain import SumpGain
    from tanksolve.model.requirement import Requirement
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "Example: tanksolve size --box 900x300x300mm --pickup suction=100,150,50mm,bore=38mm "
    "--breather cap=450,150,300mm --require 10deg --usable 20L --sump 100,150mm,diameter=150mm,depth=60mm"
)
_Sump = Annotated[
    str | None,
    typer.Option(
        metavar="X,Ymm,diameter=150mm,depth=60mm",
        help="Say what this round sump, with the first pickup in it, would gain.",
    ),
]
_Vary = Annotated[
    list[str] | None,
    typer.Option(metavar="length|width|height|scale", help="Only this; repeat for more."),
]


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    app.command("size", epilog=_EXAMPLE)(takes_tank(_size))


def _size(
    words: TankWords,
    require: Require = None,
    usable: Annotated[
        str | None,
        typer.Option(metavar="20L", help="Volume wanted between the marks; else --fill is kept."),
    ] = None,
    vary: _Vary = None,
    sump: _Sump = None,
    picture: Annotated[
        list[Path] | None, typer.Option(help="Draw the sizes (.png, .svg, .pdf).")
    ] = None,
    as_json: Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")] = False,
) -> None:
    """Solve for the smallest length, width, height and scale that meet the requirement."""
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require)
    check_pictures(picture)
    with busy("reading the tank and solving for its size"):
        case = read_case(words)
        sizes = _solve(case, requirement, usable, vary)
        gain = _gain(case, requirement, sump)
        cautions = (
            *([case.first_caution] if case.first_caution else []),
            *surface_caution(case.tank),
            *CAUTIONS,
        )
        if picture:
            from tanksolve.report.size_view import size_figure

            save_pictures(size_figure(case.tank, sizes, requirement), picture)
    if as_json:
        inputs = {**words.as_inputs(), "require": require, "usable": usable}
        found = {"requirement": requirement.words, "source": requirement.source}
        print_json("size", inputs, {**found, "sizes": sizes, "sump": gain}, cautions)
    else:
        echo_case(case)
        echo_requirement(requirement)
        _print(sizes, gain, case)
        echo_cautions(cautions)
    tell_pictures(as_json, picture)
    if all(one.smallest_m is None and not one.meets_now for one in sizes):
        raise typer.Exit(3)


def _solve(
    case: "Case", requirement: "Requirement", usable: str | None, vary: list[str] | None
) -> "list[Smallest]":
    from tanksolve.design.size import DIMENSIONS, smallest
    from tanksolve.errors import TankError
    from tanksolve.units import parse_volume

    wanted = vary or list(DIMENSIONS)
    for name in wanted:
        if name not in DIMENSIONS:
            raise TankError(
                f"'{name}' is no dimension", where="--vary", allowed=", ".join(DIMENSIONS)
            )
    volume = parse_volume(usable, "--usable") if usable is not None else None
    return [
        smallest(
            case.tank,
            case.ports,
            requirement,
            name,  # type: ignore[arg-type]
            fill=case.fill if volume is None else None,
            usable=volume,
            pickups=case.pickups,
        )
        for name in wanted
    ]


def _gain(case: "Case", requirement: "Requirement", sump: str | None) -> "SumpGain | None":
    if sump is None:
        return None
    from tanksolve.design.sump_gain import sump_gain
    from tanksolve.project.limits import parse_sump

    return sump_gain(
        case.tank,
        case.ports,
        requirement,
        parse_sump(sump),
        pickups=case.pickups,
    )


def _print(sizes: "list[Smallest]", gain: "SumpGain | None", case: "Case") -> None:
    from tanksolve.bound_words import safe_length_words
    from tanksolve.units import length_words, volume_words

    typer.echo("")
    rows = []
    for one in sizes:
        if one.smallest_m is None or one.factor is None:
            told = "met down to 2 % of it" if one.meets_now else "not met up to 50 times it"
            rows.append((one.dimension, length_words(one.now_m), "-", told, "-", str(one.solves)))
            continue
        proved = "-" if one.held_m is None else safe_length_words(one.held_m, up=True)
        rows.append(
            (
                one.dimension,
                length_words(one.now_m),
                length_words(one.smallest_m),
                proved,
                f"{one.residual:.1e} {one.residual_unit}",
                str(one.solves),
            )
        )
    print_table(
        ("vary", "now", "smallest, solved", "proved", "residual", "solves"),
        rows,
        "smallest size that meets the requirement, the others kept; ports keep to their nearer walls",
    )
    if any(one.factor is None and not one.meets_now for one in sizes):
        typer.echo(
            "not met: every step of a quarter up to 50 times the present size was tried; a smaller size, or "
            "one between two steps, is not ruled out"
        )
    if any(one.factor is not None for one in sizes):
        typer.echo(
            "smallest: of the sizes that lead up to it without a break from the present one; a smaller one "
            "further off is not ruled out"
        )
    if gain is not None:
        unit = case.volume_unit
        typer.echo("")
        typer.echo(
            f"the sump adds {volume_words(gain.adds_m3, unit)}; with the pickup lowered into it the least "
            f"fill is {volume_words(gain.least_after_m3, unit)} instead of "
            f"{volume_words(gain.least_before_m3, unit)}: {volume_words(abs(gain.gain_m3), unit)} "
            + ("less is unusable" if gain.gain_m3 >= 0.0 else "more is unusable")
        )
