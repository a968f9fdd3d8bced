"""Convex bodies given as intersections of half-spaces ``normal · p <= offset``.

Hulls and dual hulls are Qhull's, through scipy: C. B. Barber, D. P. Dobkin and H. Huhdanpaa, "The
Quickhull Algorithm for Convex Hulls", ACM Trans. Math. Software 22 (1996) 469-483 (citation from
memory). Linear programmes are HiGHS's, through scipy.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["is_convex"]

_SAME = 1e-9  # of the volume


def is_convex(vertices: Array, volume: float) -> bool:
    """Whether a closed surface with ``vertices`` (N, 3) and ``volume`` [m³] fills its convex hull."""
    from scipy.spatial import ConvexHull

    return bool(ConvexHull(vertices).volume <= volume * (1.0 + _SAME))
