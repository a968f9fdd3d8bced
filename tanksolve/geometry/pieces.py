"""Parts of a tank's inside as connected pieces: cut by planes, and asked for a place inside."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.booleans import Body, intersection, mesh_of, spaces

Array = NDArray[np.float64]

__all__ = ["below", "connected", "place_inside", "within"]

_ASKED = 6  # largest faces of a piece, to look inwards from
_HAIR = 1e-9  # of the piece's size: thinner than this it has no inside


def connected(body: Body, least: float) -> list[Body]:
    """The pieces of a body that each hang together, those below a volume ``least`` [m³] left out."""
    if body.volume() <= least:
        return []
    return [one for one in spaces(body) if one.volume() > least]


def below(body: Body, normal: Array, offset: float, least: float) -> list[Body]:
    """The connected pieces of what of a body has ``normal · p <= offset`` [m]."""
    return connected(body.trim_by_plane((-normal).tolist(), -offset), least)


def within(body: Body, corners: Array | None, least: float) -> list[Body]:
    """The connected pieces of what of a body is in the convex hull of ``corners`` (V, 3), if there is one."""
    from manifold3d import Manifold

    if corners is None:
        return []
    return connected(intersection(body, Manifold.hull_points(np.ascontiguousarray(corners))), least)


def place_inside(body: Body) -> Array | None:
    """A place (3,) [m] well inside a body: half-way across it from the middle of a large face.

    None where it is too thin to tell.
    """
    vertices, faces = mesh_of(body)
    corners = vertices[faces]
    outward = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = np.linalg.norm(outward, axis=1)
    hair = _HAIR * float(np.ptp(vertices, axis=0).max())
    for face in np.argsort(-area)[:_ASKED]:
        start, inward = corners[face].mean(axis=0), -outward[face] / area[face]
        ahead = _crossings(corners, start, inward)
        ahead = ahead[ahead > hair]
        if len(ahead):
            return np.asarray(start + 0.5 * float(ahead.min()) * inward)
    return None


def _crossings(corners: Array, start: Array, along: Array) -> Array:
    """Distances (K,) [m] at which a ray along a unit vector goes through faces (F, 3, 3), unsorted."""
    a, b, c = (corners[:, k] - start for k in range(3))

    def turn(p: Array, q: Array) -> Array:
        return np.asarray(np.cross(p, q) @ along)

    sides = np.stack([turn(b, c), turn(c, a), turn(a, b)], axis=1)
    total = sides.sum(axis=1)
    slack = 1e-12 * np.abs(sides).max(axis=1, initial=0.0)
    hit = ((sides >= -slack[:, None]).all(axis=1) | (sides <= slack[:, None]).all(axis=1)) & (
        np.abs(total) > 3.0 * slack
    )
    weights = sides[hit] / total[hit, None]
    return np.asarray(np.einsum("fk,fki,i->f", weights, corners[hit] - start, along))
