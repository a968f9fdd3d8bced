"""Options of the pump side that several commands share, and what was given of them."""

from pathlib import PurePath
from typing import Annotated, Any

import typer

from tanksolve_cli.tank_options import TankWords

__all__ = [
    "AsJson",
    "Attitudes",
    "Flow",
    "Held",
    "Line",
    "LiquidDensity",
    "LiquidName",
    "Vapour",
    "Viscosity",
    "echo_figures",
    "given",
    "has_tank",
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
Attitudes = Annotated[
    list[str] | None,
    typer.Option(
        "--attitude",
        metavar="PITCH,ROLL",
        help="Required, as 15deg,-5deg: nose up +, right side down +. Repeat for more.",
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
AsJson = Annotated[bool, typer.Option("--json", help="Print JSON instead of a table.")]


def given(words: TankWords, **options: Any) -> dict[str, Any]:
    """What was given, for the JSON's ``inputs``; options left alone are not listed."""
    own = {name.rstrip("_"): value for name, value in options.items()}
    kept = {k: _plain(v) for k, v in own.items() if v not in (None, [], False)}
    return {**words.as_inputs(), **kept}


def _plain(value: Any) -> Any:
    """Paths as text, alone or in a list; the rest as it is."""
    if isinstance(value, list):
        return [_plain(item) for item in value]
    return str(value) if isinstance(value, PurePath) else value


def has_tank(words: TankWords) -> bool:
    """Whether a tank was described."""
    return bool(words.tank or words.box or words.cylinder)


def echo_figures(liquid: Any) -> None:
    """Say each figure of a liquid and where it comes from."""
    typer.echo(f"liquid  {liquid.name}")
    for figure in liquid.figures:
        typer.echo(f"        {figure.quantity}: {figure.value} ({figure.source})")
