"""How the faces of a triangle mesh hang together: equal corners, twin edges, shells.

A half-edge ``3 f + k`` runs from corner k of face f to corner k + 1. In a closed, oriented surface
every half-edge has exactly one twin that runs the other way, in the neighbouring face.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Shorts = NDArray[np.int32]

__all__ = [
    "Edges",
    "Shells",
    "edges_of",
    "face_volumes",
    "halves_by_edge",
    "merge_equal",
    "shells_of",
    "winding",
]

NO_TWIN = -1
CROWDED = -2  # an edge that more than two faces use
_MINUS_ZERO = -(2**63)  # the bits of -0.0


class Edges(NamedTuple):
    """The edges of a mesh with F faces.

    Attributes
    ----------
    twin : (3 F,) int, the half-edge in the neighbouring face; -1 where the edge is used once, -2
        where it is used more than twice.
    same_way : (3 F,) bool, true where the twin runs the same way: one of the two faces is flipped.
    """

    twin: Ints
    same_way: NDArray[np.bool_]


class Shells(NamedTuple):
    """The pieces of a mesh that hang together by edges.

    Attributes
    ----------
    number : of shells.
    label : (F,) int, shell of each face, from 0 in the order of their first faces.
    flipped : (F,) bool, true where a face's winding disagrees with the first face of its shell.
    """

    number: int
    label: Ints
    flipped: NDArray[np.bool_]


@compiled_inner
def _bits_of(bits: Ints, i: int) -> tuple[int, int, int]:
    """The three words of a point, -0 taken as 0."""
    x, y, z = bits[i, 0], bits[i, 1], bits[i, 2]
    return (
        0 if x == _MINUS_ZERO else x,
        0 if y == _MINUS_ZERO else y,
        0 if z == _MINUS_ZERO else z,
    )


@compiled
def _merge(bits: Ints, table: Shorts, first: Shorts, inverse: Ints) -> int:
    mask = len(table) - 1
    count = 0
    for i in range(len(bits)):
        x, y, z = _bits_of(bits, i)
        # FNV-like mixing; only the spread matters, equality is tested on the bits themselves
        h = (x * 73856093) ^ (y * 19349663) ^ (z * 83492791)
        h ^= (h >> 29) ^ (h >> 47)
        slot = (h * 0x9E3779B97F4A7C1 >> 7) & mask
        while table[slot] >= 0:
            if _bits_of(bits, first[table[slot]]) == (x, y, z):
                break
            slot = (slot + 1) & mask
        if table[slot] < 0:
            table[slot], first[count] = count, i
            count += 1
        inverse[i] = table[slot]
    return count


def merge_equal(points: Array) -> tuple[Ints, Ints]:
    """Find points that are equal to the last bit (-0 counts as 0; no tolerance).

    Parameters
    ----------
    points : (N, 3) float, any unit.

    Returns
    -------
    first : (M,) int, the first point of each kind, in order of appearance.
    inverse : (N,) int, so that ``points[first][inverse]`` equals ``points``.
    """
    bits = np.ascontiguousarray(points, np.float64).view(np.int64)
    table = np.full(1 << max(4, len(points).bit_length()), -1, np.int32)
    first, inverse = np.empty(len(points), np.int32), np.empty(len(points), np.int64)
    count = _merge(bits, table, first, inverse)
    return first[:count].astype(np.int64), inverse


def edges_of(faces: Ints) -> Edges:
    """Pair the half-edges of ``faces`` (F, 3); see :class:`Edges`."""
    return Edges(*_twins(faces, int(faces.max(initial=-1)) + 1))


@compiled
def halves_by_edge(faces: Ints | Shorts, count: int) -> tuple[Shorts, Shorts]:
    """Half-edges side by side with those of the same edge: where each vertex's start, and which.

    An edge is kept at the end that fewer faces use, so that the hub of a large fan keeps none and
    the lists stay short.
    """
    uses, first = np.zeros(count, np.int32), np.zeros(count + 1, np.int32)
    for f in range(len(faces)):
        for k in range(3):
            uses[faces[f, k]] += 1
    owner = np.empty(3 * len(faces), np.int32)
    for half in range(len(owner)):
        a, b = faces[half // 3, half % 3], faces[half // 3, (half + 1) % 3]
        owner[half] = a if uses[a] < uses[b] or (uses[a] == uses[b] and a < b) else b
        first[owner[half] + 1] += 1
    for v in range(count):
        first[v + 1] += first[v]
    free, halves = first[:count].copy(), np.empty(len(owner), np.int32)
    for half in range(len(owner)):
        halves[free[owner[half]]] = half
        free[owner[half]] += 1
    return first, halves


@compiled
def _twins(faces: Ints, count: int) -> tuple[Ints, NDArray[np.bool_]]:
    first, halves = halves_by_edge(faces, count)
    twin, same_way = np.full(3 * len(faces), NO_TWIN), np.zeros(3 * len(faces), np.bool_)
    for v in range(count):
        for i in range(first[v], first[v + 1]):
            one = halves[i]
            a, b = faces[one // 3, one % 3], faces[one // 3, (one + 1) % 3]
            others = 0
            for j in range(first[v], first[v + 1]):
                other = halves[j]
                c, d = faces[other // 3, other % 3], faces[other // 3, (other + 1) % 3]
                if other != one and ((a == c and b == d) or (a == d and b == c)):
                    others += 1
                    twin[one], same_way[one] = other, a == c
            if others > 1:
                twin[one], same_way[one] = CROWDED, False
    return twin, same_way


@compiled
def _label(twin: Ints, same_way: NDArray[np.bool_], label: Ints, flipped: NDArray[np.bool_]) -> int:
    stack = np.empty(len(label), np.int64)
    count = 0
    for seed in range(len(label)):
        if label[seed] >= 0:
            continue
        label[seed] = count
        stack[0] = seed
        top = 1
        while top > 0:
            top -= 1
            face = stack[top]
            for h in range(3 * face, 3 * face + 3):
                other = twin[h] // 3
                if twin[h] >= 0 and label[other] < 0:
                    label[other] = count
                    flipped[other] = flipped[face] != same_way[h]
                    stack[top] = other
                    top += 1
        count += 1
    return count


def shells_of(edges: Edges) -> Shells:
    """Sort faces into shells; crowded edges and open edges join nothing."""
    number = len(edges.twin) // 3
    label, flipped = np.full(number, -1, np.int64), np.zeros(number, bool)
    count = int(_label(edges.twin, edges.same_way, label, flipped))
    return Shells(count, label, flipped)


def face_volumes(vertices: Array, faces: Ints, origin: Array) -> Array:
    """Signed volumes (F,) of the tetrahedra from ``origin`` (3,) to each face; their sum over a
    closed outward surface is its volume, whatever the origin.
    """
    return np.asarray(_volumes(vertices, faces, np.asarray(origin, np.float64)))


@compiled
def _volumes(vertices: Array, faces: Ints, origin: Array) -> Array:
    found = np.empty(len(faces))
    for f in range(len(faces)):
        a, b, c = vertices[faces[f, 0]], vertices[faces[f, 1]], vertices[faces[f, 2]]
        ax, ay, az = a[0] - origin[0], a[1] - origin[1], a[2] - origin[2]
        bx, by, bz = b[0] - origin[0], b[1] - origin[1], b[2] - origin[2]
        cx, cy, cz = c[0] - origin[0], c[1] - origin[1], c[2] - origin[2]
        x, y, z = by * cz - bz * cy, bz * cx - bx * cz, bx * cy - by * cx
        found[f] = (ax * x + ay * y + az * z) / 6.0
    return found


def winding(corners: Array, point: Array) -> float:
    """Winding number of closed faces (F, 3, 3) about one point (3,): 1 inside, 0 outside, -1 inside
    an inward surface.

    References: A. van Oosterom and J. Strackee, "The Solid Angle of a Plane Triangle", IEEE Trans.
    Biomed. Eng. BME-30 (1983) 125-126, equation 8 (citation from memory).
    """
    r = corners - point
    length = np.linalg.norm(r, axis=2)
    a, b, c = r[:, 0], r[:, 1], r[:, 2]
    la, lb, lc = length.T
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    angles = np.arctan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb)
    return float(angles.sum() / (2.0 * np.pi))
