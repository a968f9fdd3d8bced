"""Links (flaps, pipes) over a cell of attitudes: how high liquid must stand to get through.

Liquid at a corner of the face straight below an in-mouth gets through once it stands above the sill, and
on from the face below the out-mouth. At another attitude of the cell the faces may be others. Where a face
is the one below its mouth for certain, its corners are all that counts; else the way leads up to the
mouth and down again, at the height of the mouth's own places. docs/theory/worst_state.md.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.wet_triangle import lowest_corner
from tanksolve.kernel.compiled import compiled_inner
from tanksolve.kernel.pools.links import Links, lowest_point, mouth_below, sill_height
from tanksolve.kernel.topology.drop_ray import Grid, drop_from_point
from tanksolve.kernel.topology.floors_below import floors_below
from tanksolve.kernel.topology.merge_tree import MergeTree
from tanksolve.kernel.topology.mesh_graph import MeshGraph

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Passages", "passages"]


class Passages(NamedTuple):
    """K links at one cell.

    Attributes
    ----------
    face, lowest : (K, 2) int   the face straight below where a link lets in and out at the centre, and
        its lowest corner; -1 for a link that is left out, which only adds states.
    sill : (K,) float [m]   at the centre.
    height : (K, J) float [m]   at the d_j: at least the sill, and whatever else must be climbed.
    """

    face: Ints
    lowest: Ints
    sill: Array
    height: Array


@compiled_inner
def _raise_to(height: Array, ups: Array, point: Array) -> None:
    """Raise heights (J,) to those of a point (3,)."""
    for j in range(len(ups)):
        along = ups[j, 0] * point[0] + ups[j, 1] * point[1] + ups[j, 2] * point[2]
        height[j] = max(height[j], along)


@compiled_inner
def passages(
    graph: MeshGraph,
    tree: MergeTree,
    grid: Grid,
    links: Links,
    up: Array,
    ups: Array,
    swing: float,
) -> Passages:
    """The links of a cell with the centre ``up``; swing : tangent of the cell's reach from it."""
    count = len(links.first_station) - 1
    face, lowest = np.full((count, 2), -1, np.int64), np.full((count, 2), -1, np.int64)
    sill, height = np.empty(count), np.full((count, len(ups)), -np.inf)
    for k in range(count):
        sill[k] = sill_height(links, k, up)
        for station in range(links.first_station[k], links.first_station[k + 1]):
            _raise_to(height[k], ups, lowest_point(links, station, up))
        for end in range(2):
            station = links.first_station[k + end] - end
            face[k, end] = drop_from_point(graph, grid, mouth_below(links, station, up))[0]
            if face[k, end] < 0:
                continue
            lowest[k, end] = lowest_corner(graph.faces, tree.rank, face[k, end])
            first, last = links.first_ring[station], links.first_ring[station + 1]
            sure = True
            for r in range(first, last):
                place = links.inside[r]
                under = drop_from_point(graph, grid, place)[0]
                if under == face[k, end]:
                    near = floors_below(graph, tree, up, grid, place, under, 0.0, swing)[0]
                    sure = sure and len(near) == 1
                else:
                    sure = False
            if not sure:
                for r in range(first, last):
                    _raise_to(height[k], ups, links.inside[r])
        if face[k].min() < 0:
            face[k] = -1
    return Passages(face, lowest, sill, height)
