"""How far a margin known at one attitude reaches: the slack of a whole cell of attitudes.

Let ``u0`` be an attitude, ``u1`` another, q a point of an opening. With q as origin,

    {x·u1 < s}  lies inside  {x·u0 < s + max over x in the tank of (x - q)·(u0 - u1)}

so a pickup whose margin at u0 is at least that maximum is covered at u1 too, whatever the free
surface does in between (split, level faces, no area at all). For a port that must stay dry the
same holds with (u1 - u0). The maximum is a convex function of u1, so over a cell of attitudes it
is largest at a corner of any polytope that holds the cell; over the tank it is bounded by that of
the enclosing box. Proof and figures: docs/theory/envelope.md.

A cell is ``b0 <= slope <= b1, k0 <= heading <= k1`` [rad]; its centre is the middle of both.
"""

import math

import numba
import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import chord
from tanksolve.kernel.compiled import compiled_inner, compiled_parallel, threads_for

Array = NDArray[np.float64]

__all__ = ["cell_centres", "cell_chords", "cell_slack"]


def cell_centres(cells: Array) -> Array:
    """Slope and heading [rad] of the centres of ``cells`` (C, 4): (C, 2)."""
    return np.stack([cells[:, :2].mean(axis=1), cells[:, 2:].mean(axis=1)], axis=-1)


def cell_chords(cells: Array) -> Array:
    """Greatest chord ``|u - u0|`` from the centre of each of ``cells`` (C, 4) to its rim: (C,).

    Within a cell the chord grows with both angles, so it is greatest at the outer corners.
    """
    middle = cell_centres(cells)
    ends = [chord(cells[:, i], cells[:, 2], middle[:, 0], middle[:, 1]) for i in (0, 1)]
    return np.asarray(np.maximum(*ends))


def cell_slack(lower: Array, upper: Array, discs: Array, cells: Array, *, dry: bool) -> Array:
    """Margin [m] that a port needs at each cell's centre to hold its rule all over the cell.

    lower, upper : (3,) [m]   the tank's enclosing box; discs : (K, 8), see ``kernel.support``;
    cells : (C, 4) [rad]   b0, b1, k0, k1, less than pi wide.
    Returns (C,) [m], at least 0.
    """
    middle, half = 0.5 * (lower + upper), 0.5 * (upper - lower)
    with threads_for(len(cells) // 4):
        return _cell_slack(middle, half, discs, np.ascontiguousarray(cells), -1.0 if dry else 1.0)


@compiled_inner
def _slack_towards(middle: Array, half: Array, discs: Array, d: Array) -> float:
    """Greatest (x - q)·d over x in the box and q in the opening."""
    size = math.sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2])
    box = 0.0
    for k in range(3):
        box += middle[k] * d[k] + half[k] * abs(d[k])
    port = -np.inf
    for row in discs:
        along = row[0] * d[0] + row[1] * d[1] + row[2] * d[2]
        cx = d[1] * row[5] - d[2] * row[4]
        cy = d[2] * row[3] - d[0] * row[5]
        cz = d[0] * row[4] - d[1] * row[3]
        spread = row[6] * math.sqrt(cx * cx + cy * cy + cz * cz) + row[7] * size
        port = max(port, spread - along)
    return box + port


@compiled_parallel
def _cell_slack(middle: Array, half: Array, discs: Array, cells: Array, sign: float) -> Array:
    slack = np.zeros(len(cells))
    for c in numba.prange(len(cells)):
        b, alpha = 0.5 * (cells[c, 0] + cells[c, 1]), 0.5 * (cells[c, 1] - cells[c, 0])
        k, beta = 0.5 * (cells[c, 2] + cells[c, 3]), 0.5 * (cells[c, 3] - cells[c, 2])
        u0, d = np.empty(3), np.empty(3)
        u0[0], u0[1], u0[2] = math.sin(b) * math.cos(k), math.sin(b) * math.sin(k), math.cos(b)
        worst = 0.0
        # An arc lies in the triangle of its ends and the meeting of its end tangents, so the cell
        # lies in the hull of three by three points.
        for i in range(-1, 2):
            stretch_b = 1.0 if i else 1.0 / math.cos(alpha)
            s, rise = math.sin(b + i * alpha) * stretch_b, math.cos(b + i * alpha) * stretch_b
            for j in range(-1, 2):
                stretch_k = 1.0 if j else 1.0 / math.cos(beta)
                d[0] = sign * (u0[0] - s * math.cos(k + j * beta) * stretch_k)
                d[1] = sign * (u0[1] - s * math.sin(k + j * beta) * stretch_k)
                d[2] = sign * (u0[2] - rise)
                worst = max(worst, _slack_towards(middle, half, discs, d))
        slack[c] = worst
    return slack
