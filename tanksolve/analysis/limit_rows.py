"""The rows of an envelope: the limit at one heading, and what lies beyond it."""

import math
from dataclasses import dataclass

from tanksolve.model.attitude import heading_words
from tanksolve.units import floor_to, limit_words

__all__ = ["Island", "Limit", "grade_of"]


@dataclass(frozen=True)
class Limit:
    """The limit at one heading. Angles in degrees, since this is what people read and script.

    Attributes
    ----------
    heading_deg : direction of uphill: 0 nose, 90 left side, 180 tail, 270 right side.
    slope_deg : where a port first gives out, solved; None where none does in the range searched.
    held_to_deg : bound with no gap between samples (still liquid, this mesh).
    grade_percent : grade of ``held_to_deg`` rounded down to 0.1°, itself rounded down.
    port : name of the port that gives out; None where none does.
    limited : whether a port gives out within the range searched.
    grazing : the margin comes so near zero short of ``slope_deg`` that the bound stops there.
    """

    heading_deg: float
    slope_deg: float | None
    held_to_deg: float
    grade_percent: float
    port: str | None
    limited: bool
    grazing: bool = False

    @property
    def told_deg(self) -> float:
        """The figure for people to read, before it is rounded down: here the bound."""
        return self.held_to_deg

    @property
    def sure_words(self) -> str:
        """How sure the figure is, in words."""
        return "no gap between samples (still liquid, this mesh)"

    def __str__(self) -> str:
        where = f"{heading_words(math.radians(self.heading_deg))} (heading {self.heading_deg:.1f}°)"
        what = f"set by {self.port}" if self.limited else "no port gives out up to there"
        return f"tank limit {limit_words(self.told_deg)} {where}, {what}; {self.sure_words}"


@dataclass(frozen=True)
class Island:
    """Slopes beyond the limit at which the ports hold again. Do not count on reaching them."""

    heading_deg: float
    from_deg: float
    to_deg: float


def grade_of(held_to_deg: float) -> float:
    """Grade percent of a bound rounded down to 0.1°, rounded down to 0.1 % in its turn."""
    return floor_to(100.0 * math.tan(math.radians(floor_to(held_to_deg, 0.1))), 0.1)
