"""Straight lines through a tank: is there a wall between, and how far to the next."""

from collections.abc import Sequence

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Point = Sequence[float] | Array

__all__ = ["distance_along", "is_cut", "is_tube_end", "opening_fault", "wall_between"]

_RIM, _AT_ONCE = 24, 100_000  # points of a rim; faces looked at together
_OVERHANG = (
    0.1  # of the bore: a flat mouth in a round wall, or one made of flats, stands out a little
)


def opening_fault(tank: Tank, port: Port) -> str | None:
    """What is wrong with the opening of ``port``, in words: a wall through it, part of it outside."""
    if is_cut(tank, port):
        return "a wall or plate goes through its opening: part of it is behind"
    if _is_partly_outside(tank, port):
        return "part of its opening is outside the tank: see its place, bore and facing"
    return None


def _is_partly_outside(tank: Tank, port: Port) -> bool:
    """Whether some of the rim is not in the tank, by more than a flat mouth in a round wall is."""
    if port.facing is None or port.bore is None:
        return False
    return any(
        tank.distance_to_wall(point) > _OVERHANG * port.bore and tank.winding(point)[0] < 0.5
        for row in port.discs
        for point in row[:3] + _rim(row)[:: _RIM // 8]
    )


def _rim(row: Array) -> Array:
    """Rays (R, 3) [m] from the middle of an opening, a row of ``kernel.support``, to its rim."""
    axis, turns = row[3:6], np.linspace(0.0, 2.0 * np.pi, _RIM, endpoint=False)[:, None]
    first = np.cross(axis, np.eye(3)[int(np.argmin(np.abs(axis)))])
    first /= np.linalg.norm(first)
    rim = np.cos(turns) * first + np.sin(turns) * np.cross(axis, first)
    return np.asarray(float(row[6]) * rim)


def is_tube_end(tank: Tank, port: Port) -> bool:
    """Whether ``port`` is the open end of a tube that stands into the tank.

    Its middle is then on metal, and just behind it there is liquid beside the metal all round, within
    a bore of the middle. A mouth that is flush in a wall or a floor has no such sides.
    """
    if port.facing is None or port.bore is None:
        return False
    hair = 1e-4 * port.bore
    row = np.array([*port.position, *port.facing, port.bore, 0.0])
    behind = row[:3] - hair * row[3:6]
    if tank.distance_to_wall(row[:3]) > hair or tank.winding(behind)[0] > 0.5:
        return False
    near = _faces_near(tank, behind - port.bore, behind + port.bore)
    sides = (_meetings(tank.vertices, near, behind, ray) for ray in _rim(row))
    return all(bool(np.any((t > 0.0) & (t < 1.0))) for t in sides)


def is_cut(tank: Tank, port: Port) -> bool:
    """Whether a wall or plate goes through the opening of ``port``: part of it is then behind it.

    A rim that only touches a wall, or lies flat in one, is not cut, nor is a flat mouth in a round
    wall, of which the rim is a little behind; nor is an opening that faces no way in particular, of
    which only the middle is known.
    """
    for row in port.discs:
        centre, radius = row[:3], float(row[6])
        if radius <= 0.0 or port.facing is None:
            continue
        near = _faces_near(tank, centre - radius, centre + radius)
        for ray in _rim(row):
            t = _meetings(tank.vertices, near, centre, ray)
            through = int(np.sum((t > 1e-6) & (t < 1.0 - 1e-6)))
            little = through == 1 and tank.distance_to_wall(centre + ray) < 2.0 * _OVERHANG * radius
            if through and not little:
                return True
    return False


def _faces_near(tank: Tank, low: Array, high: Array) -> NDArray[np.int64]:
    """Faces (K, 3) whose enclosing boxes reach into a box; few at a time, for meshes of millions."""
    found = []
    for start in range(0, len(tank.faces), _AT_ONCE):
        faces = tank.faces[start : start + _AT_ONCE]
        points = tank.vertices[faces]
        reach = (points.min(axis=1) <= high) & (points.max(axis=1) >= low)
        found.append(np.asarray(faces[reach.all(axis=1)], np.int64))
    return np.vstack(found)


def _crossings(tank: Tank, start: Array, along: Array) -> Array:
    """As :func:`_meetings`, with all faces of the tank."""
    return _meetings(tank.vertices, np.asarray(tank.faces, np.int64), start, along)


def _meetings(vertices: Array, faces: NDArray[np.int64], start: Array, along: Array) -> Array:
    """Parameters t at which ``start + t along`` meets the surface, unsorted.

    References: T. Moeller and B. Trumbore, "Fast, Minimum Storage Ray/Triangle Intersection",
    J. Graphics Tools 2 (1997) 21-28 (citation from memory).
    """
    a, b, c = (vertices[faces[:, k]] for k in range(3))
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
