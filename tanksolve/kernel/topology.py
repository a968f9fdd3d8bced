"""How the faces of a triangle mesh hang together: equal corners, twin edges, shells.

A half-edge ``3 f + k`` runs from corner k of face f to corner k + 1. In a closed, oriented surface
every half-edge has exactly one twin that runs the other way, in the neighbouring face.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Edges", "Shells", "edges_of", "face_volumes", "merge_equal", "shells_of", "winding"]

NO_TWIN = -1
CROWDED = -2  # an edge that more than two faces use


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


@compiled
def _merge(bits: Ints, table: Ints, first: Ints, inverse: Ints) -> int:
    mask = len(table) - 1
    count = 0
    for i in range(len(bits)):
        # FNV-like mixing; only the spread matters, equality is tested on the bits themselves
        h = (bits[i, 0] * 73856093) ^ (bits[i, 1] * 19349663) ^ (bits[i, 2] * 83492791)
        h ^= (h >> 29) ^ (h >> 47)
        slot = (h * 0x9E3779B97F4A7C1 >> 7) & mask
        while True:
            known = table[slot]
            if known < 0:
                table[slot] = count
                first[count] = i
                inverse[i] = count
                count += 1
                break
            j = first[known]
            if bits[j, 0] == bits[i, 0] and bits[j, 1] == bits[i, 1] and bits[j, 2] == bits[i, 2]:
                inverse[i] = known
                break
            slot = (slot + 1) & mask
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
    bits = np.ascontiguousarray(points + 0.0).view(np.int64)
    table = np.full(1 << max(4, int(2 * len(points)).bit_length()), -1, np.int64)
    first, inverse = np.empty(len(points), np.int64), np.empty(len(points), np.int64)
    count = _merge(bits, table, first, inverse)
    return first[:count].copy(), inverse


def edges_of(faces: Ints) -> Edges:
    """Pair the half-edges of ``faces`` (F, 3); see :class:`Edges`."""
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    key = np.minimum(start, end) * (faces.max(initial=0) + 1) + np.maximum(start, end)
    order = np.argsort(key, kind="stable")
    key = key[order]
    new = np.ones(len(key), bool)
    new[1:] = key[1:] != key[:-1]
    begin = np.flatnonzero(new)
    uses = np.diff(np.append(begin, len(key)))
    twin = np.full(len(key), NO_TWIN, np.int64)
    same_way = np.zeros(len(key), bool)
    pairs = begin[uses == 2]
    a, b = order[pairs], order[pairs + 1]
    twin[a], twin[b] = b, a
    same_way[a] = same_way[b] = start[a] == start[b]
    crowded = np.repeat(uses > 2, uses)
    twin[order[crowded]] = CROWDED
    return Edges(twin, same_way)


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
    corners = vertices - origin
    a, b, c = (corners[faces[:, k]] for k in range(3))
    return np.asarray(np.einsum("ij,ij->i", a, np.cross(b, c)) / 6.0)


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
