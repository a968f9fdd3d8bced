"""Which nodes neighbouring cut cells share: liquid on both sides of a plate keeps its own.

Cells are parts of the bricks of one grid. Two parts in neighbouring bricks share the nine nodes of
the face between them where liquid stands on both sides of some of it. A brick that a plate
divides holds two parts, each with nodes of its own (phantom nodes: N. Moës, J. Dolbow and
T. Belytschko, Int. J. Numer. Meth. Engng 46 (1999) 131-150, is the idea; from memory).
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray
from scipy.sparse import coo_array
from scipy.sparse.csgraph import connected_components

from tanksolve.kernel.waves.cell_matrices import NODES

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["CutMesh", "shared_nodes"]

_ON = 1e-8  # of a brick: a triangle lies on a face within this
_INSIDE = np.array([[0.32, 0.27, 0.41], [0.71, 0.17, 0.12], [0.11, 0.66, 0.23], [0.2, 0.09, 0.71]])


@dataclass(frozen=True, eq=False)
class CutMesh:
    """Wet parts of the bricks of a grid.

    places : (n, 3) int, which brick along each axis; centres, sizes : (n, 3) float [m];
    corners : (T, 3, 3) float, outward triangles of all parts, in their brick's coordinates from
    -1 to 1; owner : (T,) int, sorted, the part of each triangle.
    """

    places: Ints
    centres: Array
    sizes: Array
    corners: Array
    owner: Ints

    def on_face(self, axis: int, side: float) -> Array:
        """Whether each triangle lies on its brick's face at ``side`` (-1 or 1) of an axis (T,)."""
        return np.asarray(np.all(np.abs(self.corners[:, :, axis] - side) < 2.0 * _ON, axis=1))


def shared_nodes(mesh: CutMesh) -> Ints:
    """Number of the unknown at each node of each part (n, 27)."""
    count = len(mesh.places)
    at: dict[tuple[int, ...], list[int]] = {}
    for part, place in enumerate(mesh.places.tolist()):
        at.setdefault(tuple(place), []).append(part)
    ones, others = [np.arange(27 * count)], [np.arange(27 * count)]
    for axis in range(3):
        high, low = (_by_part(mesh, axis, side) for side in (1.0, -1.0))
        nodes = [np.flatnonzero(NODES[:, axis] == side) for side in (2, 0)]
        for place, parts in at.items():
            beyond = (*place[:axis], place[axis] + 1, *place[axis + 1 :])
            behind = at.get(beyond, ())
            alone = len(parts) == len(behind) == 1
            for one in parts:
                for other in behind:
                    met = one in high and other in low
                    if met and (alone or _touch(high[one], low[other])):
                        ones.append(27 * one + nodes[0])
                        others.append(27 * other + nodes[1])
    pairs = np.concatenate(ones), np.concatenate(others)
    graph = coo_array((np.ones(len(pairs[0])), pairs), shape=(27 * count, 27 * count))
    return np.asarray(connected_components(graph, directed=False)[1], np.int64).reshape(-1, 27)


def _by_part(mesh: CutMesh, axis: int, side: float) -> dict[int, Array]:
    """Triangles (K, 3, 2) of each part that touches a face of its brick, in the face's plane."""
    use = np.flatnonzero(mesh.on_face(axis, side))
    flat = np.delete(mesh.corners[use], axis, axis=2)
    owner = mesh.owner[use]
    bounds = np.flatnonzero(np.diff(owner, prepend=-1, append=-2))
    return {int(owner[a]): flat[a:b] for a, b in pairwise(bounds) if b > a}


def _touch(first: Array, second: Array) -> bool:
    """Whether two sets of triangles in one plane overlap: a point inside one lies in the other."""
    return _within(first, second) or _within(second, first)


def _within(first: Array, second: Array) -> bool:
    points = np.einsum("kb,tbc->tkc", _INSIDE, first).reshape(-1, 1, 2)
    sides = []
    for k in range(3):
        a, b = second[:, k], second[:, (k + 1) % 3]
        along, to = (b - a)[None], points - a[None]
        sides.append(along[..., 0] * to[..., 1] - along[..., 1] * to[..., 0])
    turns = np.stack(sides)
    return bool((np.all(turns >= 0.0, axis=0) | np.all(turns <= 0.0, axis=0)).any())
