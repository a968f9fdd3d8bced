"""``tanksolve compare``: pickups, tanks and fills side by side."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve compare --box 900x300x300mm --fill 42L --also-box 1000x300x270mm "
    "--also-fill 35L --pickup rear=20,150,50mm --pickup middle=450,150,50mm --rank-by area"
)
_Also = Annotated[
    list[str] | None,
    typer.Option(metavar="TANK", help="Another tank file or mesh; repeat for more."),
]
_AlsoBox = Annotated[
    list[str] | None, typer.Option(metavar="LxWxHmm", help="Another box; repeat for more.")
]
_AlsoFill = Annotated[
    list[str] | None, typer.Option(metavar="35L", help="Another fill; repeat for more.")
]


@asks(views=("plan",), csv=True, retired={"--overlay": "write --picture FILE"})
def _compare(
    ask: Ask,
    words: TankWords,
    also: _Also = None,
    also_box: _AlsoBox = None,
    also_fill: _AlsoFill = None,
    rank_by: Annotated[
        str, typer.Option(metavar="worst|area|unusable", help="What makes one better.")
    ] = "worst",
    require: Require = None,
    search_to: Annotated[str, typer.Option(help="Slope up to which to look.")] = "60deg",
) -> None:
    """Try each pickup on its own in each tank at each fill, with the other ports, and rank them.

    --require says at which attitudes the unusable volume counts; level ground by default.
    """
    import math

    from tanksolve.errors import RequirementError
    from tanksolve.present.compare_document import compare_document
    from tanksolve.project.compare_words import entries
    from tanksolve.questions.compare import contest
    from tanksolve.units import parse_angle

    if rank_by not in ("worst", "area", "unusable"):
        raise RequirementError(
            f"'{rank_by}' is no measure", where="--rank-by", allowed="worst, area, unusable"
        )
    with busy("reading the tanks and searching the limits of each pickup"):
        cases = _cases(words, also, also_box, also_fill)
        result = contest(
            entries(cases),
            rank_by=rank_by,  # type: ignore[arg-type]
            requirement=read_requirement(require) if require else None,
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
        )
    tanks = {case.tank.name: case.inputs for case in reversed(cases)}
    shown = compare_document(list(reversed(tanks.values())), result, on_level=not require)
    answer(shown, ask)


def _cases(
    words: TankWords,
    also: list[str] | None,
    boxes: list[str] | None,
    fills: list[str] | None,
) -> "list[Case]":
    """Every tank at every fill."""
    from dataclasses import replace

    from tanksolve_cli.case import read_case

    tanks = [words]
    tanks += [replace(words, tank=tank, box=None, cylinder=None) for tank in also or ()]
    tanks += [replace(words, tank=None, box=box, cylinder=None) for box in boxes or ()]
    filled = [words.fill, *(fills or ())]
    return [read_case(replace(tank, fill=fill), limits=True) for tank in tanks for fill in filled]


register = tank_command("compare", _compare, _EXAMPLE)
