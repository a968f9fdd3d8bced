"""Sums over all faces of a closed surface: its volume, how it winds round a point, how near it is.

Loops without arrays of their own, so that a mesh of millions of faces needs no more memory.
"""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.vectors import Vector, cross, dot, minus

Array = NDArray[np.float64]
Faces = NDArray[np.int64]

__all__ = ["enclosed_volume", "squared_distance", "surface_area", "winding_number"]


@compiled
def enclosed_volume(vertices: Array, faces: Faces, centre: Array) -> float:
    """Volume [m³] that the faces (F, 3) bound; ``centre`` (3,) [m] lies near them, for the digits."""
    total = 0.0
    for f in range(len(faces)):
        a, b, c = _corners(vertices, faces, f, centre)
        total += _triple(a, b, c)
    return total / 6.0


@compiled
def surface_area(vertices: Array, faces: Faces) -> float:
    """Area [m² or the unit squared] of all faces (F, 3)."""
    total = 0.0
    for f in range(len(faces)):
        _, b, c = _corners(vertices, faces, f, vertices[faces[f, 0]])
        normal = cross(b, c)
        total += 0.5 * math.sqrt(dot(normal, normal))
    return total


@compiled
def winding_number(vertices: Array, faces: Faces, point: Array) -> float:
    """How often the surface winds round a point (3,): 1 inside, 0 outside.

    References: A. van Oosterom and J. Strackee, "The Solid Angle of a Plane Triangle",
    IEEE Trans. Biomed. Eng. BME-30 (1983) 125-126, equation 8 (citation from memory).
    """
    total = 0.0
    for f in range(len(faces)):
        a, b, c = _corners(vertices, faces, f, point)
        la, lb, lc = math.sqrt(dot(a, a)), math.sqrt(dot(b, b)), math.sqrt(dot(c, c))
        total += math.atan2(
            _triple(a, b, c), la * lb * lc + dot(a, b) * lc + dot(b, c) * la + dot(c, a) * lb
        )
    return total / (2.0 * math.pi)


@compiled
def squared_distance(vertices: Array, faces: Faces, point: Array) -> float:
    """Squared distance [m²] from a point (3,) to the nearest face: plane foot, else nearest edge."""
    best = math.inf
    for f in range(len(faces)):
        corners = _corners(vertices, faces, f, point)
        a, b, c = corners
        normal = cross(minus(b, a), minus(c, a))
        size = dot(normal, normal)
        over = size > 0.0
        for k in range(3):
            p, q = corners[k], corners[(k + 1) % 3]
            edge = minus(q, p)
            length = max(dot(edge, edge), 1e-300)
            t = min(max(-dot(p, edge) / length, 0.0), 1.0)
            away = (p[0] + t * edge[0], p[1] + t * edge[1], p[2] + t * edge[2])
            best = min(best, dot(away, away))
            over = over and dot(cross(edge, (-p[0], -p[1], -p[2])), normal) >= 0.0
        if over:
            best = min(best, dot(a, normal) ** 2 / size)
    return best


@compiled_inner
def _corners(vertices: Array, faces: Faces, f: int, origin: Array) -> tuple[Vector, Vector, Vector]:
    i, j, k = faces[f, 0], faces[f, 1], faces[f, 2]
    x, y, z = origin[0], origin[1], origin[2]
    return (
        (vertices[i, 0] - x, vertices[i, 1] - y, vertices[i, 2] - z),
        (vertices[j, 0] - x, vertices[j, 1] - y, vertices[j, 2] - z),
        (vertices[k, 0] - x, vertices[k, 1] - y, vertices[k, 2] - z),
    )


@compiled_inner
def _triple(a: Vector, b: Vector, c: Vector) -> float:
    return dot(a, cross(b, c))
