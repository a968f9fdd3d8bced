"""How much of each face lies below a plane: plain numpy, one plane at a time.

With the corner heights of a face sorted ``z0 <= z1 <= z2`` and ``A = h - z0, B = h - z1, C = z2 - h``
the share of its area below the plane is ``A² / ((z1 - z0)(z2 - z0))`` while one corner is wet and
``(C (A + B) + A B) / ((z2 - z0)(z2 - z1))`` while two are; both follow from similar triangles.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["face_areas", "wet_shares"]


def face_areas(vertices: Array, faces: Ints) -> Array:
    """Areas (F,) [m²] of faces (F, 3) over vertices (N, 3) [m]."""
    a, b, c = (vertices[faces[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def wet_shares(vertices: Array, faces: Ints, up: Array, height: float) -> Array:
    """Share (F,) of each face's area below the plane ``up · x = height``.

    A face that lies in the plane counts as wet.
    """
    z0, z1, z2 = np.sort((vertices @ up)[faces], axis=1).T
    A, B, C = height - z0, height - z1, z2 - height
    low = np.where(z1 > z0, (z1 - z0) * (z2 - z0), 1.0)
    high = np.where(z2 > z1, (z2 - z0) * (z2 - z1), 1.0)
    share = np.where(B <= 0.0, A * A / low, (C * (A + B) + A * B) / high)
    return np.asarray(np.where(C <= 0.0, 1.0, np.where(A <= 0.0, 0.0, share)))
