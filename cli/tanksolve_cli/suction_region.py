"""What the tank says of a suction line's worst point: required attitudes, level, the pickup's rule."""

from dataclasses import dataclass
from typing import TYPE_CHECKING

from tanksolve_cli.pump_options import has_tank
from tanksolve_cli.tank_options import TankWords

if TYPE_CHECKING:
    from tanksolve.model.suction_line import PumpLimits, SuctionLine
    from tanksolve.pump.suction import Duty
    from tanksolve.pump.suction_head import PickupOverRegion, SuctionHead
    from tanksolve.pump.suction_limits import SuctionAnswer

__all__ = [
    "Region",
    "cover_left",
    "level_words",
    "passes_at_bound",
    "pickup_words",
    "region_of",
    "verdict_of",
]


@dataclass(frozen=True)
class Region:
    """What the tank says of the worst point: required attitudes, level over the pump, pickup."""

    head: "SuctionHead"
    required: tuple[str, ...] = ()
    pickup: "PickupOverRegion | None" = None
    unit: str | None = None


def region_of(
    words: TankWords,
    line: "SuctionLine",
    level: str | None,
    pump: str | None,
    attitude: list[str] | None,
    require: list[str] | None,
) -> Region:
    """The level over the pump as given, or the least over the required attitudes; and the pickups."""
    from tanksolve.errors import LineError
    from tanksolve.project.motion_words import parse_attitude
    from tanksolve.pump.suction_head import (
        SuctionHead,
        required_attitudes,
        worst_head,
        worst_pickup,
    )
    from tanksolve.units import parse, parse_list
    from tanksolve_cli.requirement import read_requirement

    given = None if level is None else SuctionHead(parse(level, "length", "--level"), 0.0, 0.0)
    if not has_tank(words):
        if given is None or require:
            raise LineError(
                "the level over the pump is not known" if given is None else "no tank is given",
                where="--level" if given is None else "--require",
                allowed="--level 300mm, or a tank with --fill, --pump X,Y,Zmm and --require",
            )
        return Region(given)
    from tanksolve_cli.case import read_case

    case = read_case(words)
    line.check_against_tank(float((case.tank.upper - case.tank.lower).min()))
    asked = read_requirement(require) if require else None
    attitudes = [parse_attitude(text) for text in attitude or []]
    requirement = required_attitudes(asked, attitudes)
    if given is None and pump is None:
        raise LineError(
            "the level over the pump is not known",
            where="--level",
            allowed="--level 300mm, or the place of the pump's inlet: --pump X,Y,Zmm",
        )
    if given is not None and case.read_fill is None:
        return Region(given)
    tank, ports, fill = case.tank, case.ports, case.fill
    over = worst_pickup(tank, ports, fill, requirement, line.sections[0].bore, case.pickups)
    if given is None:
        x, y, z = parse_list(str(pump), "length", ",", 3, "--pump")
        given = worst_head(tank, ports, fill, (x, y, z), requirement)
    return Region(given, requirement.words, over, case.volume_unit)


def verdict_of(answer: "SuctionAnswer", region: Region, at_bound: bool) -> str:
    """No where anything fails for certain; yes where all is certain; else not known.

    at_bound : whether the line passes with the level at the bound of the worst too.
    """
    each = [answer.verdict]
    if region.pickup is not None:
        each.append(region.pickup.verdict)
    if "no" in each:
        return "no"
    return "not known" if "not known" in each or not at_bound else "yes"


def passes_at_bound(
    line: "SuctionLine",
    duty: "Duty",
    limits: "PumpLimits",
    head: "SuctionHead",
    ends: tuple[float, float],
) -> bool:
    """Whether the line passes at the least level that a required attitude may have."""
    from dataclasses import replace

    from tanksolve.pump.suction_limits import worst_state

    lowest = head.level_over_pump_m if head.bound_m is None else head.bound_m
    return worst_state(line, replace(duty, level_over_pump=lowest), limits, *ends).passes


def level_words(head: "SuctionHead", unit: str | None) -> str:
    """The level over the pump, and where it is from."""
    from math import radians

    from tanksolve.model.attitude import pitch_roll_words
    from tanksolve.units import length_words, volume_words

    side = "over" if head.level_over_pump_m >= 0.0 else "below"
    level = f"{length_words(abs(head.level_over_pump_m))} {side} the pump's inlet"
    if head.volume_m3 is None:
        return f"{level}, as given"
    where = pitch_roll_words(radians(head.pitch_deg), radians(head.roll_deg))
    return f"{level}, at {where}, with the least fill, {volume_words(head.volume_m3, unit)}"


def cover_left(metres: float) -> str:
    """Liquid over a mouth [m] in words, or how far it is out of it."""
    from tanksolve.bound_words import safe_length_words

    if metres >= 0.0:
        return safe_length_words(metres, up=False)
    return f"none, the mouth is {safe_length_words(-metres, up=True)} out of the liquid"


def pickup_words(pickup: "PickupOverRegion") -> str:
    """Whether the pickup keeps its own rule over the required attitudes, and where it is worst."""
    from math import radians

    from tanksolve.bound_words import safe_length_words
    from tanksolve.model.attitude import pitch_roll_words

    where = pitch_roll_words(radians(pickup.pitch_deg), radians(pickup.roll_deg))
    if pickup.cover_m < 0.0:
        state = f"NO: {pickup.port} is out of the liquid"
    elif pickup.margin_m < 0.0:
        short = safe_length_words(-pickup.margin_m, up=True)
        state = f"NO: {pickup.port} has {short} too little over it"
    else:
        known = pickup.verdict == "yes"
        kept = (
            "keeps its rule"
            if known
            else "keeps its rule where it was solved, but not proved (NOT KNOWN)"
        )
        state = f"{pickup.port} {kept}, by {safe_length_words(pickup.margin_m, up=False)}"
    return f"{state} at {where}; cover {pickup.cover_words}"
