"""A mesh as a line drawing along an axis: sharp edges and silhouettes, and flat cuts through it."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["cut_lines", "seen_lines"]

_SHARP = np.cos(np.radians(25.0))
_HAIR = 1e-6  # m


def seen_lines(vertices: Array, faces: Ints, view: int) -> Array:
    """Edges (M, 2, 3) [m] of a closed mesh that a drawing along axis ``view`` shows, each once.

    vertices : (N, 3) float [m]; faces : (F, 3) int. Edges sharper than 25°, and those where the surface
    turns away from the viewer. Lines that fall on one another in the drawing are drawn once.
    """
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    ends = np.sort(np.concatenate([faces[:, [k, (k + 1) % 3]] for k in range(3)]), axis=1)
    owner = np.tile(np.arange(len(faces)), 3)
    order = np.lexsort(ends.T)
    ends, owner = ends[order], owner[order]
    pair = np.flatnonzero((ends[1:] == ends[:-1]).all(axis=1))
    one, other = normal[owner[pair]], normal[owner[pair + 1]]
    sharp = np.einsum("ei,ei->e", one, other) < _SHARP
    toward = np.where(np.abs(one[:, view]) < _HAIR, 0.0, one[:, view])
    away = np.where(np.abs(other[:, view]) < _HAIR, 0.0, other[:, view])
    turns = toward * away < 0.0
    lines = vertices[ends[pair[sharp | turns]]]
    flat = np.delete(np.round(lines, 7), view, axis=2)
    long = np.linalg.norm(flat[:, 1] - flat[:, 0], axis=1) > 1e-5
    swap = (flat[:, 0, 0] > flat[:, 1, 0]) | (
        (flat[:, 0, 0] == flat[:, 1, 0]) & (flat[:, 0, 1] > flat[:, 1, 1])
    )
    flat[swap] = flat[swap, ::-1]
    _, first = np.unique(flat.reshape(-1, 4), axis=0, return_index=True)
    kept = np.zeros(len(lines), bool)
    kept[first] = True
    return np.asarray(lines[kept & long])


def cut_lines(vertices: Array, faces: Ints, axis: int, at: float) -> Array:
    """Where a plane across ``axis`` at ``at`` [m] cuts a closed mesh: lines (M, 2, 3) [m]."""
    z = vertices[:, axis] - at
    z = np.where(np.abs(z) < 1e-9, 1e-9, z)
    found = []
    for face in faces[(z[faces].min(axis=1) < 0.0) & (z[faces].max(axis=1) > 0.0)]:
        ends = []
        for k in range(3):
            i, j = face[k], face[(k + 1) % 3]
            if z[i] * z[j] < 0.0:
                ends.append(vertices[i] + z[i] / (z[i] - z[j]) * (vertices[j] - vertices[i]))
        found.append(ends)
    return np.array(found).reshape(-1, 2, 3)
