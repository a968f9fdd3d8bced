"""Links (flaps, pipes) over a cell of attitudes: how high liquid must stand to get through.

Liquid at a corner of the face straight below an in-mouth gets through once it stands above the sill, and
on from the face below the out-mouth. At another attitude of the cell the faces may be others. Where a face
is the one below its mouth for certain, its corners are all that counts; else the way leads over a corner
that all faces share that may be below it, or up to the mouth and down again, at the height of those of the
mouth's own places that may be the lowest. docs/theory/worst_state.md.
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
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["Passages", "passages"]

_HAIR = 4e-12  # of the tank's size: more than the rounding of heights


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
def _maybe_lowest(links: Links, ups: Array, station: int, hair: float) -> tuple[Bools, bool]:
    """Which rows of a station may have its lowest place somewhere in the cell; whether they are neighbours.

    A row is out once the greatest that another may be is below the least that it may be at every d_j.
    """
    first, last = links.first_ring[station], links.first_ring[station + 1]
    count = last - first
    low, high = np.empty((count, len(ups))), np.empty((count, len(ups)))
    for r in range(count):
        ring = links.rings[first + r]
        for j in range(len(ups)):
            v = ups[j]
            middle = v[0] * ring[0] + v[1] * ring[1] + v[2] * ring[2]
            one = v[0] * ring[3] + v[1] * ring[4] + v[2] * ring[5]
            two = v[0] * ring[6] + v[1] * ring[7] + v[2] * ring[8]
            # an ellipse's lowest place is concave along v: for what is below it, its centre counts
            high[r, j] = middle
            low[r, j] = middle - np.sqrt(one * one + two * two)
    keep = np.ones(count, np.bool_)
    for r in range(count):
        for other in range(count):
            below = other != r
            for j in range(len(ups)):
                below = below and high[other, j] < low[r, j] - hair
            if below:
                keep[r] = False
    runs = 0
    for r in range(count):
        runs += keep[r] and not keep[r - 1]
    return keep, runs <= 1


@compiled_inner
def _shared_corner(graph: MeshGraph, tree: MergeTree, near: Ints) -> int:
    """The lowest vertex that all of some faces have, or -1."""
    best = -1
    for k in range(3):
        v = graph.faces[near[0], k]
        in_all = True
        for face in near:
            in_all = in_all and v in (
                graph.faces[face, 0],
                graph.faces[face, 1],
                graph.faces[face, 2],
            )
        if in_all and (best < 0 or tree.z[v] < tree.z[best]):
            best = int(v)
    return best


@compiled_inner
def _raise_mouth(
    graph: MeshGraph,
    tree: MergeTree,
    grid: Grid,
    links: Links,
    up: Array,
    ups: Array,
    swing: float,
    station: int,
    under: int,
    height: Array,
) -> None:
    """Raise ``height`` (J,) to what must be climbed from the face under a mouth to that at another attitude.

    Nothing where only one face can be below the mouth. Else over a corner that all these faces share, or
    up to the mouth's own lowest place and down again.
    """
    first, last = links.first_ring[station], links.first_ring[station + 1]
    lowest, side_by_side = _maybe_lowest(links, ups, station, _HAIR * graph.size)
    near, count, sure = np.empty(len(graph.faces), np.int64), 1, True
    near[0] = under
    for r in range(first, last):
        if not lowest[r - first]:
            continue
        face = drop_from_point(graph, grid, links.inside[r])[0]
        if face < 0:
            sure = False
            continue
        below = floors_below(graph, tree, up, grid, links.inside[r], face, 0.0, swing)[0]
        for i in range(len(below)):
            if below[i] not in near[:count]:
                near[count] = below[i]
                count += 1
    if sure and count == 1:
        return
    shared = _shared_corner(graph, tree, near[:count]) if sure else -1
    if shared >= 0:
        _raise_to(height, ups, graph.vertices[shared])
        return
    for r in range(first, last):
        if lowest[r - first] or not side_by_side:
            _raise_to(height, ups, links.inside[r])


@compiled_inner
def passages(
    graph: MeshGraph,
    tree: MergeTree,
    grid: Grid,
    links: Links | None,
    up: Array,
    ups: Array,
    swing: float,
) -> Passages:
    """The links of a cell with the centre ``up``; swing : tangent of the cell's reach from it."""
    if links is None:
        none = np.empty((0, 2), np.int64)
        return Passages(none, none, np.empty(0), np.empty((0, len(ups))))
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
            _raise_mouth(graph, tree, grid, links, up, ups, swing, station, face[k, end], height[k])
        if face[k].min() < 0:
            face[k] = -1
    return Passages(face, lowest, sill, height)
