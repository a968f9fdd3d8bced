"""``tanksolve suction``: will the pump's suction line cavitate."""

from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import LiquidDensity, LiquidName, Vapour, Viscosity
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from tanksolve.model.suction_line import SuctionLine
    from tanksolve.pump.cover import CoverAdvice
    from tanksolve.pump.running import ReturnFlow
    from tanksolve.pump.suction_region import SuctionRegion
    from tanksolve_cli.case import Case

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
    line: Annotated[
        list[str] | None,
        typer.Option(
            metavar="BORE,LENGTH[,FITTINGS]",
            help="A stretch of the line, from the tank on: 38.1mm,1.5m,drop tube,2 elbow.",
        ),
    ] = None,
    flow: Annotated[str | None, typer.Option(metavar="60L/min", help="Of the pump.")] = None,
    liquid: LiquidName = None,
    viscosity: Viscosity = None,
    liquid_density: LiquidDensity = None,
    vapour: Vapour = None,
    from_: Annotated[str, typer.Option("--from", help="Coldest start.")] = "-10C",
    to: Annotated[str, typer.Option(help="Hottest liquid.")] = "80C",
    altitude: Annotated[
        str, typer.Option(metavar="3000m", help="Above the sea; of 0m..3000m the highest counts.")
    ] = "0m",
    pour_point: Annotated[
        str | None, typer.Option(metavar="-39C", help="The product's own, from its data sheet.")
    ] = None,
    cloud_point: Annotated[
        str | None, typer.Option(metavar="-8C", help="Where wax comes out: of diesel, above all.")
    ] = None,
    level: Annotated[
        str | None,
        typer.Option(metavar="300mm", help="Surface over the pump; minus where it lifts."),
    ] = None,
    pump: Annotated[
        str | None,
        typer.Option(metavar="X,Y,Zmm", help="Or the pump inlet's place, with a tank and fill."),
    ] = None,
    require: Require = None,
    strainer: Annotated[
        str | None, typer.Option(metavar="3kPa@60L/min@32cSt", help="Its drop when clean.")
    ] = None,
    blocked: Annotated[str, typer.Option(help="Part of the strainer that is.")] = "0%",
    vacuum: Annotated[
        str | None, typer.Option(metavar="5inHg", help="Greatest at the pump's inlet.")
    ] = None,
    least_pressure: Annotated[
        str | None, typer.Option(metavar="85kPa", help="Least at the inlet, absolute.")
    ] = None,
    npsh: Annotated[str | None, typer.Option(metavar="2m", help="The pump's NPSH.")] = None,
    bell: Annotated[
        str | None, typer.Option(metavar="80mm", help="Bell mouth's diameter, for the cover.")
    ] = None,
    screen: Annotated[
        str | None, typer.Option(metavar="90x150mm", help="Strainer's diameter and length.")
    ] = None,
) -> None:
    """Find the inlet pressure at the pump, cold to hot: what passes, and the smallest bore."""
    from tanksolve.errors import LineError
    from tanksolve.present.suction_document import SuctionFound, suction_document
    from tanksolve.project.liquid_words import (
        parse_line,
        parse_liquid,
        parse_pump,
        parse_strainer,
        parse_temperature,
    )
    from tanksolve.pump.suction import Duty
    from tanksolve.pump.suction_limits import solve_suction
    from tanksolve.pump.suction_region import verdict_of
    from tanksolve.units import parse
    from tanksolve_cli.case import read_case

    if not line or flow is None:
        raise LineError(
            "no suction line or no flow is given",
            where="--line, --flow",
            allowed="as in --line '38.1mm,1.5m,drop tube' --flow 60L/min",
        )
    described = parse_line(line)
    if strainer is not None:
        described = type(described)(described.sections, parse_strainer(strainer, blocked))
    substance = parse_liquid(liquid, viscosity, liquid_density, vapour).with_points(
        parse_temperature(pour_point, "--pour-point"),
        parse_temperature(cloud_point, "--cloud-point"),
    )
    limits = parse_pump(vacuum, least_pressure, npsh)
    ends = parse(from_, "temperature", "--from"), parse(to, "temperature", "--to")
    with busy("solving the suction line"):
        case = read_case(words) if words.has_tank else None
        drawn = parse(flow, "flow", "--flow")
        region = _region(case, described, level, pump, require, _running(case, words, drawn))
        duty = Duty(
            substance,
            drawn,
            region.head.level_over_pump_m,
            max(parse(one, "length", "--altitude") for one in altitude.split("..")),
        )
        solved = solve_suction(described, duty, limits, *ends)
        verdict = verdict_of(solved, region, described, duty, limits, ends)
    cover = _cover(duty.flow, described.sections[0].bore, bell, screen)
    found = SuctionFound(solved, region, verdict, described, duty, limits, ends, cover)
    answer(suction_document(found, None if case is None else case.inputs), ask)


def _region(
    case: "Case | None",
    line: "SuctionLine",
    level: str | None,
    pump: str | None,
    require: list[str] | None,
    running: "ReturnFlow | None",
) -> "SuctionRegion":
    """The level over the pump as given, or the least over the required attitudes; and the pickups."""
    from tanksolve.errors import LineError
    from tanksolve.pump.suction_head import SuctionHead, required_attitudes
    from tanksolve.pump.suction_region import SuctionRegion, suction_region
    from tanksolve.units import parse, parse_list

    if level is not None and pump is not None:
        raise LineError(
            "the level over the pump is given twice", where="--level, --pump", allowed="one of them"
        )
    given = None if level is None else SuctionHead(parse(level, "length", "--level"), 0.0, 0.0)
    if given is not None and case is None and not require:
        return SuctionRegion(given)
    if case is None or (given is None and pump is None):
        raise LineError(
            "the level over the pump is not known" if given is None else "no tank is given",
            where="--level" if given is None else "--require",
            allowed="--level 300mm, or a tank with --fill, --pump X,Y,Zmm and --require",
        )
    x, y, z = parse_list(pump or "0,0,0mm", "length", ",", 3, "--pump")
    asked = required_attitudes(read_requirement(require) if require else None)
    fill = None if given is not None and case.read_fill is None else case.fill
    at = given or (x, y, z)
    return suction_region(case.tank, case.ports, fill, line, asked, at, case.pickups, running)


def _running(case: "Case | None", words: "TankWords", flow: float) -> "ReturnFlow | None":
    """The flow from the return through the tank's openings; None where there is none, or it is not known."""
    from tanksolve.project.flow_words import known_bays
    from tanksolve.pump.crossflow import DISCHARGE
    from tanksolve.pump.suction_head import running_line

    bays = None if case is None else known_bays(case, words)
    if case is None or bays is None:
        return None
    return running_line(case.tank, bays, case.ports, flow, DISCHARGE)


def _cover(flow: float, bore: float, bell: str | None, screen: str | None) -> "CoverAdvice":
    from tanksolve.pump.cover import Mouth, cover_advice
    from tanksolve.units import parse, parse_sizes

    if screen is not None:
        diameter, length = parse_sizes(screen, 2, "--screen")
        return cover_advice(flow, bore, Mouth.STRAINER, diameter, length)
    if bell is not None:
        return cover_advice(flow, bore, Mouth.BELL, parse(bell, "length", "--bell"))
    return cover_advice(flow, bore)
