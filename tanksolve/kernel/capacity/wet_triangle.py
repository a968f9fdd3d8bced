"""How much of a triangle lies below a level, and which of its corners is lowest."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled_inner

Ints = NDArray[np.int64]

__all__ = ["lowest_corner", "phi", "three_sorted", "wet_share"]


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
