"""Limits with tolerances: nominal, at the adverse corner, and what each tolerance takes away."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from functools import partial
from typing import Any

import numpy as np

from tanksolve.errors import FillError, TankError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import Envelope, envelope
from tanksolve.units import length_words, slope_words, volume_words

__all__ = ["SHARES", "ToleranceTable", "Toleranced", "Tolerances", "tolerances"]

Solve = Callable[[Tank, Sequence[Port], Fill], Envelope]
SideLimit = tuple[float | None, str | None, float | None]  # slope [°], port, heading [°]
SIDES = ("nose up", "nose down", "left side down", "right side down", "worst heading")
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
    adverse_deg : solved again with all of it off the bad way at once; 0 where not held level.
    port : the one that gives out at the adverse corner.
    shares_deg : tolerance -> degrees that it takes by itself, by derivative at the nominal limit;
        None where there is no nominal limit to take from, or where it is nought already.
    heading_deg : direction of uphill at the adverse corner; None where nothing gives out.
    """

    side: str
    nominal_deg: float | None
    adverse_deg: float | None
    port: str | None
    shares_deg: dict[str, float | None]
    heading_deg: float | None = None


@dataclass(frozen=True)
class ToleranceTable:
    """All sides, with the tolerances taken."""

    tank: str
    tolerances: Tolerances
    searched_to_deg: float
    limits: tuple[Toleranced, ...]


def tolerances(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    off: Tolerances,
    **options: Any,
) -> ToleranceTable:
    """Solve the limits nominally and at the adverse corner.

    The adverse corner has less fill for wet ports and more for dry ones; each opening moved towards
    trouble; the walls moved out about the tank's middle for wet ports, which stay where they are, and in for
    dry ones, which come with them; the inclinometer showing less than there is.
    options : as ``envelope``. Raises as it does; FillError for a fill that may be off by all of it,
    TankError for walls that may be in by half the tank.
    """
    fill = Fill.of(fill)
    _check(tank, fill, off)
    solve = partial(envelope, **{"every_deg": 15.0, **options})
    nominal = _sides(tank, ports, fill, Tolerances(), solve)
    adverse = _sides(tank, ports, fill, off, solve)
    shares: dict[str, list[float | None]] = {}
    for name in SHARES:
        if name == "gauge" and off.gauge > 0.0:
            shares[name] = [off.gauge if limit else None for limit, *_ in nominal]
        elif getattr(off, name) > 0.0:
            slightly = _sides(tank, ports, fill, off.only(name, _SMALL), solve)
            shares[name] = [
                (a - b) / _SMALL if a and b is not None else None
                for (a, _, _), (b, _, _) in zip(nominal, slightly, strict=True)
            ]
    rows = tuple(
        Toleranced(
            *(side, nominal[k][0], adverse[k][0], adverse[k][1]),
            {name: share[k] for name, share in shares.items()},
            adverse[k][2],
        )
        for k, side in enumerate(SIDES)
    )
    to = float(options.get("search_to_deg", 60.0))
    return ToleranceTable(tank.name, off, to, rows)


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


def _sides(
    tank: Tank, ports: Sequence[Port], fill: Fill, off: Tolerances, solve: Solve
) -> list[SideLimit]:
    """Each side's limit: the lower of what wet and dry ports allow."""
    found = []
    for rule in (Rule.WET, Rule.DRY):
        if any(port.effective_rule is rule for port in ports):
            found.append(_named(_adverse(tank, ports, fill, off, rule, solve)))
    sides = []
    for k in range(len(SIDES)):
        limited = [one[k] for one in found if one[k][0] is not None]
        none: SideLimit = (None, None, None)
        slope, port, heading = min(limited, default=none, key=lambda one: one[0] or 0.0)
        less = None if slope is None else max(0.0, slope - off.gauge)
        sides.append((less, port, heading))
    return sides


def _adverse(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill,
    off: Tolerances,
    rule: Rule,
    solve: Solve,
) -> Envelope:
    """Limits of the ports with ``rule``; a filler stays, since it says where the tank is filled."""
    out = 1.0 if rule is Rule.WET else -1.0
    size = tank.upper - tank.lower
    moved = tank.centre + (tank.vertices - tank.centre) * (1.0 + 2.0 * out * off.walls / size)
    other = replace(tank, vertices=moved)
    least = max(fill.least - off.fill, 1e-9 * tank.capacity)
    most = min(fill.most + off.fill, other.capacity)
    judged = []
    for port in ports:
        if port.effective_rule is not rule:
            if port.kind is not PortKind.FILLER:
                continue
            port = replace(port, rule=Rule.NONE)
        place = np.array(port.position)
        if rule is Rule.DRY:  # it sits on a wall that is in
            place = tank.centre + (place - tank.centre) * (1.0 - 2.0 * off.walls / size)
        x, y, z = (float(c) for c in place)
        cover = port.required_cover + off.position
        judged.append(replace(port, position=(x, y, z), cover=cover))
    return solve(other, judged, Fill(min(least, most), most))


def _named(result: Envelope) -> list[SideLimit]:
    if not result.ok_at_level:
        return [(0.0, result.worst.port, None)] * len(SIDES)
    by_heading = {limit.heading_deg: limit for limit in result.limits}
    limits = [by_heading[heading] for heading in (0.0, 180.0, 270.0, 90.0)]
    return [(limit.slope_deg, limit.port, limit.heading_deg) for limit in [*limits, result.worst]]
