"""Checks on a mesh that share nothing with the code under test."""

import numpy as np

from tanksolve.model.tank import Tank


def is_closed(tank: Tank) -> bool:
    """Every edge is walked once each way, so that the surface has no hole and no flipped face."""
    f = tank.faces
    walked = np.vstack([f[:, [0, 1]], f[:, [1, 2]], f[:, [2, 0]]])
    _, times = np.unique(walked, axis=0, return_counts=True)
    back = {tuple(edge) for edge in walked[:, ::-1].tolist()}
    return bool((times == 1).all()) and back == {tuple(edge) for edge in walked.tolist()}


def part_volume(tank: Tank, up: tuple[float, float, float], height: float) -> float:
    """Volume below a plane by clipping every tetrahedron (origin-face) with it: slow and plain."""
    u = np.asarray(up, float)
    total = 0.0
    for corners in tank.vertices[tank.faces]:
        # signed area of the face below the plane, pushed up to the plane along u
        z = corners @ u
        area = 0.5 * np.cross(corners[1] - corners[0], corners[2] - corners[0])
        total -= float(u @ area) * _mean_depth(np.sort(height - z)[::-1])
    return total


def _mean_depth(d: np.ndarray) -> float:
    """Mean of (depth)+ over a triangle with corner depths d, deepest first, by exact subdivision."""
    a, b, c = d
    if a <= 0.0:
        return 0.0
    if c >= 0.0:
        return float(d.mean())
    if b <= 0.0:
        return float(a / 3.0 * (a / (a - b)) * (a / (a - c)))
    dry = (c / (c - a)) * (c / (c - b))  # share of the face above the plane
    return float(d.mean() - dry * c / 3.0)
