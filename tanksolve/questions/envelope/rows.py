"""The rows of an envelope: the limit at one heading, and what lies beyond it."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tanksolve.model.attitude import heading_words
from tanksolve.units import floor_to, limit_words

__all__ = ["SURE", "Island", "Limit", "grade_of", "lowered_to", "told_at_same_heading"]

SURE = "no gap between samples, whatever the machine did before (still liquid, this mesh)"
_SAME_HEADING = 0.05  # degrees: headings this near are written alike


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
    bounded : always true: ``held_to_deg`` is a bound in every tank, whatever the machine did before.
    """

    heading_deg: float
    slope_deg: float | None
    held_to_deg: float
    grade_percent: float
    port: str | None
    limited: bool
    grazing: bool = False
    bounded: bool = True

    def __str__(self) -> str:
        where = f"{heading_words(math.radians(self.heading_deg))} (heading {self.heading_deg:.1f}°)"
        what = f"set by {self.port}" if self.limited else "no port gives out up to there"
        return f"tank limit {limit_words(self.held_to_deg)} {where}, {what}; {SURE}"


@dataclass(frozen=True)
class Island:
    """Slopes beyond the limit at which the ports hold again. Do not count on reaching them."""

    heading_deg: float
    from_deg: float
    to_deg: float


def told_at_same_heading(row: Limit, other: Limit) -> bool:
    """Whether two limits are written with the same heading."""
    apart = abs(row.heading_deg - other.heading_deg) % 360.0
    return min(apart, 360.0 - apart) < _SAME_HEADING


def lowered_to(worst: Limit, rows: Sequence[Limit]) -> tuple[Limit, ...]:
    """The rows, the bound of one at the heading of ``worst`` no higher than there.

    The worst is proved over all headings, which costs a little more of the tolerance than one heading
    alone does: of two figures for one heading the lower one stands.
    """
    return tuple(
        replace(row, held_to_deg=worst.held_to_deg, grade_percent=grade_of(worst.held_to_deg))
        if told_at_same_heading(row, worst) and row.held_to_deg > worst.held_to_deg
        else row
        for row in rows
    )


def grade_of(held_to_deg: float) -> float:
    """Grade percent of a bound rounded down to 0.1°, rounded down to 0.1 % in its turn."""
    return floor_to(100.0 * math.tan(math.radians(floor_to(held_to_deg, 0.1))), 0.1)
