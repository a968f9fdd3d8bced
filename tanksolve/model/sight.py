"""Straight lines through a tank: is there a wall between, and how far to the next."""

from collections.abc import Iterator, Sequence

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import told

Array = NDArray[np.float64]
Point = Sequence[float] | Array

__all__ = [
    "distance_along",
    "ends_at_walls",
    "is_cut",
    "is_tube_end",
    "opening_fault",
    "parts_behind_walls",
    "wall_between",
]

_RIM, _AT_ONCE = 24, 100_000  # points of a rim; faces looked at together
_A_HAIR = 1e-5  # m: less is not worth a tenth of a millimetre in words
_OVERHANG = (
    0.1  # of the bore: a flat mouth in a round wall, or one made of flats, stands out a little
)


def opening_fault(tank: Tank, port: Port) -> str | None:
    """What is wrong with the opening of ``port``, in words: a wall through it, part of it outside."""
    if is_cut(tank, port):
        return (
            "a wall or plate goes through its opening: part of it is behind, and limits are those of the "
            f"worse part; {_way_out(tank, port)}"
        )
    if _is_partly_outside(tank, port):
        return "part of its opening is outside the tank: see its place, bore and facing"
    return None


def _way_out(tank: Tank, port: Port) -> str:
    """How far an opening that is cut must move at least: its rim to the nearest place of the wall in it."""
    if port.rim:
        return "move it or turn it"
    away = 0.0
    for centre, _, ends in _walls_across(tank, port):
        along = ends[:, 1] - ends[:, 0]
        length = np.maximum(np.einsum("ki,ki->k", along, along), 1e-300)
        part = np.clip(np.einsum("ki,ki->k", centre - ends[:, 0], along) / length, 0.0, 1.0)
        gaps = np.linalg.norm(ends[:, 0] + part[:, None] * along - centre, axis=1)
        away = max(away, *(0.5 * (port.bore or 0.0) - gaps), 0.0)
    by = f" by at least {told(away - _A_HAIR, 'length', 'up')}" if away > _A_HAIR else ""
    return f"move it{by} or turn it"


