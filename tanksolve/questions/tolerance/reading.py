"""Limits as read on an inclinometer of two axes, each of which may be off by as much.

The attitudes at which the ports surely hold are a region on the plan of slopes: x uphill at the nose,
y at the left side, distance from the middle the slope. A reading holds where all attitudes that it may
stand for lie in the region. Instruments reckon their axes in three ways (docs/conventions.md); of these
two readings against the horizontal, sin² s = sin² p + sin² r, spread an error the most, and are taken.
"""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.envelope.edge import Edge

Array = NDArray[np.float64]

__all__ = ["both_axes", "read_to"]

_MOST = 5.0  # degrees: with a worse instrument only the bound over all headings is told


def both_axes(slope_deg: float) -> float:
    """Slope per error of each axis, both off the bad way on a slope between the axes; √2 on level ground.

    From 2 sin² p = sin² s, so that ds = √2 cos p / cos s dp.
    """
    s = math.radians(slope_deg)
    return math.sqrt(2.0 - math.sin(s) ** 2) / math.cos(s)


def read_to(edge: Edge, heading_deg: float, gauge_deg: float, worst_deg: float) -> float:
    """Reading [°] up to which all attitudes hold that it may stand for; nose, tail or a side uphill.

    edge : the closed line with what is proved below it. gauge_deg : error of each axis.
    worst_deg : bound over all headings, from which the error of both axes is always enough.

    With a reading t on one axis and nought on the other, both off by g, the attitude lies on the plan
    within t ± (g + g² (tan t - t) / (2 sin² t)) along the axis and within g t / sin t across, to second
    order in g [rad].
    """
    at_least = max(0.0, worst_deg - both_axes(worst_deg) * gauge_deg)
    if gauge_deg > _MOST:
        return at_least
    held = float(np.interp(heading_deg, [row.heading_deg for row in edge.rows], edge.held_deg))
    t = math.radians(held)
    bend = (math.tan(t) - t) / (2.0 * math.sin(t) ** 2) if t > 0.01 else t / 6.0
    along = gauge_deg * (1.0 + math.radians(gauge_deg) * bend)
    across = gauge_deg * (t / math.sin(t) if t > 0.01 else 1.001)
    turn = np.radians([row.heading_deg - heading_deg for row in edge.rows])
    place = edge.held_deg * np.exp(1j * turn)
    nearest = math.inf
    for start, end in zip(place, np.roll(place, -1), strict=True):
        nearest = min(nearest, _nearest(start, end, along, across))
    return max(at_least, nearest - along)


def _nearest(start: complex, end: complex, along: float, across: float) -> float:
    """Least x, from -along on, of what a line from ``start`` to ``end`` has within ``across`` of the axis."""
    low, high = 0.0, 1.0
    for sign in (1.0, -1.0):
        a, b = sign * start.imag - across, sign * end.imag - across
        if a > 0.0 and b > 0.0:
            return math.inf
        if a > 0.0:
            low = max(low, a / (a - b))
        elif b > 0.0:
            high = min(high, a / (a - b))
    if low > high:
        return math.inf
    ends = [start.real + share * (end.real - start.real) for share in (low, high)]
    return math.inf if max(ends) < -along else max(min(ends), -along)
