"""The attitudes of a cell as ``u + d``, d square to the centre u: heights are then linear in d.

Planes do not mind a factor, so an up vector v stands as ``v / (v · u)``. What is convex in d is, all over
the hull of a few d_j, at most the greatest of its values there.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["heights_at", "on_tangent", "swing_of", "swings", "tangent_directions"]

_SAME = 1e-14  # hull points this near, as directions, are one: far below the rounding of heights


@compiled_inner
def tangent_directions(up: Array, points: Array) -> tuple[Array, Ints]:
    """Each hull point as ``u + d`` (K, 3), none twice, and which of them a point (J,) became; -1 behind."""
    ups, number, count = np.empty_like(points), np.empty(len(points), np.int64), 0
    for j in range(len(points)):
        q = points[j]
        along = q[0] * up[0] + q[1] * up[1] + q[2] * up[2]
        if not along > 0.0:
            number[j] = -1
            continue
        for k in range(3):
            ups[count, k] = q[k] / along
        number[j] = count
        for other in range(count):
            apart = 0.0
            for k in range(3):
                apart = max(apart, abs(ups[other, k] - ups[count, k]))
            if apart <= _SAME:
                number[j] = other
                break
        if number[j] == count:
            count += 1
    return ups[:count], number


@compiled_inner
def swing_of(up: Array, ups: Array) -> float:
    """Greatest |d| of ``ups`` (K, 3): the tangent of how far the vertical turns in the cell."""
    most = 0.0
    for j in range(len(ups)):
        x, y, z = ups[j, 0] - up[0], ups[j, 1] - up[1], ups[j, 2] - up[2]
        most = max(most, np.sqrt(x * x + y * y + z * z))
    return float(most)


def on_tangent(up: Array, points: Array) -> Array:
    """Hull points (C, J, 3) of cells with centres ``up`` (C, 3) as ``u + d``: the same directions."""
    return np.asarray(points / np.einsum("cjk,ck->cj", points, up)[..., None])


def swings(up: Array, points: Array) -> Array:
    """Greatest |d| (C,) of each cell: see :func:`swing_of`."""
    return np.asarray(np.linalg.norm(on_tangent(up, points) - up[:, None], axis=-1).max(axis=1))


@compiled_inner
def heights_at(vertices: Array, ups: Array) -> Array:
    """Height (N, J) [m] of each of ``vertices`` (N, 3) along each of ``ups`` (J, 3), of any length."""
    z = np.empty((len(vertices), len(ups)))
    for v in range(len(z)):
        p = vertices[v]
        for j in range(len(ups)):
            z[v, j] = p[0] * ups[j, 0] + p[1] * ups[j, 1] + p[2] * ups[j, 2]
    return z
