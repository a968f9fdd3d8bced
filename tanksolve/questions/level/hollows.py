"""Hollows of a tank, as the merge tree of one direction knows them, and what fills them to a height."""

import numpy as np

from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, MergeTree, grow_tree
from tanksolve.model.tank import Tank

__all__ = ["least_to_reach", "top_of"]


def top_of(tree: MergeTree, node: int, height: float) -> int:
    """What a node of the merge tree is part of once liquid stands at ``height`` [m]."""
    while tree.parent[node] >= 0 and tree.z[tree.birth[tree.parent[node]]] < height:
        node = int(tree.parent[node])
    return node


def least_to_reach(tank: Tank, height: float) -> float:
    """Volume [m³] below which no liquid on level ground can stand at ``height`` [m], tank frame.

    Where hollows do not join below that height one of them may hold it all: 0 is told, which is safe.
    """
    up = np.array([0.0, 0.0, 1.0])
    tree = grow_tree(tank.graph, up, NEGLIGIBLE)
    within = height - float(up @ tank.graph.origin)
    leaves = [k for k in range(len(tree.birth)) if tree.left[k] < 0]
    wet = {top_of(tree, k, within) for k in leaves if tree.z[tree.pit[k]] < within}
    if len(wet) > 1:
        return 0.0
    return float(volumes(tank.tree, up[None], np.array([height]))[0][0])
