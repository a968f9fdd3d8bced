"""Volume below a plane and everything else about the liquid there, without cutting the mesh.

The field ``(h - up·x)+ up`` has divergence -1 below the plane and vanishes on it, so by the
divergence theorem the volume is a sum over the faces alone; no cap is ever built:

    V(up, h) = - sum over faces of (up·a) phi,    phi = mean over the face of (h - up·x)+

With vertex heights sorted z0 <= z1 <= z2 and A = h - z0, B = h - z1, C = z2 - h, phi is a cubic in
pieces, written so that nothing cancels. As a function of h, V is an exact cubic between vertex
heights; its three derivatives come at no cost and the level solve uses them.
:mod:`tanksolve.kernel.capacity.volumes_plain` is the same mathematics in plain numpy, to be read and
to test against. Derivation: docs/theory/capacity.md.
"""

from typing import NamedTuple

import numba
import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.moment_sums import dot, moment_sums
from tanksolve.kernel.capacity.tree import LANES, FaceTree
from tanksolve.kernel.compiled import compiled, compiled_inner, compiled_sums
from tanksolve.kernel.threads import WORTH_SHARING, in_threads
from tanksolve.kernel.vectors import whole

Array = NDArray[np.float64]

__all__ = ["Moments", "cubic_at", "moments", "visited", "volumes"]

_STRETCH = 1024  # nodes whose faces (300 kB) stay in a core's cache while many planes pass
_PLANES = 512  # that take turns on one stretch of the tree


class Moments(NamedTuple):
    """What lies below each of D planes; tank frame, SI.

    Attributes
    ----------
    volume : (D,) [m³]
    area : (D,) [m²]   free-surface area, dV/dh.
    liquid_centroid : (D, 3) [m]   NaN where there is no liquid.
    surface_centroid : (D, 3) [m]   NaN where there is no free surface.
    surface_second : (D, 3, 3) [m⁴]   integral of (x - c)(x - c)^T over the free surface, about its
        own centroid c: the free-surface effect on stability.
    """

    volume: Array
    area: Array
    liquid_centroid: Array
    surface_centroid: Array
    surface_second: Array


