"""``tanksolve tolerance``: limits with fill, ports, walls and inclinometer off."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, tank_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve tolerance --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,50mm --fill-error 2L --position-error 5mm --wall-error 2mm --gauge-error 0.5deg"
)
_RETIRED = {"--one-level": "leave it out: limits hold whatever the machine did before"}


@asks(views=("limits",), csv=True, retired=_RETIRED)
def _tolerance(
    ask: Ask,
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
    require: Require = None,
) -> None:
    """Solve the limits nominally and with everything off the bad way, and what each error takes."""
    import math

    from tanksolve.present.tolerance_document import tolerance_document
    from tanksolve.project.tolerance_words import parse_tolerances
    from tanksolve.questions.tolerance.tolerance import tolerances
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    requirement = read_requirement(require) if require else None
    off = parse_tolerances(fill_error, position_error, wall_error, gauge_error)
    with busy("reading the tank and solving its limits with everything off the bad way"):
        case = read_case(words, limits=True)
        result = tolerances(
            case.tank,
            case.ports,
            case.fill,
            off,
            pickups=case.pickups,
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
        )
    answer(tolerance_document(case.inputs, result, requirement=requirement), ask)


register = tank_command("tolerance", _tolerance, _EXAMPLE)
