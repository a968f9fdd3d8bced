"""What pools look like, and how the tank parts its liquid in one direction: for pictures.

:func:`pool_shapes` gives each pool at rest as a closed mesh; :func:`merge_record` gives the merge
tree: where pools begin, where they join, and what they hold until then.
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.pools.pool_shape import PoolShape, node_of_pool, pool_shape, volume_to
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.model.tank import Tank
from tanksolve.questions.level.pools import PoolsAt

Array = NDArray[np.float64]

__all__ = ["Basin", "MergeRecord", "liquid_centroid", "merge_record", "pool_shapes"]


@dataclass(frozen=True)
class Basin:
    """One node of the merge tree: a place where liquid gathers before it joins its neighbour's.

    Attributes
    ----------
    pit_m : its lowest point, tank frame [m].
    from_height_m : where it begins, along up from the tank frame's origin [m]: at its pit, or at
        the saddle where two basins join into it.
    to_height_m : the saddle where it joins another basin, or the top of the tank [m].
    holds_m3 : what it holds, from its lowest pit up to there [m³].
    joins : place in the list of the basin that it joins into; None for the whole tank.
    made_of : places in the list of the two basins that join into it; none for a pit.
    pools : places in the list of pools of those that fill this basin, a part of it left out.
    """

    pit_m: tuple[float, float, float]
    from_height_m: float
    to_height_m: float
    holds_m3: float
    joins: int | None
    made_of: tuple[int, ...]
    pools: tuple[int, ...]


@dataclass(frozen=True)
class MergeRecord:
    """The merge tree of one attitude; basins in an order in which parts come before the whole."""

    up: tuple[float, float, float]
    basins: tuple[Basin, ...]


def pool_shapes(tank: Tank, settled: PoolsAt) -> tuple[PoolShape, ...]:
    """Each pool of ``settled``, in its order, as a closed mesh; tank frame [m]."""
    tree = _tree(tank, settled)
    shift = float(np.array(settled.up) @ tank.graph.origin)
    return tuple(
        pool_shape(tank.graph, tree, node, pool.level_height_m - shift)
        for node, pool in zip(_nodes(tank, tree, settled), settled.pools, strict=True)
    )


def liquid_centroid(tank: Tank, settled: PoolsAt) -> tuple[float, float, float]:
    """Centre of all the liquid, each pool where it stands [m], tank frame: tetrahedra from one point."""
    volume, moment = 0.0, np.zeros(3)
    for shape in pool_shapes(tank, settled):
        a, b, c = np.moveaxis(shape.vertices[shape.faces] - tank.centre, 1, 0)
        six = np.einsum("fi,fi->f", a, np.cross(b, c))
        volume += six.sum() / 6.0
        moment += six @ (a + b + c) / 24.0
    x, y, z = (float(c) for c in tank.centre + moment / volume)
    return x, y, z


def merge_record(tank: Tank, settled: PoolsAt) -> MergeRecord:
    """The merge tree at the attitude of ``settled``, with the basins that its pools fill."""
    tree, graph, up = _tree(tank, settled), tank.graph, np.array(settled.up)
    shift = float(up @ graph.origin)
    filled = _nodes(tank, tree, settled)
    basins = []
    for node in range(len(tree.birth)):
        above = int(tree.parent[node])
        top = float(tree.z.max() if above < 0 else tree.z[tree.birth[above]])
        x, y, z = (float(c) for c in graph.vertices[tree.pit[node]] + graph.origin)
        parts = (int(tree.left[node]), int(tree.right[node]))
        basins.append(
            Basin(
                pit_m=(x, y, z),
                from_height_m=float(tree.z[tree.birth[node]]) + shift,
                to_height_m=top + shift,
                holds_m3=volume_to(graph, tree, up, node, top),
                joins=None if above < 0 else above,
                made_of=() if parts[0] < 0 else parts,
                pools=tuple(k for k, own in enumerate(filled) if own == node),
            )
        )
    return MergeRecord(settled.up, tuple(basins))


def _tree(tank: Tank, settled: PoolsAt) -> MergeTree:
    return grow_tree(tank.graph, np.array(settled.up), NEGLIGIBLE)


def _nodes(tank: Tank, tree: MergeTree, settled: PoolsAt) -> list[int]:
    up = np.array(settled.up)
    shift = float(up @ tank.graph.origin)
    return [
        node_of_pool(
            tank.graph, tree, up, np.array(pool.pit_m), pool.level_height_m - shift, pool.volume_m3
        )
        for pool in settled.pools
    ]