def volumes(tree: FaceTree, up: ArrayLike, height: ArrayLike) -> tuple[Array, Array]:
    """Volume below, and free-surface area in, each of D planes ``up · x = height``.

    up : (D, 3) float [-]   unit vectors opposite to gravity, tank frame
    height : (D,) float [m]
    Returns (D,) [m³] and (D,) [m²]. At a level face the area is the one just below.

    References: divergence theorem; the piecewise cubic is that of a linear field on a triangle.
    """
    up, height = _planes(up, height)
    threads = numba.get_num_threads() if len(up) >= WORTH_SHARING else 1
    groups = threads * -(-len(up) // (_PLANES * threads))
    volume, area, place = np.zeros(len(up)), np.zeros(len(up)), np.zeros(len(up), np.int64)
    shifted = height - up @ tree.origin
    least = groups if threads == 1 else 1
    in_threads(
        _volumes, groups, groups, tree, up, shifted, volume, area, place, least=max(1, least)
    )
    return volume, area


def moments(tree: FaceTree, tensors: Array, up: ArrayLike, height: ArrayLike) -> Moments:
    """Volume, centroids and second moments below each of D planes; see :class:`Moments`.

    tensors : (N, 27)   from :func:`tanksolve.kernel.capacity.tree.patch_tensors`, built once for a tree.
    """
    up, height = _planes(up, height)
    raw = moment_sums(tree, tensors, up, height - up @ tree.origin)
    volume, area = raw[:, 0], raw[:, 1]
    liquid = raw[:, 2:5] / np.where(volume != 0.0, volume, np.nan)[:, None]
    surface = raw[:, 5:8] / np.where(area != 0.0, area, np.nan)[:, None]
    about_centroid = area[:, None, None] * np.einsum("di,dj->dij", surface, surface)
    second = raw[:, 8:17].reshape(-1, 3, 3) - about_centroid
    return Moments(volume, area, liquid + tree.origin, surface + tree.origin, second)


def visited(tree: FaceTree, up: ArrayLike, height: ArrayLike) -> NDArray[np.int64]:
    """Count the tree nodes that each plane visits (D,), to show how the cost grows with faces."""
    up, height = _planes(up, height)
    return _visited(tree, up, height - up @ tree.origin)


def _planes(up: ArrayLike, height: ArrayLike) -> tuple[Array, Array]:
    up = np.ascontiguousarray(np.atleast_2d(np.asarray(up, np.float64)))
    height = np.array(np.broadcast_to(np.asarray(height, np.float64), len(up)), order="C")
    if up.shape[1:] != (3,):
        raise ValueError(f"up must be (D, 3), not {up.shape}")
    return up, height


@compiled_inner
def cubic_at(
    tree: FaceTree, x: float, y: float, z: float, h: float
) -> tuple[float, float, float, float]:
    """V, dV/dh, d²V/dh², d³V/dh³ for one plane; ``h`` relative to the tree's origin."""
    _, v0, v1, v2, v3 = _walk(tree, x, y, z, h, whole(0), len(tree.skip))
    return v0, v1, v2, v3


@compiled
def _walk(
    tree: FaceTree, x: float, y: float, z: float, h: float, node: int, end: int
) -> tuple[int, float, float, float, float]:
    """Walk the tree from ``node`` to ``end``: where to go on, and what was added on the way."""
    boxes, skip, first, flux, blocks = tree.boxes, tree.skip, tree.first, tree.flux, tree.blocks
    ax, ay, az = abs(x), abs(y), abs(z)
    v0 = v1 = v2 = v3 = 0.0
    while node < end:
        box = boxes[node]
        over = h - (x * box[0] + y * box[1] + z * box[2])
        if abs(over) < ax * box[3] + ay * box[4] + az * box[5]:  # the plane crosses the box
            if first[node] >= 0:
                d0, d1, d2, d3 = _block(blocks[first[node] // LANES], x, y, z, h)
                v0, v1, v2, v3 = v0 - d0, v1 - d1, v2 - d2, v3 - d3
            node += 1
            continue
        if over > 0.0:  # all of the patch is below
            f = flux[node]
            upward = x * f[0] + y * f[1] + z * f[2]
            v0 += x * x * f[3] + y * y * f[4] + z * z * f[5] - over * upward
            v0 += 2.0 * (y * z * f[6] + x * z * f[7] + x * y * f[8])
            v1 -= upward
        node = skip[node]
    return node, v0, v1, v2, v3


@compiled_sums
def _block(p: Array, x: float, y: float, z: float, h: float) -> tuple[float, float, float, float]:
    """Sums over a block's faces of (up·a) phi and of its three derivatives in h."""
    v0 = v1 = v2 = v3 = 0.0
    for i in range(LANES):
        z0 = x * p[0, i] + y * p[1, i] + z * p[2, i]
        z1 = x * p[3, i] + y * p[4, i] + z * p[5, i]
        z2 = x * p[6, i] + y * p[7, i] + z * p[8, i]
        ex, ey, ez = p[3, i] - p[0, i], p[4, i] - p[1, i], p[5, i] - p[2, i]
        fx, fy, fz = p[6, i] - p[0, i], p[7, i] - p[1, i], p[8, i] - p[2, i]
        g = 0.5 * (x * (ey * fz - ez * fy) + y * (ez * fx - ex * fz) + z * (ex * fy - ey * fx))
        q, d0, d1, d2, d3 = _mean_depth(z0, z1, z2, h)
        v0 += g * q * d0 / 3.0
        v1 += g * q * d1
        v2 += g * q * d2
        v3 += g * q * d3
    return v0, v1, v2, v3


@compiled_inner
def _mean_depth(
    z0: float, z1: float, z2: float, h: float
) -> tuple[float, float, float, float, float]:
    """Factor q, and 3 phi and the three derivatives of phi, each divided by q.

    All four cases are worked out and one is chosen, so that there is no branch to guess wrong and
    the compiler can serve several faces with one instruction; and there is only one division.
    """
    low, high = min(z0, z1), max(z0, z1)
    low, z1, high = min(low, z2), max(low, min(high, z2)), max(high, z2)
    a, b, c = h - low, h - z1, high - h
    d0, d1, d2, d3, below = 3.0 * h - (low + z1 + high), 1.0, 0.0, 0.0, 1.0
    if c > 0.0:
        d0, d1 = c * (a * a + a * b + b * b) + a * b * (a + b), c * (a + b) + a * b
        d2, d3, below = 2.0 * c, -2.0, (high - low) * (high - z1)
    if b <= 0.0:
        d0, d1, d2, d3, below = a * a * a, a * a, 2.0 * a, 2.0, (z1 - low) * (high - low)
    if a <= 0.0:
        d0, d1, d2, d3, below = 0.0, 0.0, 0.0, 0.0, 1.0
    return 1.0 / below, d0, d1, d2, d3


@compiled
def _volumes(
    first: int,
    last: int,
    groups: int,
    tree: FaceTree,
    up: Array,
    height: Array,
    volume: Array,
    area: Array,
    place: NDArray[np.int64],
) -> None:
    """Volumes and areas of D planes, in ``groups`` that each take one stretch of the tree at a time.

    A walk can be broken off and taken up again anywhere. So all planes of a group pass one stretch
    of the tree before any goes on: a large tree is read from memory once a group, not once a plane.
    """
    count, nodes = len(up), len(tree.skip)
    for group in range(first, last):
        low, high = count * group // groups, count * (group + 1) // groups
        for start in range(0, nodes, _STRETCH):
            end = min(start + _STRETCH, nodes)
            for d in range(low, high):
                if place[d] < end:
                    place[d], v, s, _, _ = _walk(
                        tree, up[d, 0], up[d, 1], up[d, 2], height[d], place[d], end
                    )
                    volume[d] += v
                    area[d] += s


@compiled
def _visited(tree: FaceTree, up: Array, height: Array) -> NDArray[np.int64]:
    counts = np.zeros(len(up), np.int64)
    for d in range(len(up)):
        node = 0
        while node < len(tree.skip):
            counts[d] += 1
            box = tree.boxes[node].astype(np.float64)
            over = height[d] - dot(up[d], box[:3])
            if abs(over) < dot(np.abs(up[d]), box[3:]) and tree.first[node] < 0:
                node += 1
            else:
                node = tree.skip[node]
    return counts
