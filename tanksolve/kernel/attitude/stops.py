"""A long route thinned to the stops at which liquid that walls part is carried on.

Each row of a log is in one of three ways: *sure* (where the liquid stands does not rest on the route),
*open* (it does) or *unknown* (the row, or what lies before it, is missing). Liquid is carried along the open
rows from the last sure one; what is unknown loses it until the next sure row.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["LOST", "OPEN", "SURE", "UNKNOWN", "thinned", "thinner"]

SURE, OPEN, UNKNOWN = 0, 1, 2
LOST = -2
_SURE = -1


@compiled
def thinned(
    up: Array, way: NDArray[np.int8], joined: NDArray[np.bool_], chord: float, state: Array
) -> tuple[Ints, NDArray[np.bool_], Ints]:
    """Stops of a block of rows, and each row's stop.

    up : (N, 3) float [-]; way : (N,) SURE, OPEN or UNKNOWN; joined : (N,) whether nothing is missing
        between the row before and this one; chord : [-] rows nearer to the last stop than this share it.
    state : (8,) carried from block to block and updated: up of the last stop, up of the last row, the
        last row's stop (a number, or LOST, or -1 where it was sure), stops so far. A log that begins as
        filled has the attitude of filling in both ups, -1, and 0.
    Returns rows (S,) of the new stops, -1 for the last row of the block before; whether (S,) liquid
    starts anew there; and for each row its stop, LOST, or -1 where it is sure.
    """
    count = len(up)
    rows, fresh = np.empty(2 * count, np.int64), np.empty(2 * count, np.bool_)
    stop_of = np.empty(count, np.int64)
    found, total, last = 0, int(state[7]), int(state[6])
    for k in range(count):
        if way[k] == UNKNOWN:
            last = LOST
        elif way[k] == SURE:
            last = _SURE
        elif last == LOST or not joined[k]:
            last = LOST
        else:
            if last == _SURE:  # from the sure row before
                rows[found], fresh[found] = k - 1, True
                found, total = found + 1, total + 1
                for c in range(3):
                    state[c] = state[3 + c] if k == 0 else up[k - 1, c]
            apart = 0.0
            for c in range(3):
                apart += (up[k, c] - state[c]) ** 2
            if last == _SURE or apart > chord * chord:
                rows[found], fresh[found] = k, False
                found, total = found + 1, total + 1
                for c in range(3):
                    state[c] = up[k, c]
            last = total - 1
        stop_of[k] = last
    if count:
        for c in range(3):
            state[3 + c] = up[count - 1, c]
    state[6], state[7] = last, total
    return rows[:found], fresh[:found], stop_of


@compiled
def thinner(up: Array, fresh: NDArray[np.bool_], chord: float) -> Ints:
    """Which stop each of stops ``up`` (S, 3) joins when those nearer than ``chord`` are left out: (S,).

    Where liquid starts anew a stop stays, and so does the one after it.
    """
    joins = np.empty(len(up), np.int64)
    kept, at = -1, 0
    for s in range(len(up)):
        apart = 0.0
        for c in range(3):
            apart += (up[s, c] - up[at, c]) ** 2
        if s == 0 or fresh[s] or fresh[s - 1] or apart > chord * chord:
            kept, at = kept + 1, s
        joins[s] = kept
    return joins
