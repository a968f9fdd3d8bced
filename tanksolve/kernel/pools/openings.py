"""Flow through openings of any shape between two levels, and the level that drives a given flow.

    Q = Cd sqrt(2 g) * integral over the opening of sqrt(upper - max(z, lower)) dA,   z < upper

Every part of the opening passes liquid under its own head: below the lower level the difference of
the two levels (an orifice), above it the depth below the upper one (a weir, or a part-filled hole).
A rectangle gives the orifice and the weir formula as its two ends. The integral rises with
``upper``, falls with ``lower`` and with each z, and goes with all three when all are raised alike:
docs/theory/crossflow.md builds on that.
"""

import math

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import WORTH_SHARING, in_threads

Array = NDArray[np.float64]

__all__ = ["levels_before", "passed"]

_LEVEL = 1e-9  # m: a triangle whose corners differ by less in height is taken at its highest corner
_CLOSE = 1e-9  # m: how closely the driving level is solved, upwards
_MOST_STEPS = 100
# Gauss-Legendre with five points, nodes and weights on (0, 1); M. Abramowitz and I. Stegun,
# Handbook of Mathematical Functions, table 25.4 (from memory; tested against numpy's).
_NODES = 0.5 + 0.5 * np.array(
    [-0.9061798459386640, -0.5384693101056831, 0.0, 0.5384693101056831, 0.9061798459386640]
)
_WEIGHTS = 0.5 * np.array(
    [
        *(0.2369268850561891, 0.4786286704993665, 0.5688888888888889),
        *(0.4786286704993665, 0.2369268850561891),
    ]
)


def passed(up: Array, corners: Array, upper: ArrayLike, lower: ArrayLike) -> Array:
    """Integral of sqrt(head) over an opening [m^2.5] at each of D attitudes; (D,).

    up : (D, 3) float [-]; corners : (T, 3, 3) float [m], triangles that make up the opening;
    upper, lower : (D,) float [m], heights of the two levels along ``up``, broadcast.
    Times ``Cd sqrt(2 g)`` it is the flow [m³/s]; 0 where ``upper`` is not above ``lower``.
    """
    up = np.ascontiguousarray(np.atleast_2d(up), np.float64)
    above, below = (
        np.ascontiguousarray(np.broadcast_to(h, len(up)), float) for h in (upper, lower)
    )
    out, near = np.empty(len(up)), np.ascontiguousarray(corners, np.float64)
    in_threads(_passed_all, len(up), up, near, above, below, out, least=WORTH_SHARING)
    return out


def levels_before(up: Array, corners: Array, lower: ArrayLike, demand: float) -> Array:
    """Level [m] that has to stand before an opening for a flow through it, given the one behind.

    up, corners : as in :func:`passed`; lower : (D,) float [m], -inf for a free fall;
    demand : flow over ``Cd sqrt(2 g)`` [m^2.5], 0 or more. For none, the level is that of the
    lowest corner, or ``lower`` where that is higher. Solved upwards to a nanometre; (D,).
    """
    up = np.ascontiguousarray(np.atleast_2d(up), np.float64)
    below = np.ascontiguousarray(np.broadcast_to(lower, len(up)), float)
    out, near = np.empty(len(up)), np.ascontiguousarray(corners, np.float64)
    in_threads(_levels_before, len(up), up, near, below, demand, out, least=WORTH_SHARING)
    return out


@compiled_inner
def _triangles(u: Array, corners: Array) -> Array:
    """Of each triangle (T, 4): its corners' heights [m], lowest first, and its area [m²]."""
    out = np.empty((len(corners), 4))
    for t in range(len(corners)):
        p = corners[t]
        a = u[0] * p[0, 0] + u[1] * p[0, 1] + u[2] * p[0, 2]
        b = u[0] * p[1, 0] + u[1] * p[1, 1] + u[2] * p[1, 2]
        c = u[0] * p[2, 0] + u[1] * p[2, 1] + u[2] * p[2, 2]
        out[t, 0], out[t, 2] = min(a, b, c), max(a, b, c)
        out[t, 1] = max(min(a, b), min(max(a, b), c))
        x1, y1, z1 = p[1, 0] - p[0, 0], p[1, 1] - p[0, 1], p[1, 2] - p[0, 2]
        x2, y2, z2 = p[2, 0] - p[0, 0], p[2, 1] - p[0, 1], p[2, 2] - p[0, 2]
        nx, ny, nz = y1 * z2 - z1 * y2, z1 * x2 - x1 * z2, x1 * y2 - y1 * x2
        out[t, 3] = 0.5 * math.sqrt(nx * nx + ny * ny + nz * nz)
    return out


