"""Which faces hang together along edges and at corners, where sheets of surface may touch.

Liquid that meets only along an edge or at a point does not flow through it: of the faces at a
shared edge those that hold one wedge of liquid are paired, and a vertex is split where the faces
around it make several sheets.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.topology.edges import CROWDED, halves_by_edge

Array = NDArray[np.float64]
Shorts = NDArray[np.int32]

__all__ = ["faces_across", "halves_at", "split_sheets"]


@compiled
def halves_at(faces: Shorts, count: int) -> tuple[Shorts, Shorts]:
    """Where the half-edges 3 f + k that leave each vertex start, and the half-edges."""
    first = np.zeros(count + 1, np.int32)
    for f in range(len(faces)):
        for k in range(3):
            first[faces[f, k] + 1] += 1
    for v in range(count):
        first[v + 1] += first[v]
    free, halves = first[:count].copy(), np.empty(3 * len(faces), np.int32)
    for f in range(len(faces)):
        for k in range(3):
            v = faces[f, k]
            halves[free[v]] = 3 * f + k
            free[v] += 1
    return first, halves


def faces_across(vertices: Array, faces: Shorts) -> Shorts:
    """Pair the two faces of every edge; where sheets touch, the two that hold one wedge of liquid."""
    partner, open_edges, crowded = _pair_halves(faces, len(vertices))
    if open_edges:
        raise ValueError(
            "the mesh is not closed: an edge has more faces on one side than the other"
        )
    if crowded:
        _pair_crowded(vertices, faces, partner)
    partner //= 3
    return partner.reshape(-1, 3)


@compiled
def _pair_halves(faces: Shorts, count: int) -> tuple[Shorts, int, int]:
    """The half-edge that runs back along each half-edge 3 f + k; CROWDED where there are several.

    Also counts half-edges that have more on one side than on the other, and crowded ones.
    """
    first, halves = halves_by_edge(faces, count)
    partner = np.empty(3 * len(faces), np.int32)
    open_edges = crowded = 0
    for v in range(count):
        for i in range(first[v], first[v + 1]):
            one = halves[i]
            a, b = faces[one // 3, one % 3], faces[one // 3, (one + 1) % 3]
            forth = back = 0
            for j in range(first[v], first[v + 1]):
                other = halves[j]
                c, d = faces[other // 3, other % 3], faces[other // 3, (other + 1) % 3]
                forth += a == c and b == d
                if a == d and b == c:
                    back += 1
                    partner[one] = other
            open_edges += forth != back
            if forth > 1:
                partner[one] = CROWDED
                crowded += 1
    return partner, open_edges, crowded


def _pair_crowded(vertices: Array, faces: Shorts, partner: Shorts) -> None:
    """Fill in the partners at edges that hold several wedges of liquid."""
    ends: dict[tuple[int, int], list[int]] = {}
    for half in np.flatnonzero(partner == CROWDED):
        corner = int(half) // 3, int(half) % 3
        ends.setdefault(
            (int(faces[corner]), int(faces[corner[0], (corner[1] + 1) % 3])), []
        ).append(int(half))
    for (low, high), ones in ends.items():
        if low < high:
            for one, other in _wedges(vertices, faces, ones, ends[high, low]):
                partner[one], partner[other] = other, one


def _wedges(
    vertices: Array, faces: Shorts, ones: list[int], others: list[int]
) -> list[tuple[int, int]]:
    """Pair half-edges around a shared edge so that each pair bounds one wedge of liquid.

    Seen along ``ones``' direction, liquid lies on the clockwise side of a face of ``ones`` and on
    the anticlockwise side of one of ``others``.
    """
    a = vertices[faces[ones[0] // 3, ones[0] % 3]]
    b = vertices[faces[ones[0] // 3, (ones[0] + 1) % 3]]
    along = (b - a) / np.linalg.norm(b - a)
    across = np.cross(along, np.eye(3)[np.argmin(np.abs(along))])
    sideways = np.cross(along, across)

    def angle(half: int) -> float:
        arm = vertices[faces[half // 3, (half + 2) % 3]] - a
        return float(np.arctan2(arm @ sideways, arm @ across))

    pairs = []
    for one in ones:
        gaps = [np.mod(angle(one) - angle(other), 2.0 * np.pi) for other in others]
        pairs.append((one, others[int(np.argmin(gaps))]))
    if len({other for _, other in pairs}) != len(pairs):
        raise ValueError("faces fold onto each other along an edge")
    return pairs


@compiled
def split_sheets(faces: Shorts, across: Shorts) -> tuple[Shorts, Shorts]:
    """Give every sheet of faces around a vertex a vertex of its own: new faces, old index of each.

    The two corners at either end of an edge belong to the same sheets: union-find over corners.
    """
    root = np.arange(3 * len(faces)).astype(np.int32)
    for f in range(len(faces)):
        for k in range(3):
            beyond = across[f, k]
            for mine in (k, (k + 1) % 3):
                theirs = 0
                while faces[beyond, theirs] != faces[f, mine]:
                    theirs += 1
                a, b = _root(root, 3 * f + mine), _root(root, 3 * beyond + theirs)
                root[max(a, b)] = min(a, b)
    new, source = np.empty((len(faces), 3), np.int32), np.empty(len(root), np.int32)
    sheets = 0
    for corner in range(
        len(root)
    ):  # a root is the least of its sheet, so it has its number already
        f, k = corner // 3, corner % 3
        top = _root(root, corner)
        if top == corner:
            source[sheets], new[f, k] = faces[f, k], sheets
            sheets += 1
        else:
            new[f, k] = new[top // 3, top % 3]
    return new, source[:sheets].copy()


@compiled_inner
def _root(root: Shorts, item: int) -> int:
    while root[item] != item:
        root[item] = root[root[item]]
        item = root[item]
    return item
