"""The suction line as typed, for ``suction`` and ``report``, and what is solved from it."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

if TYPE_CHECKING:
    from tanksolve.model.suction_line import SuctionLine
    from tanksolve.project.case import TankCase
    from tanksolve.project.tank_words import TankWords
    from tanksolve.pump.cover import CoverAdvice
    from tanksolve.pump.running import ReturnFlow
    from tanksolve.pump.suction_found import SuctionFound
    from tanksolve.pump.suction_region import SuctionRegion

__all__ = ["SuctionWords", "find_suction"]


@dataclass(frozen=True)
class SuctionWords:
    """The options of a suction line, as typed; None where one was not."""

    line: Sequence[str] | None = None
    flow: str | None = None
    liquid: str | None = None
    viscosity: str | None = None
    liquid_density: str | None = None
    vapour: str | None = None
    from_: str = "-10C"
    to: str = "80C"
    altitude: str = "0m"
    pour_point: str | None = None
    cloud_point: str | None = None
    level: str | None = None
    pump: str | None = None
    strainer: str | None = None
    blocked: str = "0%"
    vacuum: str | None = None
    least_pressure: str | None = None
    npsh: str | None = None
    bell: str | None = None
    screen: str | None = None

    @property
    def any_given(self) -> bool:
        """Whether something of a suction line was typed."""
        return self != SuctionWords()


def find_suction(
    asked: SuctionWords,
    case: "TankCase | None",
    words: "TankWords",
    require: list[str] | None,
) -> "SuctionFound":
    """Solve the line that was typed, over the tank where there is one.

    Raises LineError for what is missing or contradicts itself, and what the readers of the words raise.
    """
    from tanksolve.errors import LineError
    from tanksolve.project.liquid_words import (
        parse_line,
        parse_liquid,
        parse_pump,
        parse_strainer,
        parse_temperature,
    )
    from tanksolve.pump.suction import Duty
    from tanksolve.pump.suction_found import SuctionFound
    from tanksolve.pump.suction_limits import solve_suction
    from tanksolve.pump.suction_region import verdict_of
    from tanksolve.units import parse

    if not asked.line or asked.flow is None:
        raise LineError(
            "no suction line or no flow is given",
            where="--line, --flow",
            allowed="a bore, a length, fittings; a flow",
            next_step="add --line '38.1mm,1.5m,drop tube' --flow 60L/min with your own figures",
        )
    described = parse_line(list(asked.line))
    if asked.strainer is not None:
        strainer = parse_strainer(asked.strainer, asked.blocked)
        described = type(described)(described.sections, strainer)
    substance = parse_liquid(
        asked.liquid, asked.viscosity, asked.liquid_density, asked.vapour
    ).with_points(
        parse_temperature(asked.pour_point, "--pour-point"),
        parse_temperature(asked.cloud_point, "--cloud-point"),
    )
    limits = parse_pump(asked.vacuum, asked.least_pressure, asked.npsh)
    ends = parse(asked.from_, "temperature", "--from"), parse(asked.to, "temperature", "--to")
    drawn = parse(asked.flow, "flow", "--flow")
    region = _region(case, described, asked, require, _running(case, words, drawn))
    up = max(parse(one, "length", "--altitude") for one in asked.altitude.split(".."))
    duty = Duty(substance, drawn, region.head.level_over_pump_m, up)
    solved = solve_suction(described, duty, limits, *ends)
    verdict = verdict_of(solved, region, described, duty, limits, ends)
    cover = _cover(duty.flow, described.sections[0].bore, asked.bell, asked.screen)
    return SuctionFound(solved, region, verdict, described, duty, limits, ends, cover)


def _region(
    case: "TankCase | None",
    line: "SuctionLine",
    asked: SuctionWords,
    require: list[str] | None,
    running: "ReturnFlow | None",
) -> "SuctionRegion":
    """The level over the pump as given, or the least over the required attitudes; and the pickups."""
    from tanksolve.errors import LineError
    from tanksolve.project.requirements import parse_requirements
    from tanksolve.pump.suction_head import SuctionHead, required_attitudes
    from tanksolve.pump.suction_region import SuctionRegion, suction_region
    from tanksolve.units import parse, parse_list

    level, pump = asked.level, asked.pump
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
            next_step="add --level 300mm, how high the liquid's surface stands over the pump's inlet, "
            "or --level=-300mm where the pump lifts it, with your own figure"
            if given is None
            else "add the tank: --box 900x300x300mm --fill 42L, or its file",
        )
    x, y, z = parse_list(pump or "0,0,0mm", "length", ",", 3, "--pump")
    attitudes = required_attitudes(parse_requirements(require) if require else None)
    fill = None if given is not None and case.read_fill is None else case.fill
    at = given or (x, y, z)
    return suction_region(case.tank, case.ports, fill, line, attitudes, at, case.pickups, running)


def _running(case: "TankCase | None", words: "TankWords", flow: float) -> "ReturnFlow | None":
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
