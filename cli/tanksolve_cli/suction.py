"""``tanksolve suction``: will the pump's suction line cavitate."""

from typing import Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import LiquidDensity, LiquidName, Vapour, Viscosity
from tanksolve_cli.requirement import Require
from tanksolve_cli.suction_words import (
    Altitude,
    Blocked,
    CloudPoint,
    Coldest,
    Drawn,
    Hottest,
    LeastPressure,
    Level,
    Npsh,
    PourPoint,
    PumpPlace,
    Strainer,
    Stretches,
    SuctionWords,
    Vacuum,
    find_suction,
)
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve suction --liquid 'ISO VG 46' --flow 60L/min --line '38.1mm,1.5m,drop tube,"
    "2 elbow' --level 300mm --from -10C --to 80C --vacuum 5inHg --picture inlet.png"
)
_RETIRED = {
    "--plot": "write --picture FILE",
    "--attitude": "write --require slope=9deg,heading=90deg, or --require 15deg",
}


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "suction", _suction, _EXAMPLE)


@asks(views=("inlet",), csv=True, retired=_RETIRED)
def _suction(
    ask: Ask,
    words: TankWords,
    line: Stretches = None,
    flow: Drawn = None,
    liquid: LiquidName = None,
    viscosity: Viscosity = None,
    liquid_density: LiquidDensity = None,
    vapour: Vapour = None,
    from_: Coldest = "-10C",
    to: Hottest = "80C",
    altitude: Altitude = "0m",
    pour_point: PourPoint = None,
    cloud_point: CloudPoint = None,
    level: Level = None,
    pump: PumpPlace = None,
    require: Require = None,
    strainer: Strainer = None,
    blocked: Blocked = "0%",
    vacuum: Vacuum = None,
    least_pressure: LeastPressure = None,
    npsh: Npsh = None,
    bell: Annotated[
        str | None, typer.Option(metavar="80mm", help="Bell mouth's diameter, for the cover.")
    ] = None,
    screen: Annotated[
        str | None, typer.Option(metavar="90x150mm", help="Strainer's diameter and length.")
    ] = None,
) -> None:
    """Find the inlet pressure at the pump, cold to hot: what passes, and the smallest bore."""
    from tanksolve.present.suction_document import suction_document
    from tanksolve_cli.case import read_case

    asked = SuctionWords(
        line, flow, liquid, viscosity, liquid_density, vapour, from_, to, altitude, pour_point,
        cloud_point, level, pump, strainer, blocked, vacuum, least_pressure, npsh, bell, screen,
    )  # fmt: skip
    with busy("solving the suction line"):
        case = read_case(words) if words.has_tank else None
        found = find_suction(asked, case, words, require)
    answer(suction_document(found, None if case is None else case.inputs), ask)
