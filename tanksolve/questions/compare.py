"""Tanks, pickups and fills side by side, ranked."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace
from typing import Any, ClassVar, Literal

import numpy as np

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.envelope import Envelope, envelope
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.result import Result

__all__ = [
    "Comparison",
    "Contender",
    "Entry",
    "Measure",
    "area_deg2",
    "compare",
    "contest",
    "unusable_volume",
]

Measure = Literal["worst", "area", "unusable"]


@dataclass(frozen=True, eq=False)
class Entry:
    """One variant: a tank with its ports and fill [m³]."""

    name: str
    tank: Tank
    ports: tuple[Port, ...]
    fill: Fill


@dataclass(frozen=True, eq=False)
class Contender:
    """One variant and its envelope.

    Attributes
    ----------
    mean_deg : mean bound over the headings listed [°].
    area_deg2 : area of the envelope on the plan, slopes as radii [square degrees].
    unusable_m3 : liquid that the wet ports need at the requirement, on level ground where none is
        given; a bound.
    """

    name: str
    rank: int
    worst_held_to_deg: float
    mean_deg: float
    envelope: Envelope
    area_deg2: float = 0.0
    unusable_m3: float = 0.0


@dataclass(frozen=True, eq=False, repr=False)
class Comparison(Result):
    """Contenders, best first by ``ranked_by``, ties by the worst and then the mean bound."""

    rows_of: ClassVar[str] = "contenders"

    contenders: tuple[Contender, ...]
    ranked_by: Measure = "worst"


def compare(
    tank: Tank,
    candidates: Mapping[str, Sequence[Port]],
    fill: Fill | float,
    *,
    others: Sequence[Port] = (),
    **options: Any,
) -> Comparison:
    """Rank sets of ports, each tried on its own together with ``others`` (breather, filler).

    candidates : name -> the ports that stand in for each other; options : of ``envelope``.
    Raises as :func:`tanksolve.questions.envelope.envelope.envelope`.
    """
    entries = [
        Entry(name, tank, (*ports, *others), Fill.of(fill)) for name, ports in candidates.items()
    ]
    return contest(entries, **options)


def contest(
    entries: Sequence[Entry],
    *,
    rank_by: Measure = "worst",
    requirement: Requirement | None = None,
    **options: Any,
) -> Comparison:
    """Rank tanks, ports and fills by the worst bound, the envelope's area or the unusable volume.

    requirement : for the unusable volume; level ground by default.
    Raises as :func:`compare`.
    """
    need = requirement or Requirement.every_heading(0.0)
    found = []
    for entry in entries:
        result = envelope(entry.tank, entry.ports, entry.fill, **options)
        worst, mean = _measure(result)
        unusable = unusable_volume(entry.tank, entry.ports, need)
        found.append(Contender(entry.name, 0, worst, mean, result, area_deg2(result), unusable))
    found.sort(key=lambda c: _order(c, rank_by), reverse=True)
    ranked = tuple(replace(c, rank=k) for k, c in enumerate(found, start=1))
    return Comparison(ranked, rank_by)


def _order(contender: Contender, rank_by: Measure) -> tuple[float, float, float]:
    first = {
        "worst": contender.worst_held_to_deg,
        "area": contender.area_deg2,
        "unusable": -contender.unusable_m3,
    }[rank_by]
    return first, contender.worst_held_to_deg, contender.mean_deg


def _measure(result: Envelope) -> tuple[float, float]:
    told = [limit.held_to_deg for limit in result.limits]
    return result.worst.held_to_deg, sum(told) / len(told)


def area_deg2(result: Envelope) -> float:
    """Area of the polygon through the bounds at the headings listed [square degrees]."""
    told = np.array([limit.held_to_deg for limit in result.limits])
    headings = np.radians([limit.heading_deg for limit in result.limits])
    turn = np.mod(np.roll(headings, -1) - headings, 2.0 * np.pi)
    return float(0.5 * (told * np.roll(told, -1) * np.sin(turn)).sum())


def unusable_volume(
    tank: Tank, ports: Sequence[Port], need: Requirement, tolerance: float = 1e-4
) -> float:
    """What the wet ports leave in the tank at the required attitudes [m³]: a bound, 0 without any.

    tolerance : as :func:`tanksolve.questions.marks.fill_limits.fill_limits` has it [m].
    """
    wet = [port for port in ports if port.effective_rule is Rule.WET]
    return fill_limits(tank, wet, need, tolerance=tolerance).least_m3 if wet else 0.0
