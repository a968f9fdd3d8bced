"""A table over the attitudes of the upper half sphere, looked up between its nodes.

Nodes lie on a square grid of the stereographic coordinates ``s = (u_x, u_y) / (1 + u_z)``, in which
a step ``ds`` is a chord of at most ``2 ds`` on the sphere. A quantity that changes by at most R
per chord is known for certain to within ``2 R |s - s_node|`` of its value at any node.
"""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.threads import WORTH_SHARING, in_threads

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["look_up", "low_pass", "mark_cells", "node_directions"]


def node_directions(
    row: NDArray[np.int64], column: NDArray[np.int64], half: int, step: float
) -> Array:
    """Up vectors (N, 3) of nodes (row, column) of a table of ``2 half + 1`` nodes each way."""
    x, y = (row - half) * step, (column - half) * step
    size = 1.0 + x * x + y * y
    return np.stack([2.0 * x / size, 2.0 * y / size, (2.0 - size) / size], axis=-1)


@compiled
def mark_cells(up: Array, step: float, half: int, known: Bools, wanted: Bools) -> tuple[int, int]:
    """Mark in ``wanted`` the nodes that the rows ``up`` (N, 3) need and that are not ``known``.

    Returns how many nodes were newly marked, and how many rows need any of them. Rows that point
    below the tank's floor plane lie outside the table and need none.
    """
    marked, rows = 0, 0
    for k in range(len(up)):
        if up[k, 2] <= 0.0:
            continue
        scale = 1.0 / ((1.0 + up[k, 2]) * step)
        i = half + math.floor(up[k, 0] * scale)
        j = half + math.floor(up[k, 1] * scale)
        short = False
        for a in range(i, i + 2):
            for b in range(j, j + 2):
                if not known[a, b]:
                    short = True
                    if not wanted[a, b]:
                        wanted[a, b] = True
                        marked += 1
        rows += short
    return marked, rows


def look_up(table: Array, up: Array, step: float, half: int, reach: Array) -> tuple[Array, Bools]:
    """Values (N, P) at ``up`` (N, 3), bilinear between nodes, and whether a row must be solved anew.

    table : (M, M, P), NaN at nodes not known; reach : (P,) greatest change per chord.
    A row must be solved anew where a node is missing, or where the sign of one of its values does
    not follow for certain from the nearest node.
    """
    values = np.full((len(up), table.shape[2]), np.nan)
    anew = np.zeros(len(up), np.bool_)
    in_threads(
        _look_up, len(up), table, up, step, half, reach, values, anew, least=4 * WORTH_SHARING
    )
    return values, anew


@compiled
def _look_up(
    first: int,
    last: int,
    table: Array,
    up: Array,
    step: float,
    half: int,
    reach: Array,
    values: Array,
    anew: Bools,
) -> None:
    for k in range(first, last):
        if up[k, 2] <= 0.0:
            anew[k] = True
            continue
        scale = 1.0 / ((1.0 + up[k, 2]) * step)
        x, y = up[k, 0] * scale, up[k, 1] * scale
        i, j = math.floor(x), math.floor(y)
        fx, fy = x - i, y - j
        i, j = i + half, j + half
        ni, nj = i + (fx > 0.5), j + (fy > 0.5)
        gap = 2.0 * step * math.hypot(min(fx, 1.0 - fx), min(fy, 1.0 - fy))
        for p in range(table.shape[2]):
            low = table[i, j, p] * (1.0 - fy) + table[i, j + 1, p] * fy
            high = table[i + 1, j, p] * (1.0 - fy) + table[i + 1, j + 1, p] * fy
            values[k, p] = low * (1.0 - fx) + high * fx
            if not (abs(table[ni, nj, p]) > reach[p] * gap and abs(values[k, p]) >= 0.0):
                anew[k] = True


@compiled
def low_pass(vectors: Array, interval: Array, time_constant: float, state: Array) -> Array:
    """First-order low pass of rows (N, 3) [any unit], ``interval`` (N,) [s] after the row before.

    ``state`` (3,) is the filtered value before the first row, and is updated; NaN starts afresh.
    An interval that is not finite also starts afresh. Rows are not normalised again.
    """
    out = np.empty_like(vectors)
    for k in range(len(vectors)):
        part = 1.0 - math.exp(-interval[k] / time_constant)
        fresh = not (np.isfinite(interval[k]) and np.isfinite(state[0]))
        for c in range(3):
            state[c] = vectors[k, c] if fresh else state[c] + part * (vectors[k, c] - state[c])
            out[k, c] = state[c]
    return out