def _is_partly_outside(tank: Tank, port: Port) -> bool:
    """Whether some of the rim is not in the tank, by more than a flat mouth in a round wall is."""
    if port.facing is None or port.bore is None:
        return False
    return any(
        tank.distance_to_wall(point) > _OVERHANG * port.bore and tank.winding(point)[0] < 0.5
        for row in port.mouths
        for point in row[:3] + (np.array(port.rim) if port.rim else _rim(row)[:: _RIM // 8])
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
    for row in port.mouths:
        centre, radius = row[:3], float(row[6])
        if radius <= 0.0 or port.facing is None:
            continue
        near = _faces_near(tank, centre - radius, centre + radius)
        for ray in _along(port.outline) if port.rim else _rim(row):
            t = _meetings(tank.vertices, near, centre, ray)
            through = int(np.sum((t > 1e-6) & (t < 1.0 - 1e-6)))
            little = through == 1 and tank.distance_to_wall(centre + ray) < 2.0 * _OVERHANG * radius
            if through and not little:
                return True
    return False


def parts_behind_walls(tank: Tank, port: Port) -> Array:
    """Places (Q, 3) [m] in the liquid, one at least in each part of an opening that is cut off from its middle.

    A part has an edge where a wall meets the plane of the opening, so it is found there: nothing is
    sampled. Of an opening that faces no way in particular only the middle is known: none.
    """
    found: list[Array] = []
    for centre, near, ends in _walls_across(tank, port):
        along = ends[:, 1] - ends[:, 0]
        length = np.maximum(np.einsum("ki,ki->k", along, along), 1e-300)
        part = np.clip(np.einsum("ki,ki->k", centre - ends[:, 0], along) / length, 0.0, 1.0)
        seen = [centre]
        for place in ends[:, 0] + part[:, None] * along:
            if tank.winding(place)[0] > 0.5 and all(
                len(_between(tank.vertices, near, one, place)) for one in seen
            ):
                seen.append(place)
        found += seen[1:]
    return np.array(found).reshape(-1, 3)


def ends_at_walls(tank: Tank, port: Port) -> Array:
    """Where the edges of an opening meet walls that go through it: places (Q, 3) [m] in the liquid.

    The lowest point of each part that walls make of an opening is one of them, at any attitude, unless
    it is the lowest of the whole.
    """
    hair = 1e-7 * float(np.linalg.norm(tank.upper - tank.lower))
    found = [ends.reshape(-1, 3) for _, _, ends in _walls_across(tank, port)]
    places = np.concatenate([np.empty((0, 3)), *found])
    first = np.unique(np.round(places / hair), axis=0, return_index=True)[1]
    return np.array([p for p in places[np.sort(first)] if tank.winding(p)[0] > 0.5]).reshape(-1, 3)


def _walls_across(tank: Tank, port: Port) -> Iterator[tuple[Array, NDArray[np.int64], Array]]:
    """Of each flat opening: its middle, the faces near it, and the ends (K, 2, 3) of walls in it.

    A hair in front of its plane, so that a wall which the mouth lies flat in does not count, and a hair
    in front of those walls.
    """
    hair = 1e-7 * float(np.linalg.norm(tank.upper - tank.lower))
    for row in port.mouths:
        centre, axis, radius = row[:3] + 3.0 * hair * row[3:6], row[3:6], float(row[6]) - 3.0 * hair
        if radius <= 0.0 or port.facing is None:
            continue
        near = _faces_near(tank, centre - radius, centre + radius)
        corners = tank.vertices[near]
        high = (corners - centre) @ axis
        out = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        flat = out - (out @ axis)[:, None] * axis
        width = np.linalg.norm(flat, axis=1)
        met = (high > 0.0).any(axis=1) & (high <= 0.0).any(axis=1) & (width > 0.0)
        corners, high = corners[met], high[met]
        after = np.roll(high, -1, axis=1)
        over = (high > 0.0) != (after > 0.0)  # two edges of each face
        share = high / np.where(over, high - after, 1.0)
        ends = (corners + share[..., None] * (np.roll(corners, -1, axis=1) - corners))[over]
        ends = ends.reshape(-1, 2, 3) - 2.0 * hair * (flat[met] / width[met, None])[:, None]
        inside = _within(ends, centre, radius)
        yield centre, near, _in_outline(inside, centre, axis, port.outline) if port.rim else inside


def _within(ends: Array, centre: Array, radius: float) -> Array:
    """The parts of segments (K, 2, 3) within ``radius`` of a point: (M, 2, 3)."""
    start, along = ends[:, 0] - centre, ends[:, 1] - ends[:, 0]
    a = np.maximum(np.einsum("ki,ki->k", along, along), 1e-300)
    b = np.einsum("ki,ki->k", start, along)
    root = b * b - a * (np.einsum("ki,ki->k", start, start) - radius * radius)
    reach = np.sqrt(np.maximum(root, 0.0))
    low, high = np.clip((-b - reach) / a, 0.0, 1.0), np.clip((-b + reach) / a, 0.0, 1.0)
    parts = ends[:, :1] + np.stack([low, high], axis=1)[..., None] * along[:, None]
    return np.asarray(parts[(root > 0.0) & (high > low)])


def _in_outline(ends: Array, centre: Array, axis: Array, outline: Array) -> Array:
    """The parts of segments (K, 2, 3) within a convex outline (N, 3) about a point: (M, 2, 3)."""
    for corner, after in zip(outline, np.roll(outline, -1, axis=0), strict=True):
        inwards = np.cross(axis, after - corner)
        high = (ends - centre - corner) @ inwards
        keep = (high > 0.0).any(axis=1)
        ends, high = ends[keep], high[keep]
        share = high / np.where(high < 0.0, high - high[:, ::-1], 1.0)
        ends = np.where(
            (high < 0.0)[..., None], ends + share[..., None] * (ends[:, ::-1] - ends), ends
        )
    return ends


def _along(outline: Array) -> Array:
    """Places (M, 3) all along an outline (N, 3), corners among them."""
    each = max(1, -(-_RIM // len(outline)))
    share = (np.arange(each) / each)[None, :, None]
    after = np.roll(outline, -1, axis=0)
    return np.asarray((outline[:, None] + share * (after - outline)[:, None]).reshape(-1, 3))


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
    return len(_between(tank.vertices, np.asarray(tank.faces, np.int64), start, end)) > 0


def _between(vertices: Array, faces: NDArray[np.int64], start: Array, end: Array) -> Array:
    """Parameters t at which faces stand on the way from ``start`` to ``end`` (3,) [m]."""
    t = _meetings(vertices, faces, start, end - start)
    return t[(t > 1e-6) & (t < 1.0 - 1e-6)]


def distance_along(tank: Tank, start: Point, direction: Point) -> float:
    """Distance [m] from a point to the first wall along a unit direction; 0 on the wall itself."""
    t = _crossings(tank, np.asarray(start, float), np.asarray(direction, float))
    ahead = t[t > -1e-9]
    return float(max(0.0, ahead.min())) if len(ahead) else 0.0
