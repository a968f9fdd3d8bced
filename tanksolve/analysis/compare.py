"""Pickup positions (or any other variants) side by side, ranked."""

from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from typing import Any

from tanksolve.analysis.envelope import Envelope
from tanksolve.analysis.pooled_envelope import pooled_envelope
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank

__all__ = ["Comparison", "Contender", "compare"]


@dataclass(frozen=True, eq=False)
class Contender:
    """One variant and its envelope. ``mean_deg`` is the mean bound over the headings listed [°]."""

    name: str
    rank: int
    worst_held_to_deg: float
    mean_deg: float
    envelope: Envelope


@dataclass(frozen=True, eq=False)
class Comparison:
    """Contenders, best first: by the worst bound, ties by the mean bound."""

    contenders: tuple[Contender, ...]


def compare(
    tank: Tank,
    candidates: Mapping[str, Sequence[Port]],
    fill: Fill | float,
    *,
    others: Sequence[Port] = (),
    solve: Callable[..., Envelope] = pooled_envelope,
    **options: Any,
) -> Comparison:
    """Rank sets of ports, each tried on its own together with ``others`` (breather, filler).

    candidates : name -> the ports that stand in for each other; solve : how an
    envelope is found, with pools by default; options : its own.
    Raises as :func:`tanksolve.analysis.envelope.envelope`.
    """
    found = {
        name: solve(tank, [*ports, *others], fill, **options) for name, ports in candidates.items()
    }
    order = sorted(found, key=lambda name: _measure(found[name]), reverse=True)
    return Comparison(
        tuple(
            Contender(name, rank, *_measure(found[name]), envelope=found[name])
            for rank, name in enumerate(order, start=1)
        )
    )


def _measure(result: Envelope) -> tuple[float, float]:
    told = [limit.told_deg for limit in result.limits]
    return result.worst.told_deg, sum(told) / len(told)
