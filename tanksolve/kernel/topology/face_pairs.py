"""How two faces of a mesh meet: properly, crossing each other, or lying upon each other.

Two faces *cross* when their common stretch is longer than ``tolerance`` and each has a corner
farther than ``tolerance`` on either side of the other's plane. Two faces *overlap* when one lies
in the other's plane (all corners within ``tolerance``) and their outlines there overlap deeper than
``tolerance``. What is shallower than that is taken for the rounding of the file: coordinates of
single precision, cut off decimals. Neighbours that share a corner or an edge are held to the same
rule, so that a fold is found and a flat wall of many triangles is not. Where a whole edge of one
surface lies on the other, neither rule speaks; there the faces on the two sides of the contact
decide (:func:`_passes`).

Faces narrower than ``tolerance`` are not examined: they have no plane to speak of, and the edges
that bound them belong to neighbours that are.

Reference: T. Möller, "A Fast Triangle-Triangle Intersection Test", Journal of Graphics Tools 2
(1997) 25-30, for the interval test (citation from memory).
"""

import math

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.vectors import Vector, cross, dot, minus

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["CROSSES", "OVERLAPS", "face_planes", "meet"]

CROSSES = 1
OVERLAPS = 2


@compiled_inner
def _corner(corners: Array, f: int, k: int) -> Vector:
    return corners[f, k, 0], corners[f, k, 1], corners[f, k, 2]


@compiled_inner
def _along(a: Vector, w: float, d: Vector) -> Vector:
    return a[0] + w * d[0], a[1] + w * d[1], a[2] + w * d[2]


@compiled_inner
def _scaled(a: Vector, w: float) -> Vector:
    return w * a[0], w * a[1], w * a[2]


@compiled
def face_planes(corners: Array, tolerance: float) -> Array:
    """Unit normal and offset (F, 4) of faces (F, 3, 3); zeros for those narrower than tolerance."""
    planes = np.zeros((len(corners), 4))
    for f in range(len(corners)):
        a, b, c = _corner(corners, f, 0), _corner(corners, f, 1), _corner(corners, f, 2)
        ab, bc, ca = minus(b, a), minus(c, b), minus(a, c)
        n = cross(ab, bc)
        size = math.sqrt(dot(n, n))
        longest = math.sqrt(max(dot(ab, ab), dot(bc, bc), dot(ca, ca)))
        if size > tolerance * longest:
            planes[f, 0], planes[f, 1], planes[f, 2] = n[0] / size, n[1] / size, n[2] / size
            planes[f, 3] = (dot(n, a) + dot(n, b) + dot(n, c)) / (3.0 * size)
    return planes


@compiled_inner
def _normal(planes: Array, f: int) -> Vector:
    return planes[f, 0], planes[f, 1], planes[f, 2]


@compiled_inner
def _reach(corners: Array, f: int, axis: Vector) -> tuple[float, float]:
    """Lowest and highest corner of a face along an axis."""
    s0 = dot(_corner(corners, f, 0), axis)
    s1 = dot(_corner(corners, f, 1), axis)
    s2 = dot(_corner(corners, f, 2), axis)
    return min(s0, s1, s2), max(s0, s1, s2)


@compiled_inner
def _overlap_in_plane(corners: Array, i: int, j: int, normal: Vector, tolerance: float) -> bool:
    """Tell whether two faces in one plane overlap deeper than ``tolerance``: separating axes."""
    for side in range(6):
        f, k = (i, side) if side < 3 else (j, side - 3)
        edge = minus(_corner(corners, f, (k + 1) % 3), _corner(corners, f, k))
        axis = cross(normal, edge)
        length = math.sqrt(dot(axis, axis))
        i_low, i_high = _reach(corners, i, axis)
        j_low, j_high = _reach(corners, j, axis)
        if min(i_high - j_low, j_high - i_low) <= tolerance * length:
            return False
    return True


@compiled_inner
def _above(corners: Array, f: int, planes: Array, g: int, tolerance: float) -> Vector:
    """Signed distances of a face's corners from the plane of face g; zero within the tolerance."""
    n, offset = _normal(planes, g), planes[g, 3]
    d0 = dot(_corner(corners, f, 0), n) - offset
    d1 = dot(_corner(corners, f, 1), n) - offset
    d2 = dot(_corner(corners, f, 2), n) - offset
    return (
        0.0 if abs(d0) <= tolerance else d0,
        0.0 if abs(d1) <= tolerance else d1,
        0.0 if abs(d2) <= tolerance else d2,
    )


@compiled_inner
def _on_one_side(d: Vector) -> bool:
    return min(d[0], d[1], d[2]) > 0.0 or max(d[0], d[1], d[2]) < 0.0


@compiled_inner
def _interval(corners: Array, f: int, d: Vector, line: Vector) -> tuple[float, float]:
    """Stretch, along the line in which the other's plane cuts it, of a face with corners at
    distances ``d`` from that plane.
    """
    low, high = np.inf, -np.inf
    for k in range(3):
        da, db = (d[0], d[1]) if k == 0 else ((d[1], d[2]) if k == 1 else (d[2], d[0]))
        a = _corner(corners, f, k)
        if da == 0.0:
            s = dot(a, line)
            low, high = min(low, s), max(high, s)
        if da * db < 0.0:
            b = _corner(corners, f, (k + 1) % 3)
            s = dot(_along(a, da / (da - db), minus(b, a)), line)
            low, high = min(low, s), max(high, s)
    return low, high