@compiled_inner
def _strip(za: float, zb: float, wa: float, wb: float, upper: float, lower: float) -> float:
    """Of a part of a triangle whose width goes from ``wa`` at height za to ``wb`` at zb > za."""
    total = 0.0
    slope = (wb - wa) / (zb - za)
    under = min(zb, lower)
    if under > za:  # behind it liquid stands: one head all over
        total += (under - za) * (wa + 0.5 * slope * (under - za)) * math.sqrt(upper - lower)
    start, end = max(za, lower), min(zb, upper)
    if end <= start:
        return total
    first, last = upper - start, upper - end  # depths, first > last >= 0
    width = wa + slope * (start - za)
    if last < 0.3 * first:
        sums = 2.0 / 3.0 * (first**1.5 - last**1.5), 2.0 / 5.0 * (first**2.5 - last**2.5)
        return float(total + (width + slope * first) * sums[0] - slope * sums[1])
    for k in range(len(_NODES)):
        step = _NODES[k] * (end - start)
        total += _WEIGHTS[k] * (end - start) * (width + slope * step) * math.sqrt(first - step)
    return total


@compiled_inner
def _passed(triangles: Array, upper: float, lower: float) -> float:
    total: float = 0.0
    if upper <= lower:
        return 0.0
    for t in range(len(triangles)):
        low, middle, high = triangles[t, 0], triangles[t, 1], triangles[t, 2]
        area = triangles[t, 3]
        if upper <= low:
            continue
        if high <= lower:
            total += area * math.sqrt(upper - lower)
        elif high - low < _LEVEL:
            total += area * math.sqrt(max(upper - max(high, lower), 0.0))
        else:
            width = 2.0 * area / (high - low)
            if middle > low:
                total += _strip(low, middle, 0.0, width, upper, lower)
            if high > middle:
                total += _strip(middle, high, width, 0.0, upper, lower)
    return total


@compiled
def _passed_all(
    first: int, last: int, up: Array, corners: Array, upper: Array, lower: Array, out: Array
) -> None:
    for d in range(first, last):
        out[d] = _passed(_triangles(up[d], corners), upper[d], lower[d])


@compiled_inner
def _level_before(triangles: Array, lower: float, demand: float) -> float:
    low, high = triangles[:, 0].min(), triangles[:, 2].max()
    area = triangles[:, 3].sum()
    under = max(low, lower)
    if demand <= 0.0:
        return float(under)
    head = (demand / area) ** 2
    if lower >= high:
        return float(lower + head)
    over = max(high, lower) + head  # every part then has at least this head
    # Illinois: the chord's root, the end that stays twice being given half its weight
    missing, surplus = -demand, _passed(triangles, over, lower) - demand
    stayed = 0
    for _ in range(_MOST_STEPS):
        if over - under <= _CLOSE:
            break
        step = over - surplus * (over - under) / (surplus - missing)
        middle = min(max(step, under + 0.1 * _CLOSE), over - 0.1 * _CLOSE)
        excess = _passed(triangles, middle, lower) - demand
        if excess >= 0.0:
            over, surplus = middle, excess
            missing *= 0.5 if stayed == -1 else 1.0
            stayed = -1
        else:
            under, missing = middle, excess
            surplus *= 0.5 if stayed == 1 else 1.0
            stayed = 1
    return float(over)


@compiled
def _levels_before(
    first: int, last: int, up: Array, corners: Array, lower: Array, demand: float, out: Array
) -> None:
    for d in range(first, last):
        out[d] = _level_before(_triangles(up[d], corners), lower[d], demand)
