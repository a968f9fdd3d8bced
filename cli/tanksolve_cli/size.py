"""``tanksolve size``: the smallest tank that meets a requirement, and what a sump would gain."""

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
from tanksolve_cli.pictures import check_pictures, save_pictures, tell_pictures
from tanksolve_cli.requirement import (
    Require,
    echo_requirement,
    read_requirement,
)
from tanksolve_cli.tank_options import TankWords, register_command, takes_tank
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.questions.size.size import Smallest
    from tanksolve.questions.size.sump_gain import SumpGain
    from tanksolve_cli.case import Case

__all__ = ["register"]

_SUMP = (
    "what the sump gains is for one free surface: on a slope the floor beside a sump may run dry, and the "
    "pump then has only what the sump holds",
)

_EXAMPLE = (
    "tanksolve size --box 900x300x300mm --pickup suction=100,150,50mm,bore=38mm "
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
    register_command(app, "size", takes_tank(_size), _EXAMPLE)


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
    volume = _usable(usable, words)
    with busy("reading the tank and solving for its size"):
        case = read_case(words)
        sizes = _solve(case, requirement, volume, vary)
        gain = _gain(case, requirement, sump)
        cautions = (
            *wall_cautions(case.tank),
            *(_SUMP if gain else ()),
            *CAUTIONS,
        )
        if picture:
            from tanksolve.present.size_view import size_figure

            wanted = _wanted(volume, case)
            note = case.first_caution or ""
            figure = size_figure(case.tank, sizes, requirement, wanted=wanted, note=note)
            save_pictures(figure, picture)
    if as_json:
        inputs = {**words.as_inputs(), "require": require, "usable": usable}
        found = {"requirement": requirement.words, "source": requirement.source}
        keys = {**found, "sizes": sizes, "sump": gain}
        print_json("size", inputs, keys, (*case.cautions, *cautions))
    else:
        echo_case(case)
        echo_requirement(requirement)
        _print(sizes, volume, case)
        if gain is not None:
            _print_gain(gain, case.volume_unit)
        echo_cautions(cautions)
    tell_pictures(as_json, picture)
    if all(one.smallest_m is None and not one.meets_now for one in sizes):
        raise typer.Exit(3)


def _usable(text: str | None, words: TankWords) -> float | None:
    """The usable volume asked for [m³], if any. Raises QuantityError, FillError."""
    from tanksolve.errors import FillError
    from tanksolve.units import parse_volume

    if text is None:
        return None
    if words.fill is not None:
        raise FillError(
            "two things to size the tank for: a fill that stays, and a volume between the marks",
            where="--fill, --usable",
            next_step="give one of them",
        )
    volume = parse_volume(text, "--usable")
    if not 0.0 < volume < float("inf"):
        raise FillError(
            f"'{text}' is no volume to size a tank for", where="--usable", allowed="more than 0 L"
        )
    return volume


def _solve(
    case: "Case",
    requirement: "Requirement",
    usable: float | None,
    vary: list[str] | None,
) -> "list[Smallest]":
    from tanksolve.errors import TankError
    from tanksolve.questions.size.size import smallest
    from tanksolve.questions.size.stretch import DIMENSIONS

    wanted = list(dict.fromkeys(vary or DIMENSIONS))
    for name in wanted:
        if name not in DIMENSIONS:
            raise TankError(
                f"'{name}' is no dimension", where="--vary", allowed=", ".join(DIMENSIONS)
            )
    return [
        smallest(
            case.tank,
            case.ports,
            requirement,
            name,  # type: ignore[arg-type]
            fill=case.fill if usable is None else None,
            usable=usable,
            pickups=case.pickups,
        )
        for name in wanted
    ]


def _gain(case: "Case", requirement: "Requirement", sump: str | None) -> "SumpGain | None":
    if sump is None:
        return None
    from tanksolve.project.limits import parse_sump
    from tanksolve.questions.size.sump_gain import sump_gain

    return sump_gain(
        case.tank,
        case.ports,
        requirement,
        parse_sump(sump),
        pickups=case.pickups,
    )


def _wanted(usable: float | None, case: "Case") -> str:
    """What the tank is sized for, in words."""
    from tanksolve.units import volume_words

    if usable is not None:
        return f"{volume_words(usable, case.volume_unit)} between the marks"
    least, most = (volume_words(v, case.volume_unit) for v in (case.fill.least, case.fill.most))
    return f"{least} in it" if least == most else f"{least} to {most} in it"


def _print(sizes: "list[Smallest]", usable: float | None, case: "Case") -> None:
    typer.echo("")
    print_table(
        ("vary", "now", "smallest, solved", "proved", "residual", "solves"),
        [_row(one) for one in sizes],
        f"smallest size that meets the requirement with {_wanted(usable, case)}, the others kept",
    )
    for one in sizes:
        if one.jump_words:
            typer.echo(_jump(one, usable, case.volume_unit))
        elif one.smallest_m is not None:
            typer.echo(f"{one.dimension}: set by {'; '.join(map(set_by_words, one.set_by))}")
    typer.echo(
        "ports keep to their nearer walls; one that sits on a part or wall inside the enclosing box "
        "moves with it as the tank is stretched"
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


def _row(one: "Smallest") -> tuple[str, ...]:
    from tanksolve.bound_words import safe_length_words
    from tanksolve.units import length_words

    now = length_words(one.now_m)
    if one.smallest_m is None:
        told = "met down to 2 % of it" if one.meets_now else "not met up to 50 times it"
        return (one.dimension, now, "-", told, "-", str(one.solves))
    proved = "-" if one.held_m is None else safe_length_words(one.held_m, up=True)
    jump = ", jump" if one.jump_words else ""
    residual = f"{one.residual_m3:.1e} m³{jump}"
    solved = length_words(one.smallest_m)
    return (one.dimension, now, solved, proved, residual, str(one.solves))


def _jump(one: "Smallest", usable: float | None, unit: str | None) -> str:
    """Why a smallest size is no root, and what is to spare there."""
    from tanksolve.units import length_words, volume_words

    spare = volume_words(one.residual_m3 or 0.0, unit)
    left = (
        f"every rule is kept there with {spare} to spare"
        if usable is None
        else f"the marks are {spare} further apart there than asked for"
    )
    return (
        f"{one.dimension}: ends on a jump, not on a root: {length_words(one.smallest_m or 0.0)} "
        f"{one.jump_words}; {left}"
    )


def _print_gain(gain: "SumpGain", unit: str | None) -> None:
    from tanksolve.units import volume_words

    typer.echo("")
    typer.echo(
        f"the sump adds {volume_words(gain.adds_m3, unit)}; with the pickup lowered into it the least "
        f"fill is {volume_words(gain.least_after_m3, unit)} instead of "
        f"{volume_words(gain.least_before_m3, unit)}: {volume_words(abs(gain.gain_m3), unit)} "
        + ("less is unusable" if gain.gain_m3 >= 0.0 else "more is unusable")
    )
