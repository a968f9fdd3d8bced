"""Convex bodies given as intersections of half-spaces ``normal · p <= offset``.

Hulls and dual hulls are Qhull's, through scipy: C. B. Barber, D. P. Dobkin and H. Huhdanpaa, "The
Quickhull Algorithm for Convex Hulls", ACM Trans. Math. Software 22 (1996) 469-483 (citation from
memory). Linear programmes are HiGHS's, through scipy; they are given few rows at a time.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["Optimum", "box_half_spaces", "corners_of", "greatest_margin", "on_faces"]

_SAME = 1e-9  # of the volume, or of the size
_ROWS_AT_ONCE = 40


class Optimum(NamedTuple):
    """A place (3,) [m] and its margin: the least of ``offset - normal · place`` [m]."""

    place: Array
    margin: float


def box_half_spaces(lower: Array, upper: Array) -> tuple[Array, Array]:
    """The six half-spaces of a box: normals (6, 3), offsets (6,)."""
    return np.vstack([np.eye(3), -np.eye(3)]), np.concatenate([upper, -lower])


def corners_of(normals: Array, offsets: Array) -> Array | None:
    """Corners (V, 3) of a bounded intersection; None where it has no room inside.

    normals : (M, 3), of any length; offsets : (M,) [m].
    """
    from scipy.spatial import HalfspaceIntersection

    size = np.linalg.norm(normals, axis=1)
    inside = greatest_margin(normals / size[:, None], offsets / size)
    scale = float(np.ptp(offsets / size)) + 1e-300
    if inside.margin <= _SAME * scale:
        return None
    rows = np.column_stack([normals / size[:, None], -(offsets / size)])
    return np.asarray(HalfspaceIntersection(rows, inside.place).intersections)


def greatest_margin(
    normals: Array, offsets: Array, start: Array | None = None, edges: Array | None = None
) -> Optimum:
    """Place with the greatest margin over all rows: in all of space, or in a triangle.

    start, edges : (3,) and (2, 3); the place is then ``start + a e0 + b e1`` with a, b >= 0 and
    a + b <= 1. Without them the rows themselves must bound the place.
    The programme starts from few rows and takes in the most broken ones until none is broken.
    """
    flat = edges is not None
    base = np.zeros(3) if start is None else start
    basis = np.eye(3) if edges is None else edges
    rows = normals @ basis.T
    limits = offsets - normals @ base
    chosen = np.unique(np.linspace(0, len(rows) - 1, min(len(rows), _ROWS_AT_ONCE)).astype(int))
    if not flat:  # rows that bound the place come first
        chosen = np.union1d(chosen, np.arange(min(6, len(rows))))
    best = np.zeros(len(basis))
    for _ in range(200):
        best, top = _programme(rows[chosen], limits[chosen], flat)
        short = top - (limits - rows @ best)
        broken = np.flatnonzero(short > 1e-11)
        fresh = np.setdiff1d(broken, chosen)
        if len(fresh) == 0:
            break
        chosen = np.union1d(chosen, fresh[np.argsort(-short[fresh])[:_ROWS_AT_ONCE]])
    return Optimum(base + best @ basis, float((limits - rows @ best).min()))


def _programme(rows: Array, limits: Array, flat: bool) -> tuple[Array, float]:
    """Maximise t with ``rows · x + t <= limits``; x in the unit triangle where ``flat``."""
    from scipy.optimize import linprog

    count = rows.shape[1]
    matrix = np.column_stack([rows, np.ones(len(rows))])
    bounds = [(0.0 if flat else None, None)] * count + [(None, None)]
    if flat:
        matrix = np.vstack([matrix, [*np.ones(count), 0.0]])
        limits = np.append(limits, 1.0)
    done = linprog([*np.zeros(count), -1.0], A_ub=matrix, b_ub=limits, bounds=bounds)
    if done.status != 0:
        raise ValueError(f"the linear programme has no answer: {done.message}")
    x = np.asarray(done.x[:count])
    if flat:  # HiGHS keeps rows to 1e-7 only; the triangle is kept to rounding
        x = np.clip(x, 0.0, 1.0)
        x = x / max(1.0, float(x.sum()))
    return x, float(done.x[count])


def on_faces(normals: Array, offsets: Array, corners: Array) -> Optimum:
    """Place with the greatest margin on a surface of triangles (F, 3, 3).

    The margin is a concave function, so over a face it is at most the margin that each row has at
    its best corner; faces whose bound is not above the best found so far are left out, the others
    are one small linear programme each, the most promising first.
    """
    points, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    margins = np.full(len(points), np.inf)
    bound = np.full(len(corners), np.inf)
    index = index.reshape(-1, 3)
    for rows in np.array_split(
        np.arange(len(normals)), max(1, len(normals) * len(points) // 2**22)
    ):
        gap = offsets[rows] - points @ normals[rows].T
        margins = np.minimum(margins, gap.min(axis=1))
        bound = np.minimum(bound, gap[index].max(axis=1).min(axis=1))
    row = int(np.argmax(margins))
    best = Optimum(points[row], float(margins[row]))
    for face in np.argsort(-bound):
        if bound[face] <= best.margin + 1e-12:
            break
        a, b, c = corners[face]
        found = greatest_margin(normals, offsets, a, np.stack([b - a, c - a]))
        if found.margin > best.margin:
            best = found
    return best
