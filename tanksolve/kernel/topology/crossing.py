"""Where a triangle mesh crosses itself or lies upon itself.

Every pair of faces whose boxes touch is put to :func:`tanksolve.kernel.topology.face_pairs.meet`; the pairs
come from a hierarchy of boxes over the faces in Morton order.

Reference: C. Lauterbach et al., "Fast BVH Construction on GPUs", Computer Graphics Forum 28 (2009)
375-384 (citation from memory).
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import in_threads
from tanksolve.kernel.topology.face_pairs import face_planes, meet

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Crossings", "find_crossings"]

_EDGES = 20_000  # looked at to find along which axes a mesh lies
_ALIGNED = 1.0 - 1e-9  # cosine
_LEAF = 4  # faces to a leaf of the hierarchy
_STEPS, _STEPS_A_LEAF = 30_000_000, 2_000  # boxes and pairs looked at, at most: some seconds
_PAIR = 4  # steps that comparing two faces counts for
_WORTH_SHARING = 32  # leaves: waking another thread for fewer costs more
_BLOCK = 64  # leaves between two looks at how many steps were taken; one of slivers takes millions


class Crossings(NamedTuple):
    """Faces that meet another where they should not.

    Attributes
    ----------
    face, other : (K,) int, pairs of faces; each face stands at most once under ``face``.
    kind : (K,) int, ``CROSSES`` or ``OVERLAPS``.
    whole : whether all faces were looked at; not so where boxes of very many faces lie in each other, as
        those of hundreds of thousands of long slivers do.
    """

    face: Ints
    other: Ints
    kind: Ints
    whole: bool


@compiled_inner
def _spread(x: int) -> int:
    x &= 0x1FFFFF
    x = (x | x << 32) & 0x1F00000000FFFF
    x = (x | x << 16) & 0x1F0000FF0000FF
    x = (x | x << 8) & 0x100F00F00F00F00F
    x = (x | x << 4) & 0x10C30C30C30C30C3
    return (x | x << 2) & 0x1249249249249249


@compiled
def _morton(vertices: Array, faces: Ints, low: Array, scale: float) -> Ints:
    code = np.empty(len(faces), np.int64)
    for f in range(len(faces)):
        total = 0
        for k in range(3):
            a, b, c = vertices[faces[f, 0], k], vertices[faces[f, 1], k], vertices[faces[f, 2], k]
            middle = ((a - low[k]) + (b - low[k]) + (c - low[k])) / 3.0
            total |= _spread(int(middle * scale)) << k
        code[f] = total
    return code


@compiled
def _boxes(corners: Array, begin: Ints) -> Array:
    """Boxes (N, 6) of an implicit binary tree: level l starts at ``begin[l]``, leaves first."""
    boxes = np.empty((begin[-1], 6))
    faces = len(corners)
    for node in range(begin[1]):
        for k in range(3):
            low, high = np.inf, -np.inf
            for f in range(node * _LEAF, min(faces, (node + 1) * _LEAF)):
                for c in range(3):
                    low, high = min(low, corners[f, c, k]), max(high, corners[f, c, k])
            boxes[node, k], boxes[node, k + 3] = low, high
    for level in range(1, len(begin) - 1):
        below, size = begin[level - 1], begin[level] - begin[level - 1]
        for node in range(begin[level + 1] - begin[level]):
            left, right = 2 * node, min(2 * node + 1, size - 1)
            for k in range(3):
                boxes[begin[level] + node, k] = min(boxes[below + left, k], boxes[below + right, k])
                boxes[begin[level] + node, k + 3] = max(
                    boxes[below + left, k + 3], boxes[below + right, k + 3]
                )
    return boxes


@compiled_inner
def _touch(boxes: Array, p: int, q: int) -> bool:
    """Tell whether two boxes have a point in common."""
    apart = False
    for k in range(3):
        apart |= boxes[p, k] > boxes[q, k + 3] or boxes[p, k + 3] < boxes[q, k]
    return not apart


@compiled_inner
def _narrow(planes: Array, f: int) -> bool:
    return not (planes[f, 0] != 0.0 or planes[f, 1] != 0.0 or planes[f, 2] != 0.0)


@compiled_inner
def _compare_leaves(
    corners: Array,
    planes: Array,
    faces: Ints,
    twin: Ints,
    leaf: int,
    node: int,
    tolerance: float,
    other: Ints,
    kind: Ints,
) -> None:
    """Compare the faces of one leaf, unless already found, with the later ones of another."""
    count = len(corners)
    for i in range(leaf * _LEAF, min(count, leaf * _LEAF + _LEAF)):
        if _narrow(planes, i):
            continue
        for j in range(max(i + 1, node * _LEAF), min(count, node * _LEAF + _LEAF)):
            if kind[i] != 0:
                break
            if not _narrow(planes, j):
                met = meet(corners, planes, faces, twin, i, j, tolerance)
                if met != 0:
                    other[i], kind[i] = j, met


@compiled_inner
def _walk(
    corners: Array,
    planes: Array,
    faces: Ints,
    twin: Ints,
    boxes: Array,
    begin: Ints,
    leaf: int,
    tolerance: float,
    other: Ints,
    kind: Ints,
) -> int:
    """Compare one leaf with itself and all later leaves whose boxes touch its own; the steps taken.

    The tree needs no stack: after a node comes its right sibling, or that of the nearest ancestor
    that is a left child.
    """
    top = len(begin) - 2
    level, node, steps = 0, leaf, 0
    while True:
        steps += 1
        inside = node < begin[level + 1] - begin[level]
        touching = inside and _touch(boxes, begin[level] + node, leaf)
        if touching and level > 0:
            level, node = level - 1, 2 * node
            continue
        if touching:
            _compare_leaves(corners, planes, faces, twin, leaf, node, tolerance, other, kind)
            steps += _PAIR * _LEAF * _LEAF
        while node & 1:
            node >>= 1
            level += 1
        node += 1
        if level >= top:
            return steps


@compiled
def _search(
    first: int,
    last: int,
    corners: Array,
    planes: Array,
    faces: Ints,
    twin: Ints,
    boxes: Array,
    begin: Ints,
    tolerance: float,
    start: int,
    other: Ints,
    kind: Ints,
    steps: Ints,
) -> None:
    """Walk leaves ``first <= leaf - start < last``; each writes to the rows of its own faces only."""
    for leaf in range(start + first, start + last):
        steps[leaf] = _walk(
            corners, planes, faces, twin, boxes, begin, leaf, tolerance, other, kind
        )


def _levels(leaves: int) -> Ints:
    begin, size = [0], leaves
    while True:
        begin.append(begin[-1] + size)
        if size == 1:
            return np.asarray(begin, np.int64)
        size = (size + 1) // 2


def _long_axes(vertices: Array, faces: Ints) -> Array:
    """Axes (3, 3) in rows along which most of the edges run.

    Boxes along them are tight: those of long faces that lie askew would all overlap, and every pair
    be compared. Where the mesh's own axes serve, they are kept to the last bit.
    """
    start, end = vertices[faces].reshape(-1, 3), vertices[np.roll(faces, -1, axis=1)].reshape(-1, 3)
    every = max(1, len(start) // _EDGES)
    way = (end - start)[::every]
    first = _most_common(way)
    second = _most_common(way - np.outer(way @ first, first))
    if abs(float(second @ first)) > 0.5:  # all edges run along one line
        return np.eye(3)
    if np.max(np.abs(first)) > _ALIGNED and np.max(np.abs(second)) > _ALIGNED:
        return np.eye(3)
    second = second - (second @ first) * first
    second /= np.linalg.norm(second)
    return np.stack([first, second, np.cross(first, second)])


def _most_common(ways: Array) -> Array:
    """Unit direction in which most of the length of ways (N, 3) runs, either way round."""
    length = np.linalg.norm(ways, axis=1)
    long = length > 1e-9 * max(float(length.max(initial=0.0)), 1e-300)
    if not long.any():
        return np.array([1.0, 0.0, 0.0])
    unit = ways[long] / length[long, None]
    unit *= np.where(unit[np.arange(len(unit)), np.abs(unit).argmax(axis=1)] < 0.0, -1.0, 1.0)[
        :, None
    ]
    _, group = np.unique(np.rint(200.0 * unit), axis=0, return_inverse=True)
    group = group.ravel()
    members = group == int(np.argmax(np.bincount(group, length[long])))
    mean = (unit[members] * length[long][members, None]).sum(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def find_crossings(vertices: Array, faces: Ints, twin: Ints, tolerance: float) -> Crossings:
    """Find faces that cross or overlap another; one partner is enough for each.

    Parameters
    ----------
    vertices : (N, 3) float, any unit; finite.
    faces : (F, 3) int.
    twin : (3 F,) int, see :class:`tanksolve.kernel.topology.edges.Edges`.
    tolerance : length, same unit; a millionth of the mesh's size is a good choice.

    Notes
    -----
    Time grows as F log F for meshes whose faces are of like size. The result does not depend on
    the number of threads.
    """
    vertices = vertices @ _long_axes(vertices, faces).T
    low = vertices.min(axis=0)
    scale = (1 << 21) * (1.0 - 1e-9) / max(float(np.ptp(vertices, axis=0).max()), 1e-300)
    order = np.argsort(_morton(vertices, faces, low, scale), kind="stable")
    faces = faces[order]
    corners = vertices[faces]
    corners -= low
    rank = np.empty(len(order), np.int64)
    rank[order] = np.arange(len(order))
    twins = twin.reshape(-1, 3)[order].ravel()
    twins = np.where(twins < 0, -1, 3 * rank[twins // 3] + twins % 3)
    begin = _levels(-(-len(order) // _LEAF))
    other, kind = np.full(len(order), -1, np.int64), np.zeros(len(order), np.int64)
    planes, boxes = face_planes(corners, tolerance), _boxes(corners, begin)
    steps = np.zeros(begin[1], np.int64)
    taken, most = 0, _STEPS + _STEPS_A_LEAF * len(steps)
    mesh = (corners, planes, faces, twins, boxes, begin, tolerance)
    for start in range(0, len(steps), _BLOCK):
        count = min(_BLOCK, len(steps) - start)
        in_threads(_search, count, *mesh, start, other, kind, steps, least=_WORTH_SHARING)
        taken += int(steps[start : start + _BLOCK].sum())
        if taken > most:
            break
    hit = np.flatnonzero(kind)
    face, partner, kinds = order[hit], order[other[hit]], kind[hit]
    by_face = np.argsort(face)
    return Crossings(face[by_face], partner[by_face], kinds[by_face], whole=taken <= most)
