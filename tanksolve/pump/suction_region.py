"""What the tank says of a suction line's worst point: the level over the pump, and the pickup's own rule."""

import math
from dataclasses import dataclass, replace

from tanksolve.errors import LineError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.suction_line import PumpLimits, SuctionLine
from tanksolve.model.tank import Tank
from tanksolve.pump.running import ReturnFlow
from tanksolve.pump.suction import Duty
from tanksolve.pump.suction_head import PickupOverRegion, SuctionHead, worst_head, worst_pickup
from tanksolve.pump.suction_limits import SuctionAnswer, Verdict, worst_state
from tanksolve.state.conditions import Pickups

__all__ = ["Place", "SuctionRegion", "suction_region", "verdict_of"]

Place = tuple[float, float, float]


@dataclass(frozen=True)
class SuctionRegion:
    """Required attitudes in words, the least level over the pump at them, and the pickup there.

    ``pickup`` is None where nothing judges one: no tank, no fill, or no pickup in it.
    """

    head: SuctionHead
    required: tuple[str, ...] = ()
    pickup: PickupOverRegion | None = None


def suction_region(
    tank: Tank,
    ports: tuple[Port, ...],
    fill: Fill | None,
    line: SuctionLine,
    requirement: Requirement,
    at: SuctionHead | Place,
    pickups: Pickups = "all",
    running: ReturnFlow | None = None,
) -> SuctionRegion:
    """The worst of a required region.

    at : the level over the pump as given, or the place of the pump's inlet [m], tank frame.
    running : the flow from the return, where it lowers the pickup's bay; see ``suction_head.running_line``.
    fill : None only where the level is given; the pickup is then not judged.
    Raises LineError for a line wider than the tank or a place without a fill, PortError, FillError.
    """
    line.check_against_tank(float((tank.upper - tank.lower).min()))
    if isinstance(at, SuctionHead):
        head = at
    elif fill is None:
        raise LineError("a pump's place needs a fill to tell its level by", where="--pump")
    else:
        head = worst_head(tank, ports, fill, at, requirement, running)
    if fill is None:
        return SuctionRegion(head)
    bore = line.sections[0].bore
    over = worst_pickup(tank, ports, fill, requirement, bore, pickups, running)
    return SuctionRegion(head, requirement.words, over)


def verdict_of(
    answer: SuctionAnswer,
    region: SuctionRegion,
    line: SuctionLine,
    duty: Duty,
    limits: PumpLimits,
    ends: tuple[float, float],
) -> Verdict:
    """No where anything fails for certain; yes where all is certain; else not known.

    The line must pass at the bound of the least level too, not only at what was solved;
    ends : coldest and hottest [K].
    """
    each = {answer.verdict, region.pickup.verdict if region.pickup is not None else "yes"}
    if "no" in each:
        return "no"
    head = region.head
    lowest = head.level_over_pump_m if head.bound_m is None else head.bound_m
    if each != {"yes"} or not math.isfinite(lowest):
        return "not known"
    sure = worst_state(line, replace(duty, level_over_pump=lowest), limits, *ends).passes
    return "yes" if sure else "not known"