@compiled_inner
def _sides_at(
    corners: Array, planes: Array, twin: Ints, f: int, line: Vector, point: Vector, tolerance: float
) -> tuple[bool, Vector, Vector]:
    """Directions, across a line of contact, in which the surface leaves it: one for each side.

    Within the face there are two opposite ones; on its edge one lies in the face and the other in
    the neighbour. False where the neighbour is unknown or too narrow.
    """
    n = _normal(planes, f)
    for k in range(3):
        start = _corner(corners, f, k)
        edge = minus(_corner(corners, f, (k + 1) % 3), start)
        edge = _scaled(edge, 1.0 / math.sqrt(dot(edge, edge)))
        away = cross(n, edge)  # towards the inside of the face
        if abs(dot(away, minus(point, start))) <= tolerance:
            h = twin[3 * f + k]
            if h < 0:
                return False, away, away
            d = minus(_corner(corners, h // 3, (h % 3 + 2) % 3), start)
            d = _along(d, -dot(d, edge), edge)
            width = math.sqrt(dot(d, d))
            if width <= tolerance:
                return False, away, away
            return True, away, _scaled(d, 1.0 / width)
    inward = cross(n, line)
    return True, inward, _scaled(inward, -1.0)


@compiled_inner
def _passes(
    corners: Array,
    planes: Array,
    twin: Ints,
    i: int,
    j: int,
    line: Vector,
    point: Vector,
    tolerance: float,
) -> bool:
    """Tell whether two surfaces that touch along a line go through each other there.

    They do when, going round the line, the two sides of one part the two sides of the other.
    """
    known_i, a0, a1 = _sides_at(corners, planes, twin, i, line, point, tolerance)
    known_j, b0, b1 = _sides_at(corners, planes, twin, j, line, point, tolerance)
    if not (known_i and known_j):
        return False
    across = cross(line, a0)
    full = 2.0 * math.pi
    turn = math.atan2(dot(a1, across), dot(a1, a0)) % full
    first = math.atan2(dot(b0, across), dot(b0, a0)) % full
    second = math.atan2(dot(b1, across), dot(b1, a0)) % full
    for angle in (first, second):
        # sides that lie on each other are an overlap, found as such, or a graze
        if min(angle, full - angle, abs(angle - turn)) < 1e-3:
            return False
    return (first < turn) != (second < turn)


@compiled_inner
def meet(
    corners: Array, planes: Array, faces: Ints, twin: Ints, i: int, j: int, tolerance: float
) -> int:
    """Tell how faces i and j meet: 0 properly or not at all, else ``CROSSES`` or ``OVERLAPS``.

    Parameters
    ----------
    corners : (F, 3, 3) float, positions; planes : (F, 4), see :func:`face_planes`.
    faces : (F, 3) int, to know which corners are shared; twin : (3 F,) int, -1 where unknown.
    """
    u = _above(corners, i, planes, j, tolerance)
    i_low, i_high = min(u[0], u[1], u[2]), max(u[0], u[1], u[2])
    if i_low > 0.0 or i_high < 0.0:
        return 0
    w = _above(corners, j, planes, i, tolerance)
    j_low, j_high = min(w[0], w[1], w[2]), max(w[0], w[1], w[2])
    if j_low > 0.0 or j_high < 0.0:
        return 0
    shared = 0
    for p in range(3):
        for q in range(3):
            shared += faces[i, p] == faces[j, q]
    line = cross(_normal(planes, i), _normal(planes, j))
    slant = math.sqrt(dot(line, line))
    i_within, j_within = i_low == i_high == 0.0, j_low == j_high == 0.0
    if i_within or j_within:
        # A small face at a sharp edge lies within the tolerance of its neighbour's plane as well;
        # only one that is nearly parallel is folded upon it.
        if shared == 2 and slant > 0.05:
            return 0
        normal = _normal(planes, j if i_within else i)
        return OVERLAPS if _overlap_in_plane(corners, i, j, normal, tolerance) else 0
    if shared >= 2 or slant == 0.0:
        return 0
    line = _scaled(line, 1.0 / slant)
    deep = i_low < 0.0 < i_high and j_low < 0.0 < j_high
    # A corner a little off the other's plane is ``1 / slant`` times as far from where the planes
    # meet: between nearly parallel faces, as on a fine saddle, a corner within the tolerance of
    # the plane may be a whole edge away from the line.
    u = _above(corners, i, planes, j, tolerance * slant)
    w = _above(corners, j, planes, i, tolerance * slant)
    if _on_one_side(u) or _on_one_side(w):
        return 0
    a_low, a_high = _interval(corners, i, u, line)
    b_low, b_high = _interval(corners, j, w, line)
    low, high = max(a_low, b_low), min(a_high, b_high)
    if high - low <= tolerance:
        return 0
    if deep:
        return CROSSES
    point = _on_both(planes, i, j, line, slant, 0.5 * (low + high))
    return CROSSES if _passes(corners, planes, twin, i, j, line, point, tolerance) else 0


@compiled_inner
def _on_both(planes: Array, i: int, j: int, line: Vector, slant: float, along: float) -> Vector:
    """Point at ``along`` on the line in which the planes of two faces meet."""
    to_j = _scaled(cross(_normal(planes, j), line), planes[i, 3] / slant)
    to_i = _scaled(cross(line, _normal(planes, i)), planes[j, 3] / slant)
    return _along(_along(to_j, 1.0, to_i), along, line)
