"""Bounding-volume tree over a closed triangle mesh, laid out so that one loop walks it.

A plane cuts few faces. Every node of the tree bounds a patch of faces by a box and stores, summed
over the patch, what a patch wholly below the plane contributes; so only nodes that the plane
crosses are opened. Nodes lie in depth-first order: the first child of node ``i`` is ``i + 1``, and
``skip[i]`` is where to go on when node ``i`` is not opened. Faces are copied in the same order.
docs/theory/capacity.md has the argument.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

__all__ = ["FaceTree", "build_tree", "patch_tensors"]

LEAF_FACES = 8


class FaceTree(NamedTuple):
    """Arrays of the tree. Coordinates are relative to ``origin``, so far-off CAD keeps its digits.

    Attributes
    ----------
    origin : (3,) float64 [m]   centre of the mesh's enclosing box.
    boxes : (N, 6) float32 [m]   centre and half sizes of each node's box, half sizes rounded up.
    skip : (N,) int32   node to visit next when this one is not opened.
    first : (N,) int32   first face of a leaf; -1 for inner nodes.
    last : (N,) int32   one past the last face of a leaf.
    flux : (N, 9) float64   area vector A [m²], then xx, yy, zz, yz, xz, xy of the symmetric part
        of M = sum of a_f (x) (c_f - box centre) [m³].
    corners : (F, 9) float64 [m]   faces in tree order.
    order : (F,) int32   which of the mesh's faces stands at each place of the tree order.
    """

    origin: Array
    boxes: NDArray[np.float32]
    skip: Ints
    first: Ints
    last: Ints
    flux: Array
    corners: Array
    order: Ints


def build_tree(vertices: Array, faces: NDArray[np.int64]) -> FaceTree:
    """Build the tree by halving the faces along the longest side of their centroids' box.

    vertices : (N, 3) float [m]; faces : (F, 3) int, outward. Cost grows as F log F.
    """
    if len(faces) == 0:
        raise ValueError("a tree needs at least one face")
    origin = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    corners = np.ascontiguousarray((vertices - origin)[faces].reshape(-1, 9))
    order = np.arange(len(faces), dtype=np.int32)
    centroids = (corners[:, 0:3] + corners[:, 3:6] + corners[:, 6:9]) / 3.0
    skip, first, last = _split(centroids, order)
    corners = np.ascontiguousarray(corners[order])
    boxes, flux = _sum_up(corners, skip, first, last)
    return FaceTree(origin, boxes, skip, first, last, flux, corners, order)


@compiled
def _select(points: Array, order: Ints, low: int, high: int, axis: int) -> None:
    """Reorder ``order[low:high]`` so that its middle is the median along ``axis`` (quickselect)."""
    middle = (low + high) // 2
    left, right = low, high - 1
    while left < right:
        a, b = points[order[left], axis], points[order[right], axis]
        c = points[order[(left + right) // 2], axis]
        pivot = max(min(a, b), min(max(a, b), c))
        i, j = left, right
        while i <= j:
            while points[order[i], axis] < pivot:
                i += 1
            while points[order[j], axis] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                i += 1
                j -= 1
        if middle <= j:
            right = j
        elif middle >= i:
            left = i
        else:
            return


@compiled
def _longest_side(points: Array, order: Ints, low: int, high: int) -> int:
    lower = points[order[low]].copy()
    upper = lower.copy()
    for i in range(low + 1, high):
        for k in range(3):
            value = points[order[i], k]
            lower[k] = min(lower[k], value)
            upper[k] = max(upper[k], value)
    return int(np.argmax(upper - lower))


@compiled
def _split(points: Array, order: Ints) -> tuple[Ints, Ints, Ints]:
    """Permute ``order`` into tree order; return skip, first and last of the depth-first nodes."""
    count = len(order)
    most = 4 * (count // LEAF_FACES + 1)
    skip = np.empty(most, np.int32)
    first = np.full(most, -1, np.int32)
    last = np.full(most, -1, np.int32)
    # an entry is a face range, and the inner node whose skip is set once its range is done
    stack = np.empty((128, 3), np.int64)
    stack[0, 0], stack[0, 1], stack[0, 2] = 0, count, -1
    depth, nodes = 1, 0
    while depth:
        depth -= 1
        low, high, closes = stack[depth]
        if closes >= 0:
            skip[closes] = nodes
            continue
        node = nodes
        nodes += 1
        if high - low <= LEAF_FACES:
            first[node], last[node], skip[node] = low, high, nodes
            continue
        _select(points, order, low, high, _longest_side(points, order, low, high))
        middle = (low + high) // 2
        stack[depth, 0], stack[depth, 1], stack[depth, 2] = 0, 0, node
        stack[depth + 1, 0], stack[depth + 1, 1], stack[depth + 1, 2] = middle, high, -1
        stack[depth + 2, 0], stack[depth + 2, 1], stack[depth + 2, 2] = low, middle, -1
        depth += 3
    return skip[:nodes].copy(), first[:nodes].copy(), last[:nodes].copy()


@compiled
def _box_of(lower: Array, upper: Array, box: NDArray[np.float32]) -> None:
    """Write a float32 box that holds the float64 one: centre rounded, half sizes rounded up."""
    for k in range(3):
        centre = np.float32(0.5 * (lower[k] + upper[k]))
        half = max(upper[k] - np.float64(centre), np.float64(centre) - lower[k])
        box[k] = centre
        box[3 + k] = np.float32(half * (1.0 + 2.4e-7) + 1e-30)


@compiled
def _sum_up(
    corners: Array, skip: Ints, first: Ints, last: Ints
) -> tuple[NDArray[np.float32], Array]:
    """Boxes and fluxes of all nodes, children before parents (nodes backwards)."""
    count = len(skip)
    boxes = np.empty((count, 6), np.float32)
    flux = np.zeros((count, 9))
    bounds = np.empty((count, 2, 3))
    for node in range(count - 1, -1, -1):
        lower, upper = bounds[node, 0], bounds[node, 1]
        lower[:], upper[:] = np.inf, -np.inf
        if first[node] >= 0:
            for face in range(first[node], last[node]):
                for k in range(9):
                    lower[k % 3] = min(lower[k % 3], corners[face, k])
                    upper[k % 3] = max(upper[k % 3], corners[face, k])
            _box_of(lower, upper, boxes[node])
            _add_faces(corners, first[node], last[node], boxes[node], flux[node])
            continue
        left, right = node + 1, skip[node + 1]
        for k in range(3):
            lower[k] = min(bounds[left, 0, k], bounds[right, 0, k])
            upper[k] = max(bounds[left, 1, k], bounds[right, 1, k])
        _box_of(lower, upper, boxes[node])
        _add_child(flux[left], boxes[left], boxes[node], flux[node])
        _add_child(flux[right], boxes[right], boxes[node], flux[node])
    return boxes, flux


@compiled
def _add_flux(area: Array, arm: Array, flux: Array) -> None:
    """Add area (x) arm, symmetrised, to rows 3-8 of ``flux``."""
    flux[3] += area[0] * arm[0]
    flux[4] += area[1] * arm[1]
    flux[5] += area[2] * arm[2]
    flux[6] += 0.5 * (area[1] * arm[2] + area[2] * arm[1])
    flux[7] += 0.5 * (area[0] * arm[2] + area[2] * arm[0])
    flux[8] += 0.5 * (area[0] * arm[1] + area[1] * arm[0])


@compiled
def _add_faces(corners: Array, low: int, high: int, box: NDArray[np.float32], flux: Array) -> None:
    area, arm = np.empty(3), np.empty(3)
    for face in range(low, high):
        a, b, c = corners[face, 0:3], corners[face, 3:6], corners[face, 6:9]
        for k in range(3):
            i, j = (k + 1) % 3, (k + 2) % 3
            area[k] = 0.5 * ((b[i] - a[i]) * (c[j] - a[j]) - (b[j] - a[j]) * (c[i] - a[i]))
            arm[k] = (a[k] + b[k] + c[k]) / 3.0 - box[k]
        flux[0:3] += area
        _add_flux(area, arm, flux)


@compiled
def _add_child(
    child: Array, child_box: NDArray[np.float32], box: NDArray[np.float32], flux: Array
) -> None:
    arm = np.empty(3)
    for k in range(3):
        arm[k] = np.float64(child_box[k]) - np.float64(box[k])
    flux += child
    _add_flux(child[0:3], arm, flux)


@compiled
def patch_tensors(tree: FaceTree) -> Array:
    """Tensors of every node for the higher moments: (N, 27) float64, about each box's centre.

    Columns 0-8: ``integral n_j y_k`` [m³], row-major in (j, k). Columns 9-26: ``integral n_j y_k y_l``
    [m⁴] for each j, with (k, l) in the order xx, yy, zz, yz, xz, xy. They are built apart from
    the tree since volumes do not need them.
    """
    count = len(tree.skip)
    tensors = np.zeros((count, 27))
    for node in range(count - 1, -1, -1):
        out = tensors[node]
        if tree.first[node] >= 0:
            for face in range(tree.first[node], tree.last[node]):
                _add_face_tensors(tree.corners[face], tree.boxes[node], out)
            continue
        left, right = node + 1, tree.skip[node + 1]
        _add_child_tensors(tree, tensors[left], left, node, out)
        _add_child_tensors(tree, tensors[right], right, node, out)
    return tensors


@compiled
def _add_face_tensors(corners: Array, box: NDArray[np.float32], out: Array) -> None:
    a, b, c = corners[0:3], corners[3:6], corners[6:9]
    area = 0.5 * np.cross(b - a, c - a)
    middles = np.empty((3, 3))
    for k in range(3):
        middles[0, k] = 0.5 * (a[k] + b[k]) - box[k]
        middles[1, k] = 0.5 * (b[k] + c[k]) - box[k]
        middles[2, k] = 0.5 * (c[k] + a[k]) - box[k]
    for m in range(3):  # the rule of the edge midpoints is exact to second degree
        y = middles[m]
        for j in range(3):
            weight = area[j] / 3.0
            for k in range(3):
                out[3 * j + k] += weight * y[k]
                out[9 + 6 * j + k] += weight * y[k] * y[k]
            out[12 + 6 * j] += weight * y[1] * y[2]
            out[13 + 6 * j] += weight * y[0] * y[2]
            out[14 + 6 * j] += weight * y[0] * y[1]


@compiled
def _add_child_tensors(tree: FaceTree, child: Array, node: int, parent: int, out: Array) -> None:
    """Move a child's tensors to its parent's centre: y -> y + d."""
    d = np.empty(3)
    for k in range(3):
        d[k] = np.float64(tree.boxes[node, k]) - np.float64(tree.boxes[parent, k])
    for j in range(3):
        area = tree.flux[node, j]
        for k in range(3):
            out[3 * j + k] += child[3 * j + k] + area * d[k]
        for s in range(6):
            k = s if s < 3 else (1 if s == 3 else 0)
            m = s if s < 3 else (1 if s == 5 else 2)
            first_order = child[3 * j + k] * d[m] + child[3 * j + m] * d[k]
            out[9 + 6 * j + s] += child[9 + 6 * j + s] + first_order + area * d[k] * d[m]
