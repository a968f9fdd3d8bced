"""The outline of an opening as few corners: no point of the opening lies outside of their hull."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["outline_corners"]

_MOST = 32  # corners: those of a circle of more sides lie up to 2 % of its radius outside
_FLAT = 1e-5  # of the size: single precision, far from the file's origin
_ALIKE = 1e-3  # of the area that leaving out a side adds
_STRAIGHT = 1e-9  # of the area: a corner that adds less stands in a straight side


def outline_corners(rim: Array, normal: Array) -> Array:
    """Corners (K, 3), at most 32, or 64 of a bent rim, whose convex hull holds a rim (N, 3).

    normal : (3,) unit, square to the opening. Of a flat convex rim with few corners they are the corners
    themselves. Of more, sides are left out and their neighbours prolonged until they meet, which only adds. A
    bent rim of few points is these; of many, two such outlines, at its least and greatest height along the normal.
    """
    from scipy.spatial import ConvexHull

    side = np.cross(normal, np.eye(3)[int(np.argmin(np.round(np.abs(normal), 6)))])
    side /= np.linalg.norm(side)
    axes = np.stack([side, np.cross(normal, side)])
    flat = rim @ axes.T
    high = rim @ normal
    bent = np.ptp(high) > _FLAT * float(np.ptp(flat, axis=0).max())
    if bent and len(rim) <= _MOST:
        return rim
    corners = flat[ConvexHull(flat).vertices]
    places = np.round(corners / np.ptp(flat, axis=0).max(), 5)  # to begin with the same one always
    corners = _fewer(np.roll(corners, -int(np.lexsort(places.T)[-1]), axis=0))
    depths = [high.min(), high.max()] if bent else [high.mean()]
    return np.concatenate([corners @ axes + depth * normal for depth in depths])


def _fewer(corners: Array) -> Array:
    """Leave out sides of a convex outline (N, 2), counter-clockwise, the one first that adds the least area.

    Of those that add alike, as the sides of a round hole do, the first: not the one whose last bit is the least.
    """
    x, y = corners.T
    whole = 0.5 * float(np.sum(x * np.roll(y, -1) - y * np.roll(x, -1)))
    while len(corners) > 3:
        start, end = corners, np.roll(corners, -1, axis=0)
        before, after = start - np.roll(start, 1, axis=0), end - np.roll(end, -1, axis=0)
        side = end - start
        turn = _cross(after, before)  # positive where the neighbours meet beyond the side
        meets = turn > 1e-12 * np.linalg.norm(before, axis=1) * np.linalg.norm(after, axis=1)
        along = np.where(meets, _cross(after, side) / np.where(meets, turn, 1.0), np.inf)
        added = np.where(meets, 0.5 * np.abs(along * _cross(before, side)), np.inf)
        like = (1.0 + _ALIKE) * float(added.min()) + _STRAIGHT * whole
        k = int(np.argmax(added <= like))
        if not added[k] < np.inf or (len(corners) <= _MOST and added.min() > _STRAIGHT * whole):
            break
        corners = corners.copy()
        corners[k] = start[k] + along[k] * before[k]
        corners = np.delete(corners, (k + 1) % len(corners), axis=0)
    return corners


def _cross(one: Array, other: Array) -> Array:
    return np.asarray(one[:, 0] * other[:, 1] - one[:, 1] * other[:, 0])
