"""Options of the suction line, the same in ``suction`` and ``report``."""

from typing import Annotated, Any

import typer

from tanksolve.project.suction_words import SuctionWords
from tanksolve_cli.pump_options import LiquidDensity, LiquidName, Vapour, Viscosity

__all__ = ["LineAndMouth", "LineWords"]


def _option(metavar: str | None, told: str, kind: Any = str | None, *names: str) -> Any:
    panel = "The suction line"
    return Annotated[kind, typer.Option(*names, metavar=metavar, help=told, rich_help_panel=panel)]


_STRETCH = "A stretch of the line, from the tank on: 38.1mm,1.5m,drop tube,2 elbow."
_LINE = {
    "line": _option("BORE,LENGTH[,FITTINGS]", _STRETCH, list[str] | None),
    "flow": _option("60L/min", "Of the pump."),
    "liquid": LiquidName,
    "viscosity": Viscosity,
    "liquid_density": LiquidDensity,
    "vapour": Vapour,
    "from_": _option(None, "Coldest start.", str, "--from"),
    "to": _option(None, "Hottest liquid.", str),
    "altitude": _option("3000m", "Above the sea; of 0m..3000m the highest counts.", str),
    "pour_point": _option("-39C", "The product's own, from its data sheet."),
    "cloud_point": _option("-8C", "Where wax comes out: of diesel, above all."),
    "level": _option("300mm", "Surface over pump's inlet; minus: it lifts."),
    "pump": _option("X,Y,Zmm", "Or the pump inlet's place, with a tank and fill."),
    "strainer": _option("3kPa@60L/min@32cSt", "Its drop when clean."),
    "blocked": _option(None, "Part of the strainer that is.", str),
    "vacuum": _option("5inHg", "Greatest at the pump's inlet."),
    "least_pressure": _option("85kPa", "Least at the inlet, absolute."),
    "npsh": _option("2m", "The pump's NPSH."),
}
_MOUTH = {
    "bell": _option("80mm", "Bell mouth's diameter, for the cover."),
    "screen": _option("90x150mm", "Strainer's diameter and length."),
}
LineWords = Annotated[SuctionWords, _LINE]
LineAndMouth = Annotated[SuctionWords, {**_LINE, **_MOUTH}]
