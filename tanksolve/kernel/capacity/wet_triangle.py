"""How much of a triangle lies below a level, and which of its corners is lowest."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["lowest_corner", "phi", "three_sorted", "wet_share", "wet_weights"]


@compiled_inner
def phi(h: float, z0: float, z1: float, z2: float) -> float:
    """Mean of (h - z)+ over a triangle with corner heights z0 <= z1 <= z2 [m]."""
    if h <= z0:
        return 0.0
    if h >= z2:
        return h - (z0 + z1 + z2) / 3.0
    a, b = h - z0, h - z1
    if b <= 0.0:
        return a / 3.0 * (a / (z1 - z0)) * (a / (z2 - z0))
    c = z2 - h
    return (c * (a * a + a * b + b * b) + a * b * (a + b)) / (3.0 * (z2 - z0) * (z2 - z1))


@compiled_inner
def wet_share(h: float, z0: float, z1: float, z2: float) -> float:
    """Share of a triangle that lies below ``h``: the derivative of :func:`phi`."""
    if h <= z0:
        return 0.0
    if h >= z2:
        return 1.0
    a, b = h - z0, h - z1
    if b <= 0.0:
        return (a / (z1 - z0)) * (a / (z2 - z0))
    c = z2 - h
    return (c * (a + b) + a * b) / ((z2 - z0) * (z2 - z1))


@compiled_inner
def lowest_corner(faces: NDArray[np.int32], rank: Ints, face: int) -> int:
    """The vertex of a face that comes first in the order from low to high."""
    lowest = faces[face, 0]
    for k in range(1, 3):
        if rank[faces[face, k]] < rank[lowest]:
            lowest = faces[face, k]
    return int(lowest)


@compiled_inner
def three_sorted(a: float, b: float, c: float) -> tuple[float, float, float]:
    """Three numbers, lowest first."""
    if b < a:
        a, b = b, a
    if c < b:
        b, c = c, b
        if b < a:
            a, b = b, a
    return a, b, c


@compiled_inner
def wet_weights(h: float, z: Array, out: Array) -> None:
    """Integral of each corner's barycentric coordinate over the part of a triangle below ``h``, by its area.

    z, out : (3,). The sum is the wet share; with corner heights it weights to a height's integral.
    """
    low = np.argmin(z)
    high = 2 if z[2] >= max(z[0], z[1]) else (1 if z[1] >= z[0] else 0)
    if h >= z[high]:
        out[:] = 1.0 / 3.0
        return
    if h <= z[low]:
        out[:] = 0.0
        return
    middle = 3 - low - high
    if h <= z[middle]:
        s, t = (h - z[low]) / (z[middle] - z[low]), (h - z[low]) / (z[high] - z[low])
        out[low], out[middle], out[high] = (
            s * t * (1.0 - (s + t) / 3.0),
            s * t * s / 3.0,
            s * t * t / 3.0,
        )
        return
    s, t = (z[high] - h) / (z[high] - z[low]), (z[high] - h) / (z[high] - z[middle])
    out[low] = (1.0 - s * t * s) / 3.0
    out[middle] = (1.0 - s * t * t) / 3.0
    out[high] = 1.0 / 3.0 - s * t * (1.0 - (s + t) / 3.0)
