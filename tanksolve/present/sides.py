"""Sides that limit alike, in words: whoever reads one of two must not take the other for safe."""

import math
from collections.abc import Sequence
from itertools import pairwise

from tanksolve.model.attitude import heading_words
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.units import floor_to

__all__ = ["alike", "sides_of"]


def sides_of(result: Envelope) -> str:
    """The side of the worst limit, and every other whose limit is told by the same figure."""
    worst = result.worst
    least = floor_to(worst.held_to_deg, 0.1)
    as_low = [row for row in result.limits if floor_to(row.held_to_deg, 0.1) <= least]
    same = [row.heading_deg for row in as_low if row.limited and row.port == worst.port]
    return alike(worst.heading_deg, same, 540.0 / len(result.limits))


def alike(worst_deg: float, headings_deg: Sequence[float], apart_deg: float) -> str:
    """The side of the worst heading, and those that are as bad, a run of headings by its middle.

    apart_deg : headings further apart than this belong to two runs.
    """
    around = sorted({(one - worst_deg) % 360.0 for one in (worst_deg, *headings_deg)})
    gaps = [b - a for a, b in pairwise([*around, 360.0])]
    if max(gaps) <= apart_deg:
        return "on every side alike"
    cuts = [k + 1 for k, gap in enumerate(gaps) if gap > apart_deg]
    runs = [around[a:b] for a, b in pairwise([0, *cuts]) if 0.0 not in around[a:b]]
    runs = [run for run in runs if 360.0 - run[-1] > apart_deg]  # else it joins the worst's own
    middles = [worst_deg, *(0.5 * (run[0] + run[-1]) + worst_deg for run in runs)]
    first, *others = dict.fromkeys(heading_words(math.radians(deg)) for deg in middles)
    if len(others) == 1:
        return f"{first}, and {others[0]} alike"
    return f"{first}, and {len(others)} other sides alike" if others else first
