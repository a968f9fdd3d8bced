"""All that is solved of a suction line, put together."""

from dataclasses import dataclass

from tanksolve.model.suction_line import PumpLimits, SuctionLine
from tanksolve.pump.cover import CoverAdvice
from tanksolve.pump.suction import Duty
from tanksolve.pump.suction_limits import SuctionAnswer
from tanksolve.pump.suction_region import SuctionRegion

__all__ = ["SuctionFound"]


@dataclass(frozen=True)
class SuctionFound:
    """What was solved: the line at its duty and limits, from ``ends`` [K], and what the tank says of it."""

    answer: SuctionAnswer
    region: SuctionRegion
    verdict: str
    line: SuctionLine
    duty: Duty
    limits: PumpLimits
    ends: tuple[float, float]
    cover: CoverAdvice
