"""Whether a closed surface is convex, from its edges alone.

A connected closed surface that is convex along every edge is convex (Tietze and Nakajima, from
memory), so no face need be held against all others.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled
from tanksolve.kernel.topology.mesh_graph import MeshGraph

__all__ = ["is_convex", "surely_convex"]

_BEND = 1e-9  # rad per length of the tank, by which a wall may be dished
_ROUNDING = 4e-15  # of the tank's size
_FEW = 1_000_000  # faces times corners: quick without compiled code


def surely_convex(vertices: NDArray[np.float64], faces: NDArray[np.int64]) -> bool:
    """Whether a closed mesh is convex since no corner (N, 3) [m] lies before any face (F, 3).

    False also where that is not known: a large mesh, or one that bends by more than rounding. A box or
    a prism so needs neither the graph of its mesh nor the code that builds it.
    """
    if len(vertices) * len(faces) > _FEW:
        return False
    points = vertices - 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    a, b, c = (points[faces[:, k]] for k in range(3))
    area = np.cross(b - a, c - a)
    size = np.linalg.norm(area, axis=1)
    lift = area @ points.T - np.einsum("fi,fi->f", area, a)[:, None]
    reach = float(np.sqrt(np.einsum("vi,vi->v", points, points).max()))
    return bool((lift <= (size * _ROUNDING * reach)[:, None]).all())


@compiled
def is_convex(graph: MeshGraph) -> bool:
    """Whether no edge is reflex and all is of one piece.

    A flat wall of many faces bends by rounding. What is let pass at one edge grows with the square
    of the edge, so that it adds up to a dish no deeper than about 1e-9 of the tank's size.
    """
    reached, stack = np.zeros(len(graph.faces), np.bool_), np.empty(len(graph.faces), np.int32)
    reached[0], stack[0], depth, found = True, 0, 1, 0
    while depth:
        depth -= 1
        face = stack[depth]
        found += 1
        corner, area = graph.vertices[graph.faces[face, 0]], graph.areas[face]
        size = np.sqrt(area[0] ** 2 + area[1] ** 2 + area[2] ** 2)
        for k in range(3):
            other = graph.across[face, k]
            if not reached[other]:
                reached[other] = True
                stack[depth] = other
                depth += 1
            for c in range(3):
                point = graph.vertices[graph.faces[other, c]]
                lift = way = 0.0
                for i in range(3):
                    lift += area[i] * (point[i] - corner[i])
                    way += (point[i] - corner[i]) ** 2
                if lift > size * (_BEND * way / graph.size + _ROUNDING * graph.size):
                    return False
    return found == len(graph.faces)
