"""``tanksolve size``: the smallest tank that meets a requirement, and what a sump would gain."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.questions.size.size import Smallest
    from tanksolve.questions.size.sump_gain import SumpGain
    from tanksolve_cli.case import Case

__all__ = ["register"]

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
_RETIRED = {"--one-level": "leave it out: sizes hold whatever the machine did before"}


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "size", _size, _EXAMPLE)


@asks(views=("sizes",), csv=True, retired=_RETIRED)
def _size(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    usable: Annotated[
        str | None,
        typer.Option(metavar="20L", help="Volume wanted between the marks; else --fill is kept."),
    ] = None,
    vary: _Vary = None,
    sump: _Sump = None,
) -> None:
    """Solve for the smallest length, width, height and scale that meet the requirement."""
    from tanksolve.present.size_document import SizeAnswer, size_document
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require)
    volume = _usable(usable, words)
    with busy("reading the tank and solving for its size"):
        case = read_case(words)
        sizes = _solve(case, requirement, volume, vary)
        gain = _gain(case, requirement, sump)
    fill = case.fill if volume is None else None
    found = SizeAnswer(case.tank, sizes, requirement, fill, volume, gain)
    answer(size_document(case.inputs, found), ask)


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
