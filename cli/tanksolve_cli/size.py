"""``tanksolve size``: the smallest tank that meets a requirement, and what a sump would gain."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

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
    from tanksolve.project.size_case import gain_of, smallest_of, usable_of
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require)
    volume = usable_of(usable, words)
    with busy("reading the tank and solving for its size"):
        case = read_case(words, limits=True)
        sizes = smallest_of(case, requirement, volume, vary)
        gain = gain_of(case, requirement, sump)
    fill = case.fill if volume is None else None
    found = SizeAnswer(case.tank, sizes, requirement, fill, volume, gain)
    answer(size_document(case.inputs, found), ask)


register = tank_command("size", _size, _EXAMPLE)
