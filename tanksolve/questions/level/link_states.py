"""Flaps and balance pipes at one attitude: open or shut, and what can still run through them."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Literal

from tanksolve.kernel.pools.settle import Settled
from tanksolve.model.link import Link

__all__ = ["LinkAt", "links_at", "out_of_reach"]

_SAME = 1e-9  # m: levels closer than this are one level
_NOTHING = 1e-12  # m³


@dataclass(frozen=True)
class LinkAt:
    """A flap or a balance pipe at one attitude.

    Attributes
    ----------
    way : the only way that it lets liquid through; ``both ways`` for a pipe.
    sill_height_m : height along up above the tank frame's origin that liquid must stand above [m].
    from_pool, to_pool : places in the list of pools (of a pipe, at its first and last place); None
        where it is dry.
    state : ``open``: one level on both sides, above the sill; ``shut``: a flap held by the higher
        level behind it; ``not reached``: the liquid before it stands no higher than the sill;
        ``full beyond``: what it leads to is full to the roof.
    """

    name: str
    kind: str
    way: str
    sill_height_m: float
    from_pool: int | None
    to_pool: int | None
    state: Literal["open", "shut", "not reached", "full beyond"]


def links_at(links: Sequence[Link], found: Settled, place: Mapping[int, int]) -> tuple[LinkAt, ...]:
    """Tell each link at the last attitude of the first path; ``place`` numbers the pools anew."""
    told, row = [], 0
    for link in links:
        near, far = (int(pool) for pool in found.link_pool[0, -1, row])
        sill = float(found.link_sill[0, -1, row])
        told.append(
            LinkAt(
                link.name,
                link.kind,
                link.way,
                sill,
                place.get(near),
                place.get(far),
                _state(found, near, far, sill, both_ways=link.kind == "balance pipe"),
            )
        )
        row += 2 if link.kind == "balance pipe" else 1
    return tuple(told)


def _state(
    found: Settled, near: int, far: int, sill: float, *, both_ways: bool
) -> Literal["open", "shut", "not reached", "full beyond"]:
    before, behind = (
        float(found.level[0, -1, pool]) if pool >= 0 else float("-inf") for pool in (near, far)
    )
    if both_ways and behind > before:
        before, behind = behind, before
    if before <= sill + _SAME and (both_ways or behind <= sill + _SAME):
        return "not reached"
    if near == far or abs(before - behind) <= _SAME:
        return "open"
    return "full beyond" if before > behind else "shut"


def out_of_reach(found: Settled, drawn: set[int]) -> float:
    """Liquid [m³] that pickups in the pools ``drawn`` cannot reach, at the last attitude of one path.

    Of a pool that a link leads from, towards such a pool, only what stands below the sill is lost.
    """
    number = int(found.number[0, -1])
    comes = dict.fromkeys(drawn, float("inf"))
    for _ in range(number):
        for (near, far), drains in zip(
            found.link_pool[0, -1], found.link_drains[0, -1], strict=True
        ):
            if int(far) in comes and near >= 0 and drains > _NOTHING:
                comes[int(near)] = max(comes.get(int(near), 0.0), float(drains))
    return sum(
        max(0.0, float(found.volume[0, -1, pool]) - comes.get(pool, 0.0)) for pool in range(number)
    )
