"""Openings to scale on a sheet: the outline of a port's rims and balls, seen along any direction."""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.ports import Port

Array = NDArray[np.float64]

__all__ = ["opening_outline"]


def opening_outline(port: Port, turn: Array) -> Array:
    """Outline (M, 2) [m] of an opening on the sheet: the hull of its rims and balls.

    turn : (2, 3)   rows that are right and up on the sheet, unit vectors, tank frame.
    """
    turns = np.linspace(0.0, 2.0 * math.pi, 48, endpoint=False)[:, None]
    points = []
    for row in port.discs:
        centre, axis, radius, ball = row[:3], row[3:6], row[6], row[7]
        first = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
        first /= np.linalg.norm(first)
        second = np.cross(axis, first)
        rim = centre + radius * (np.cos(turns) * first + np.sin(turns) * second)
        points.append(rim @ turn.T + ball * np.hstack([np.cos(turns), np.sin(turns)]))
    return _hull(np.vstack(points))


def _hull(points: Array) -> Array:
    """Convex hull of points (M, 2), counter-clockwise: A. M. Andrew's monotone chain (1979).

    SciPy's hull refuses points in one line, and a flat opening is often seen edge-on.
    """
    ordered = points[np.lexsort(points.T[::-1])]
    chains = []
    for run in (ordered, ordered[::-1]):
        chain: list[Array] = []
        for point in run:
            while len(chain) > 1:
                (ax, ay), (bx, by) = chain[-1] - chain[-2], point - chain[-1]
                if ax * by > ay * bx:
                    break
                chain.pop()
            chain.append(point)
        chains += chain[:-1]
    return np.array(chains)
