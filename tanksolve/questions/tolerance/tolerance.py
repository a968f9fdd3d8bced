"""Limits with tolerances: nominal, sure whatever is off, and what each tolerance takes away."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from tanksolve.errors import FillError, TankError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import Envelope, envelope_under
from tanksolve.questions.envelope.rows import Limit
from tanksolve.questions.tolerance.off import OffConditions
from tanksolve.questions.tolerance.reading import both_axes, read_to
from tanksolve.result import Result
from tanksolve.state.conditions import Pickups
from tanksolve.units import length_words, slope_words, volume_words

__all__ = ["SHARES", "ToleranceTable", "Toleranced", "Tolerances", "tolerances"]

SIDES = ("nose up", "nose down", "left side down", "right side down", "worst heading")
_HEADINGS = (0.0, 180.0, 270.0, 90.0)  # uphill with that side, in the order of ``SIDES``
SHARES = {
    "fill": "fill takes",
    "position": "position takes",
    "walls": "walls take",
    "gauge": "gauge takes",
}
_SMALL = 0.02  # of a tolerance: the step of the derivative


@dataclass(frozen=True)
class Tolerances:
    """How far off things may be, either way.

    Attributes
    ----------
    fill : [m³]. position : of each opening, any direction [m]. walls : each wall, outwards or
    inwards [m]. gauge : the inclinometer [°].

    Raises FillError for a negative figure, or an inclinometer off by 90° or more.
    """

    fill: float = 0.0
    position: float = 0.0
    walls: float = 0.0
    gauge: float = 0.0

    def __post_init__(self) -> None:
        figures = (self.fill, self.position, self.walls, self.gauge)
        if not all(np.isfinite(figures)) or min(figures) < 0.0:
            raise FillError("a tolerance is negative or not finite", allowed="figures from 0")
        if self.gauge >= 90.0:
            raise FillError(
                f"an inclinometer that is off by {self.gauge:g}° tells nothing", allowed="below 90°"
            )

    def words(self, unit: str | None = None) -> tuple[str, ...]:
        """Each that is not nought, with its unit; ``unit`` of volumes."""
        told = {
            f"fill {volume_words(self.fill, unit)}": self.fill,
            f"each opening {length_words(self.position)}": self.position,
            f"each wall {length_words(self.walls)}": self.walls,
            f"inclinometer {slope_words(math.radians(self.gauge))}": self.gauge,
        }
        return tuple(words for words, size in told.items() if size > 0.0)

    def only(self, name: str, share: float = 1.0) -> "Tolerances":
        """One of the tolerances, times ``share``, the others nought."""
        return Tolerances(**{name: share * getattr(self, name)})


@dataclass(frozen=True)
class Toleranced:
    """A limit with tolerances [°]; None where nothing gives out within the search.

    Attributes
    ----------
    side : which side is down, or the worst heading.
    nominal_deg : solved with nothing off.
    adverse_deg : bound of what is surely kept with all of it off, each the bad way; 0 where not held level.
    port : the one that gives out first there.
    shares_deg : tolerance -> degrees that it takes by itself, by derivative at the nominal limit;
        None where there is no nominal limit to take from, or where it is nought already.
    heading_deg : direction of uphill there; None where nothing gives out.
    """

    side: str
    nominal_deg: float | None
    adverse_deg: float | None
    port: str | None
    shares_deg: dict[str, float | None]
    heading_deg: float | None = None


@dataclass(frozen=True, eq=False, repr=False)
class ToleranceTable(Result):
    """All sides, with the tolerances taken."""

    rows_of: ClassVar[str] = "limits"

    tank: str
    tolerances: Tolerances
    searched_to_deg: float
    limits: tuple[Toleranced, ...]


def tolerances(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    off: Tolerances,
    *,
    pickups: Pickups = "all",
    every_deg: float = 15.0,
    search_to_deg: float = 60.0,
    tolerance_deg: float = 0.05,
) -> ToleranceTable:
    """Solve the limits nominally, and bound them with everything off, each as bad as it may be.

    The bound has less fill for wet ports and more for dry ones; each opening moved any way; every wall,
    plates too, out or in along its normal, one by one or together; both axes of the inclinometer off.
    Wet ports stay where they are when walls move; dry ones come with theirs. See ``off``, ``reading``.
    options : as ``envelope``. Raises as it does; FillError for a fill that may be off by all of it,
    TankError for walls that may be in by half the tank.
    """
    fill = Fill.of(fill)
    _check(tank, fill, off)

    def solve(off: Tolerances) -> Envelope:
        conditions = OffConditions.off_by(
            *(tank, ports, fill, pickups),
            fill_off=off.fill,
            position=off.position,
            walls=off.walls,
        )
        return envelope_under(
            conditions,
            every_deg=every_deg,
            search_to_deg=search_to_deg,
            tolerance_deg=tolerance_deg,
            islands=False,
        )

    nominal, adverse = solve(Tolerances()), solve(off)
    shares = {name: _shares(nominal, solve, off, name) for name in SHARES if getattr(off, name)}
    rows = tuple(
        Toleranced(
            side,
            _solved(nominal, k),
            _sure(adverse, k, off.gauge),
            _row(adverse, k).port,
            {name: share[k] for name, share in shares.items()},
            _row(adverse, k).heading_deg if _row(adverse, k).limited else None,
        )
        for k, side in enumerate(SIDES)
    )
    return ToleranceTable(tank.name, off, search_to_deg, rows)


def _check(tank: Tank, fill: Fill, off: Tolerances) -> None:
    if off.fill >= fill.least:
        raise FillError(
            f"a fill of {volume_words(fill.least)} that is off by {volume_words(off.fill)} may be none",
            allowed="an error below the fill",
        )
    least = float((tank.upper - tank.lower).min())
    if 2.0 * off.walls >= least:
        raise TankError(
            f"walls that are {length_words(off.walls)} in leave nothing of the tank",
            allowed=f"below {length_words(0.5 * least)}",
        )


def _row(found: Envelope, side: int) -> Limit:
    """The limit of a side, in the order of ``SIDES``."""
    if side == len(_HEADINGS):
        return found.worst
    return next(row for row in found.limits if row.heading_deg == _HEADINGS[side])


def _solved(found: Envelope, side: int) -> float | None:
    """Where a port first gives out [°]; 0 where not kept on level ground, None where none does."""
    return _row(found, side).slope_deg if found.ok_at_level else 0.0


def _sure(found: Envelope, side: int, gauge: float) -> float | None:
    """Reading up to which all rules are kept whatever is off [°]: a bound."""
    row = _row(found, side)
    if not found.ok_at_level:
        return 0.0
    if gauge == 0.0:
        return row.held_to_deg if row.limited or row.grazing else None
    if found.worst.slope_deg is None and not found.worst.grazing:
        return None
    worst = found.worst.held_to_deg
    if side == len(_HEADINGS):
        return max(0.0, worst - both_axes(worst) * gauge)
    read = read_to(found.edge, row.heading_deg, gauge, worst)
    return None if read >= found.searched_to_deg - 1.3 * gauge and not row.limited else read


def _shares(
    nominal: Envelope, solve: Callable[[Tolerances], Envelope], off: Tolerances, name: str
) -> list[float | None]:
    """What one tolerance takes of each side's limit [°], by derivative; None where there is none."""
    limits = [_solved(nominal, side) for side in range(len(SIDES))]
    if name == "gauge":
        worst = both_axes(limits[-1] or 0.0) * off.gauge
        whole = [off.gauge] * len(_HEADINGS) + [worst]
        return [size if limit else None for limit, size in zip(limits, whole, strict=True)]
    slightly = solve(off.only(name, _SMALL))
    less = [_solved(slightly, side) for side in range(len(SIDES))]
    return [
        (a - b) / _SMALL if a and b is not None else None for a, b in zip(limits, less, strict=True)
    ]
