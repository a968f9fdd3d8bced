"""Straight lines through a tank: is there a wall between, and how far to the next."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Point = Sequence[float] | Array

__all__ = ["distance_along", "wall_between"]


def _crossings(tank: Tank, start: Array, along: Array) -> Array:
    """Parameters t at which ``start + t along`` meets the surface, unsorted.

    References: T. Moeller and B. Trumbore, "Fast, Minimum Storage Ray/Triangle Intersection",
    J. Graphics Tools 2 (1997) 21-28 (citation from memory).
    """
    a, b, c = (tank.vertices[tank.faces[:, k]] for k in range(3))
    edge1, edge2 = b - a, c - a
    p = np.cross(along, edge2)
    det = np.einsum("ij,ij->i", edge1, p)
    size = np.linalg.norm(edge1, axis=1) * np.linalg.norm(edge2, axis=1) * np.linalg.norm(along)
    facing = np.abs(det) > 1e-12 * size
    det = np.where(facing, det, 1.0)
    offset = start - a
    u = np.einsum("ij,ij->i", offset, p) / det
    q = np.cross(offset, edge1)
    v = q @ along / det
    t = np.einsum("ij,ij->i", edge2, q) / det
    slack = 1e-9  # a line that runs along the edge of two faces must not slip between them
    return np.asarray(t[facing & (u >= -slack) & (v >= -slack) & (u + v <= 1.0 + slack)])


def wall_between(tank: Tank, first: Point, second: Point) -> bool:
    """Whether anything solid stands on the straight line between two points (3,) [m] in the tank."""
    start, end = np.asarray(first, float), np.asarray(second, float)
    t = _crossings(tank, start, end - start)
    return bool(np.any((t > 1e-6) & (t < 1.0 - 1e-6)))


def distance_along(tank: Tank, start: Point, direction: Point) -> float:
    """Distance [m] from a point to the first wall along a unit direction; 0 on the wall itself."""
    t = _crossings(tank, np.asarray(start, float), np.asarray(direction, float))
    ahead = t[t > -1e-9]
    return float(max(0.0, ahead.min())) if len(ahead) else 0.0
