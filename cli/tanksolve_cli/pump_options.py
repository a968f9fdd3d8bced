"""Options of the pump side that several commands share."""

from typing import TYPE_CHECKING, Annotated

import typer

if TYPE_CHECKING:
    from tanksolve.pump.crossflow import RunningLeft

__all__ = [
    "Flow",
    "Held",
    "Line",
    "LiquidDensity",
    "LiquidName",
    "Vapour",
    "Viscosity",
    "running_left_of",
]

_LIQUID = "The liquid's figures"
LiquidName = Annotated[
    str | None,
    typer.Option(
        "--liquid",
        metavar="NAME",
        help="ISO VG 10 to 150, engine oil, diesel, petrol, water, water-glycol.",
        rich_help_panel=_LIQUID,
    ),
]
Viscosity = Annotated[
    str | None,
    typer.Option(
        metavar="46cSt@40C,6.8cSt@100C",
        help="Two points of your own.",
        rich_help_panel=_LIQUID,
    ),
]
LiquidDensity = Annotated[
    str | None,
    typer.Option(metavar="870kg/m3@15C", help="With points of your own.", rich_help_panel=_LIQUID),
]
Vapour = Annotated[
    str | None,
    typer.Option(
        metavar="0.4kPa@40C,101kPa@170C",
        help="Vapour pressure of your own liquid.",
        rich_help_panel=_LIQUID,
    ),
]
Flow = Annotated[
    str | None, typer.Option(metavar="60L/min", help="Of the pump, for the seconds left.")
]
Line = Annotated[
    list[str] | None,
    typer.Option(metavar="BORE,LENGTH", help="Suction line, for the seconds left."),
]
Held = Annotated[str, typer.Option(help="Held about the pickup by a pot or box.")]


def running_left_of(
    flow: str | None, line: list[str] | None, held: str = "0L"
) -> "RunningLeft | None":
    """Seconds of running left from the pump's flow and its suction line; None without a flow."""
    from tanksolve.project.liquid_words import parse_line
    from tanksolve.pump.crossflow import running_left
    from tanksolve.units import parse, parse_volume

    if flow is None:
        return None
    volume = parse_line(line).volume if line else 0.0
    return running_left(parse(flow, "flow", "--flow"), volume, parse_volume(held, "--held"))
