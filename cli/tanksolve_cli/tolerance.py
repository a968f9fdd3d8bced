"""``tanksolve tolerance``: limits with fill, ports, walls and inclinometer off."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.questions.tolerance.tolerance import Tolerances

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve tolerance --box 900x300x300mm --fill 42L "
    "--pickup suction=20,150,50mm --fill-error 2L --position-error 5mm --wall-error 2mm --gauge-error 0.5deg"
)


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "tolerance", _tolerance, _EXAMPLE)


@asks(views=("limits",), csv=True)
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
) -> None:
    """Solve the limits nominally and with everything off the bad way, and what each error takes."""
    import math

    from tanksolve.present.tolerance_document import tolerance_document
    from tanksolve.questions.tolerance.tolerance import tolerances
    from tanksolve.units import parse_angle
    from tanksolve_cli.case import read_case

    off = _off(fill_error, position_error, wall_error, gauge_error)
    with busy("reading the tank and solving its limits with everything off the bad way"):
        case = read_case(words)
        result = tolerances(
            case.tank,
            case.ports,
            case.fill,
            off,
            pickups=case.pickups,
            search_to_deg=math.degrees(parse_angle(search_to, "--search-to")),
        )
    answer(tolerance_document(case.inputs, result), ask)


def _off(
    fill: str | None, position: str | None, walls: str | None, gauge: str | None
) -> "Tolerances":
    """The tolerances given. Raises QuantityError; FillError where there is none, or a bad one."""
    import math

    from tanksolve.errors import FillError
    from tanksolve.questions.tolerance.tolerance import Tolerances
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
