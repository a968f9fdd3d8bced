"""The sums behind ``capacity.moments``: patches of the tree, and faces that the plane cuts.

Each formula is an integral over the tank's surface alone; docs/theory/capacity.md derives them.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.tree import LANES, FaceTree
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import WORTH_SHARING, in_threads

Array = NDArray[np.float64]

__all__ = ["dot", "moment_sums"]


@compiled_inner
def dot(a: Array, b: Array) -> float:
    """Scalar product of two vectors of three; numba's own would ask for a BLAS."""
    return float(a[0] * b[0] + a[1] * b[1] + a[2] * b[2])


def moment_sums(tree: FaceTree, tensors: Array, up: Array, height: Array) -> Array:
    """Raw moments (D, 17) about the tree's origin: V, S, int x dV, int x dS, int x x^T dS."""
    raw = np.zeros((len(up), 17))
    in_threads(_moment_sums, len(up), tree, tensors, up, height, raw, least=WORTH_SHARING)
    return raw


@compiled
def _moment_sums(
    first: int, last: int, tree: FaceTree, tensors: Array, up: Array, height: Array, raw: Array
) -> None:
    for d in range(first, last):
        u, h, out = up[d], height[d], raw[d]
        node = 0
        while node < len(tree.skip):
            box = tree.boxes[node]
            over = h - (u[0] * box[0] + u[1] * box[1] + u[2] * box[2])
            half = abs(u[0]) * box[3] + abs(u[1]) * box[4] + abs(u[2]) * box[5]
            if over <= -half:
                node = tree.skip[node]
            elif over >= half:
                _add_patch(tree.flux[node], tensors[node], box, u, over, out)
                node = tree.skip[node]
            elif tree.first[node] < 0:
                node += 1
            else:
                for face in range(tree.first[node], tree.last[node]):
                    _add_wet_face(tree.blocks[face // LANES, :, face % LANES].copy(), u, h, out)
                node = tree.skip[node]


@compiled_inner
def _add_patch(
    flux: Array, tensors: Array, box: NDArray[np.float32], u: Array, over: float, out: Array
) -> None:
    """Add what a patch wholly below contributes, from its tensors about its box's centre."""
    c = np.empty(3)
    first = np.zeros(3)  # integral (u·n) y
    second = np.zeros((3, 3))  # integral (u·n) y y^T
    for k in range(3):
        c[k] = box[k]
    for j in range(3):
        for k in range(3):
            first[k] += u[j] * tensors[3 * j + k]
            second[k, k] += u[j] * tensors[9 + 6 * j + k]
        second[1, 2] += u[j] * tensors[12 + 6 * j]
        second[0, 2] += u[j] * tensors[13 + 6 * j]
        second[0, 1] += u[j] * tensors[14 + 6 * j]
    second[2, 1], second[2, 0], second[1, 0] = second[1, 2], second[0, 2], second[0, 1]
    zeroth = dot(u, flux[0:3])
    first_u = dot(u, first)
    second_u = np.empty(3)
    for k in range(3):
        second_u[k] = second[k, 0] * u[0] + second[k, 1] * u[1] + second[k, 2] * u[2]
    w1 = over * zeroth - first_u  # integral (u·n) w, with w = over - u·y
    w2 = over * over * zeroth - 2.0 * over * first_u + dot(u, second_u)
    out[0] -= w1
    out[1] -= zeroth
    for i in range(3):
        wy = over * first[i] - second_u[i]
        out[2 + i] -= c[i] * w1 + wy + 0.5 * w2 * u[i]
        out[5 + i] -= c[i] * zeroth + first[i] + w1 * u[i]
        for j in range(3):
            wyj = over * first[j] - second_u[j]
            plain = c[i] * c[j] * zeroth + c[i] * first[j] + c[j] * first[i] + second[i, j]
            mixed = u[i] * (c[j] * w1 + wyj) + u[j] * (c[i] * w1 + wy)
            out[8 + 3 * i + j] -= plain + mixed + w2 * u[i] * u[j]


@compiled_inner
def _add_wet_face(p: Array, u: Array, h: float, out: Array) -> None:
    """Cut one face at the plane, and integrate over the one or two triangles below it."""
    area = 0.5 * np.cross(p[3:6] - p[0:3], p[6:9] - p[0:3])
    g = dot(u, area)
    wet = np.empty((4, 3))
    count = 0
    for k in range(3):
        a, b = p[3 * k : 3 * k + 3], p[3 * ((k + 1) % 3) : 3 * ((k + 1) % 3) + 3]
        da, db = h - dot(u, a), h - dot(u, b)
        if da > 0.0:
            wet[count] = a
            count += 1
        if (da > 0.0) != (db > 0.0):
            wet[count] = a + (da / (da - db)) * (b - a)
            count += 1
    size2 = dot(area, area)
    for k in range(1, count - 1):
        piece = 0.5 * np.cross(wet[k] - wet[0], wet[k + 1] - wet[0])
        share = dot(piece, area) / size2 if size2 > 0.0 else 0.0
        _add_triangle(wet[0], wet[k], wet[k + 1], g * share, u, h, out)


@compiled_inner
def _add_triangle(a: Array, b: Array, c: Array, g: float, u: Array, h: float, out: Array) -> None:
    """Add one wet triangle by its edge midpoints, exact to the second degree that is needed."""
    for m in range(3):
        x = 0.5 * (a + b) if m == 0 else (0.5 * (b + c) if m == 1 else 0.5 * (c + a))
        w = max(h - dot(u, x), 0.0)
        weight = g / 3.0
        out[0] -= weight * w
        out[1] -= weight
        for i in range(3):
            out[2 + i] -= weight * (w * x[i] + 0.5 * w * w * u[i])
            out[5 + i] -= weight * (x[i] + w * u[i])
            for j in range(3):
                cross = w * (u[i] * x[j] + x[i] * u[j]) + w * w * u[i] * u[j]
                out[8 + 3 * i + j] -= weight * (x[i] * x[j] + cross)
