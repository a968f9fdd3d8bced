"""Bounding-volume tree over a closed triangle mesh, laid out so that one loop walks it.

A plane cuts few faces. Every node of the tree bounds a patch of faces by a box and stores, summed
over the patch, what a patch wholly below the plane contributes; so only nodes that the plane
crosses are opened. Nodes lie in depth-first order: the first child of node ``i`` is ``i + 1``, and
``skip[i]`` is where to go on when node ``i`` is not opened. Faces are copied in the same order,
eight to a block, so that one vector instruction serves several faces.
docs/theory/capacity.md has the argument.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int32]

__all__ = ["LANES", "FaceTree", "build_tree", "patch_tensors"]

LANES = 8  # faces in a block and so in a leaf: two vectors of four doubles


class FaceTree(NamedTuple):
    """Arrays of the tree. Coordinates are relative to ``origin``, so far-off CAD keeps its digits.

    Attributes
    ----------
    origin : (3,) float64 [m]   centre of the mesh's enclosing box.
    boxes : (N, 6) float32 [m]   centre and half sizes of each node's box, half sizes rounded up.
    skip : (N,) int32   node to visit next when this one is not opened.
    first : (N,) int32   first face of a leaf, a multiple of ``LANES``; -1 for inner nodes.
    last : (N,) int32   one past the last face of a leaf.
    flux : (N, 9) float64   area vector A [m²], then xx, yy, zz, yz, xz, xy of the symmetric part
        of M = sum of a_f (x) (c_f - box centre) [m³].
    blocks : (B, 9, LANES) float64 [m]   the corners x, y, z; x, y, z; x, y, z of the faces in tree
        order: face ``f`` is ``blocks[f // LANES, :, f % LANES]``. What is left over of the last
        block is filled with points of no area.
    order : (F,) int32   number that the face had in the mesh.
    """

    origin: Array
    boxes: NDArray[np.float32]
    skip: Ints
    first: Ints
    last: Ints
    flux: Array
    blocks: Array
    order: Ints


def build_tree(vertices: Array, faces: NDArray[np.int64]) -> FaceTree:
    """Build the tree by halving the faces along the longest side of their centroids' box.

    vertices : (N, 3) float [m]; faces : (F, 3) int, outward. Cost grows as F log F.
    """
    if len(faces) == 0:
        raise ValueError("a tree needs at least one face")
    origin = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    points = np.ascontiguousarray(vertices - origin, np.float64)
    order = np.arange(len(faces), dtype=np.int32)
    skip, first, last = _split(_centroids(points, faces), order)
    # Long arrays are made by numpy and not in compiled code: numpy asks for large memory pages.
    blocks = np.empty((-(-len(faces) // LANES), 9, LANES))
    boxes, flux = np.empty((len(skip), 6), np.float32), np.zeros((len(skip), 9))
    _fill_blocks(points, faces, order, blocks)
    _sum_up(blocks, skip, first, np.empty((len(skip), 6)), boxes, flux)
    return FaceTree(origin, boxes, skip, first, last, flux, blocks, order)


@compiled
def _centroids(points: Array, faces: NDArray[np.int64]) -> NDArray[np.float32]:
    """Sums of the corners of each face (F, 3); only their order matters, so float32 will do."""
    found = np.empty((len(faces), 3), np.float32)
    for f in range(len(faces)):
        for k in range(3):
            total = points[faces[f, 0], k] + points[faces[f, 1], k] + points[faces[f, 2], k]
            found[f, k] = total
    return found


@compiled
def _fill_blocks(points: Array, faces: NDArray[np.int64], order: Ints, blocks: Array) -> None:
    for place in range(len(blocks) * LANES):
        block = blocks[place // LANES]
        face = order[min(place, len(order) - 1)]
        for corner in range(3):
            vertex = faces[face, corner if place < len(order) else 0]
            for k in range(3):
                block[3 * corner + k, place % LANES] = points[vertex, k]


@compiled_inner
def _select(
    points: NDArray[np.float32], order: Ints, low: int, high: int, middle: int, axis: int
) -> None:
    """Reorder both arrays between low and high so that ``middle`` splits them along ``axis``.

    Quickselect. The points move with their numbers, so that memory is read in sequence.
    """
    left, right = low, high - 1
    while left < right:
        a, b = points[left, axis], points[right, axis]
        c = points[(left + right) // 2, axis]
        pivot = max(min(a, b), min(max(a, b), c))
        i, j = left, right
        while i <= j:
            while points[i, axis] < pivot:
                i += 1
            while points[j, axis] > pivot:
                j -= 1
            if i <= j:
                order[i], order[j] = order[j], order[i]
                for k in range(3):
                    points[i, k], points[j, k] = points[j, k], points[i, k]
                i += 1
                j -= 1
        if middle <= j:
            right = j
        elif middle >= i:
            left = i
        else:
            return


@compiled_inner
def _longest_side(points: NDArray[np.float32], low: int, high: int) -> int:
    x0, y0, z0 = points[low]
    x1, y1, z1 = points[low]
    for i in range(low + 1, high):
        x, y, z = points[i]
        x0, x1 = min(x0, x), max(x1, x)
        y0, y1 = min(y0, y), max(y1, y)
        z0, z1 = min(z0, z), max(z1, z)
    if x1 - x0 >= max(y1 - y0, z1 - z0):
        return 0
    return 1 if y1 - y0 >= z1 - z0 else 2


@compiled
def _split(points: NDArray[np.float32], order: Ints) -> tuple[Ints, Ints, Ints]:
    """Permute ``order`` into tree order; return skip, first and last of the depth-first nodes.

    All leaves are full but the last: nodes are split at a multiple of ``LANES``.
    """
    count = len(order)
    nodes, total = 0, 2 * ((count + LANES - 1) // LANES) - 1
    skip = np.empty(total, np.int32)
    first = np.full(total, -1, np.int32)
    last = np.full(total, -1, np.int32)
    # an entry is a face range, and the inner node whose skip is set once its range is done
    stack = np.empty((128, 3), np.int64)
    stack[0, 0], stack[0, 1], stack[0, 2] = 0, count, -1
    depth = 1
    while depth:
        depth -= 1
        low, high, closes = stack[depth]
        if closes >= 0:
            skip[closes] = nodes
            continue
        node = nodes
        nodes += 1
        if high - low <= LANES:
            first[node], last[node], skip[node] = low, high, nodes
            continue
        middle = low + (high - low + 2 * LANES - 1) // (2 * LANES) * LANES
        _select(points, order, low, high, middle, _longest_side(points, low, high))
        stack[depth, 0], stack[depth, 1], stack[depth, 2] = 0, 0, node
        stack[depth + 1, 0], stack[depth + 1, 1], stack[depth + 1, 2] = middle, high, -1
        stack[depth + 2, 0], stack[depth + 2, 1], stack[depth + 2, 2] = low, middle, -1
        depth += 3
    return skip, first, last


@compiled
def _sum_up(
    blocks: Array,
    skip: Ints,
    first: Ints,
    bounds: Array,
    boxes: NDArray[np.float32],
    flux: Array,
) -> None:
    """Fill the boxes and fluxes of all nodes, children before parents (nodes backwards)."""
    for node in range(len(skip) - 1, -1, -1):
        left, right = node + 1, skip[min(node + 1, len(skip) - 1)]
        for k in range(3):
            if first[node] >= 0:
                lower, upper = _range_of(blocks[first[node] // LANES], k)
            else:
                lower = min(bounds[left, k], bounds[right, k])
                upper = max(bounds[left, 3 + k], bounds[right, 3 + k])
            bounds[node, k], bounds[node, 3 + k] = lower, upper
            # a float32 box that holds the float64 one: centre rounded, half size rounded up
            centre = np.float32(0.5 * (lower + upper))
            half = max(upper - np.float64(centre), np.float64(centre) - lower)
            boxes[node, k] = centre
            boxes[node, 3 + k] = np.float32(half * (1.0 + 2.4e-7) + 1e-30)
        if first[node] >= 0:
            _add_faces(blocks[first[node] // LANES], boxes[node], flux[node])
        else:
            _add_child(flux[left], boxes[left], boxes[node], flux[node])
            _add_child(flux[right], boxes[right], boxes[node], flux[node])


@compiled_inner
def _range_of(block: Array, axis: int) -> tuple[float, float]:
    """Least and greatest coordinate of the corners of a block's faces."""
    lower, upper = np.inf, -np.inf
    for corner in range(3):
        for lane in range(LANES):
            lower = min(lower, block[3 * corner + axis, lane])
            upper = max(upper, block[3 * corner + axis, lane])
    return lower, upper


@compiled_inner
def _add_flux(ax: float, ay: float, az: float, x: float, y: float, z: float, flux: Array) -> None:
    """Add area (x) arm, symmetrised, to entries 3-8 of ``flux``."""
    flux[3] += ax * x
    flux[4] += ay * y
    flux[5] += az * z
    flux[6] += 0.5 * (ay * z + az * y)
    flux[7] += 0.5 * (ax * z + az * x)
    flux[8] += 0.5 * (ax * y + ay * x)


@compiled_inner
def _add_faces(p: Array, box: NDArray[np.float32], flux: Array) -> None:
    for i in range(LANES):
        ex, ey, ez = p[3, i] - p[0, i], p[4, i] - p[1, i], p[5, i] - p[2, i]
        fx, fy, fz = p[6, i] - p[0, i], p[7, i] - p[1, i], p[8, i] - p[2, i]
        ax, ay, az = ey * fz - ez * fy, ez * fx - ex * fz, ex * fy - ey * fx
        x = (p[0, i] + p[3, i] + p[6, i]) / 3.0 - box[0]
        y = (p[1, i] + p[4, i] + p[7, i]) / 3.0 - box[1]
        z = (p[2, i] + p[5, i] + p[8, i]) / 3.0 - box[2]
        flux[0] += 0.5 * ax
        flux[1] += 0.5 * ay
        flux[2] += 0.5 * az
        _add_flux(0.5 * ax, 0.5 * ay, 0.5 * az, x, y, z, flux)


@compiled_inner
def _add_child(
    child: Array, child_box: NDArray[np.float32], box: NDArray[np.float32], flux: Array
) -> None:
    """Move a child's flux to its parent's centre and add it."""
    x = np.float64(child_box[0]) - np.float64(box[0])
    y = np.float64(child_box[1]) - np.float64(box[1])
    z = np.float64(child_box[2]) - np.float64(box[2])
    for k in range(9):
        flux[k] += child[k]
    _add_flux(child[0], child[1], child[2], x, y, z, flux)


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
                corners = tree.blocks[face // LANES, :, face % LANES]
                _add_face_tensors(corners, tree.boxes[node], out)
            continue
        left, right = node + 1, tree.skip[node + 1]
        _add_child_tensors(tree, tensors[left], left, node, out)
        _add_child_tensors(tree, tensors[right], right, node, out)
    return tensors


@compiled_inner
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


@compiled_inner
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
