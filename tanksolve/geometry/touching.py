"""Bodies that touch along edges told apart: which two of the faces that meet at an edge bound one body."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.topology.edges import CROWDED, Edges, edges_of, shells_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["pieces_of"]

_SAME = 1e-5  # rad: faces at one angle round an edge, in contact


def pieces_of(vertices: Array, faces: Ints) -> Ints:
    """Number (F,) of the piece that each face belongs to, from 0.

    Faces hang together by edges. Where four and more meet at one, as where a lid lies flush on a tray, those two
    belong together that hang together already by the other edges, however each body is wound, and two that are
    left; where that does not part them, those that have metal between them, for which all have to be wound alike.
    Where they are not, or cross, the pieces come out open, and are refused later.
    """
    edges = edges_of(faces)
    crowded = np.flatnonzero(edges.twin == CROWDED)
    if len(crowded) == 0:
        return shells_of(edges).label
    corners = vertices[faces]
    outward = np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) > 0.0
    start, end = faces[crowded // 3, crowded % 3], faces[crowded // 3, (crowded + 1) % 3]
    ends = np.sort(np.stack([start, end], axis=1), axis=1)
    _, group = np.unique(ends, axis=0, return_inverse=True)
    twin = edges.twin.copy()
    patch = shells_of(edges).label[crowded // 3]
    for halves in np.split(
        np.argsort(group.ravel(), kind="stable"), np.cumsum(np.bincount(group.ravel()))[:-1]
    ):
        known = _by_patch(halves, patch[halves])
        if known is not None and (start[known[:, 0]] == end[known[:, 1]]).all():
            twin[crowded[known]] = crowded[known[:, ::-1]]
            continue
        low, high = vertices[ends[halves[0]]]
        apex = vertices[faces[crowded[halves] // 3, (crowded[halves] + 2) % 3]]
        # a face walked along the edge has its metal behind it, seen turning round the edge
        begins = (start[halves] == ends[halves[0], 0]) != outward
        for one, other in _pairs(_angles(low, high, apex), begins):
            a, b = int(crowded[halves[one]]), int(crowded[halves[other]])
            twin[a], twin[b] = b, a
    return shells_of(Edges(twin, edges.same_way)).label


def _by_patch(halves: Ints, patch: Ints) -> Ints | None:
    """Pairs (P, 2) of halves at an edge of which each two hang together already, and of two that are left."""
    names, count = np.unique(patch, return_counts=True)
    single = np.isin(patch, names[count == 1])
    if count.max() > 2 or single.sum() not in (0, 2):
        return None
    order = np.lexsort((patch, single))  # single ones last, side by side
    return np.asarray(halves[order].reshape(-1, 2))


def _angles(low: Array, high: Array, apex: Array) -> Array:
    """Angles (K,) [rad] at which faces stand round an edge, counted from the widest gap between any two."""
    along = (high - low) / np.linalg.norm(high - low)
    side = np.cross(along, np.eye(3)[int(np.argmin(np.abs(along)))])
    side /= np.linalg.norm(side)
    out = apex - low
    angle = np.arctan2(out @ np.cross(along, side), out @ side)
    order = np.sort(angle)
    gap = np.diff(np.append(order, order[0] + 2.0 * np.pi))
    return np.asarray(
        (angle - order[(int(np.argmax(gap)) + 1) % len(order)] + _SAME) % (2.0 * np.pi)
    )


def _pairs(angle: Array, begins: NDArray[np.bool_]) -> list[tuple[int, int]]:
    """Pairs of faces with metal between them, as brackets match; none where they do not."""
    if 2 * int(begins.sum()) != len(begins):
        return []
    order = np.argsort(angle, kind="stable")
    step = np.cumsum(np.append(0, np.diff(angle[order]) > _SAME))
    order = order[
        np.lexsort((begins[order], step))
    ]  # in contact, one body ends before the next begins
    depth = np.cumsum(np.where(begins[order], 1, -1))
    order = np.roll(order, -(int(np.argmin(depth)) + 1))
    pairs, waiting = [], []
    for k in order.tolist():
        if begins[k]:
            waiting.append(k)
        else:
            pairs.append((waiting.pop(), k))
    return pairs
