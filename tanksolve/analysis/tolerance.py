"""Limits with tolerances: nominal, at the adverse corner, and what each tolerance takes away."""

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Any

import numpy as np

from tanksolve.analysis.envelope import Envelope, envelope
from tanksolve.errors import FillError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank

__all__ = ["ToleranceTable", "Toleranced", "Tolerances", "tolerances"]

SideLimit = tuple[float | None, str | None, float | None]  # slope [°], port, heading [°]
SIDES = ("nose up", "nose down", "left side down", "right side down", "worst heading")
_SMALL = 0.02  # of a tolerance: the step of the derivative


@dataclass(frozen=True)
class Tolerances:
    """How far off things may be, either way.

    Attributes
    ----------
    fill : [m³]. position : of each opening, any direction [m]. walls : each wall, outwards or
    inwards [m]. gauge : the inclinometer [°].

    Raises FillError for a negative figure.
    """

    fill: float = 0.0
    position: float = 0.0
    walls: float = 0.0
    gauge: float = 0.0

    def __post_init__(self) -> None:
        figures = (self.fill, self.position, self.walls, self.gauge)
        if not all(np.isfinite(figures)) or min(figures) < 0.0:
            raise FillError("a tolerance is negative or not finite", allowed="figures from 0")

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
    shares_deg : tolerance -> degrees that it takes by itself, by derivative at the nominal limit.
    heading_deg : direction of uphill at the adverse corner; None where nothing gives out.
    """

    side: str
    nominal_deg: float | None
    adverse_deg: float | None
    port: str | None
    shares_deg: dict[str, float]
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
    options : as ``envelope``. Raises as it does.
    """
    fill = Fill.of(fill)
    options = {"every_deg": 15.0, **options}
    nominal = _sides(tank, ports, fill, Tolerances(), options)
    adverse = _sides(tank, ports, fill, off, options)
    shares: dict[str, list[float]] = {}
    for name in ("fill", "position", "walls", "gauge"):
        if getattr(off, name) > 0.0:
            slightly = _sides(tank, ports, fill, off.only(name, _SMALL), options)
            shares[name] = [
                0.0 if a is None or b is None else (a - b) / _SMALL
                for (a, *_), (b, *_) in zip(nominal, slightly, strict=True)
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


def _sides(
    tank: Tank, ports: Sequence[Port], fill: Fill, off: Tolerances, options: dict[str, Any]
) -> list[SideLimit]:
    """Each side's limit: the lower of what wet and dry ports allow."""
    found = []
    for rule in (Rule.WET, Rule.DRY):
        judged = [port for port in ports if port.effective_rule is rule]
        if judged:
            found.append(_named(_adverse(tank, judged, fill, off, rule, options)))
    sides = []
    for k in range(len(SIDES)):
        limited = [one[k] for one in found if one[k][0] is not None]
        slope, port, heading = min(
            limited, default=(None, None, None), key=lambda one: one[0] or 0.0
        )
        sides.append((None if slope is None else max(0.0, slope - off.gauge), port, heading))
    return sides


def _adverse(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill,
    off: Tolerances,
    rule: Rule,
    options: dict[str, Any],
) -> Envelope:
    out = 1.0 if rule is Rule.WET else -1.0
    size = tank.upper - tank.lower
    moved = tank.centre + (tank.vertices - tank.centre) * (1.0 + 2.0 * out * off.walls / size)
    other = replace(tank, vertices=moved)
    least = max(fill.least - off.fill, 1e-9 * tank.capacity)
    most = min(fill.most + off.fill, other.capacity)
    judged = []
    for port in ports:
        place = np.array(port.position)
        if rule is Rule.DRY:  # it sits on a wall that is in
            place = tank.centre + (place - tank.centre) * (1.0 - 2.0 * off.walls / size)
        x, y, z = (float(c) for c in place)
        cover = port.required_cover + off.position
        judged.append(replace(port, position=(x, y, z), cover=cover))
    return envelope(other, judged, Fill(min(least, most), most), **options)


def _named(result: Envelope) -> list[SideLimit]:
    if not result.ok_at_level:
        return [(0.0, result.worst.port, None)] * len(SIDES)
    by_heading = {limit.heading_deg: limit for limit in result.limits}
    limits = [by_heading[heading] for heading in (0.0, 180.0, 270.0, 90.0)]
    return [(limit.slope_deg, limit.port, limit.heading_deg) for limit in [*limits, result.worst]]
