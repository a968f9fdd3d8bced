"""A pool as a closed body: its volume, and the outline of its surface, by hand in two bays."""

import numpy as np
import pytest
from pool_tanks import arrays, box

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.pool_shape import node_of_pool, pool_shape, volume_to
from tanksolve.kernel.topology.edges import face_volumes
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, grow_tree
from tanksolve.kernel.topology.mesh_graph import build_graph

WIDE, AT, WALL = 0.4, 0.6, 0.1
CORNER = np.array([0.0, 0.0, 0.0])


def two_bays():
    weir = box((AT, -1.0, -1.0), (AT + 0.01, 1.0, WALL))
    return build_graph(*arrays(box((0.0, 0.0, 0.0), (1.0, WIDE, 0.4)) - weir))


def area(loop, up):
    """Area [m²] that a loop goes round, positive where it runs counter-clockwise seen from above."""
    return 0.5 * np.cross(loop, np.roll(loop, -1, axis=0)).sum(axis=0) @ up


@pytest.mark.parametrize("slope", [0.0, 5.0])
def test_a_bays_pool_under_a_plane(slope):
    """Level 50 mm deep, or a wedge that ends 0.4 m up the floor: its volume, its surface."""
    graph, up = two_bays(), up_from_slope_heading(np.radians(slope), 0.0)
    tan = np.tan(np.radians(slope))
    depth = 0.05 if slope == 0.0 else 0.4 * tan  # at x = 0, the low end
    volume = WIDE * (AT * depth if slope == 0.0 else 0.5 * 0.4 * depth)
    surface = WIDE * (AT if slope == 0.0 else 0.4) / up[2]
    height = depth * up[2] - graph.origin @ up
    tree = grow_tree(graph, up, NEGLIGIBLE)
    node = node_of_pool(graph, tree, up, CORNER, height, volume)
    assert volume_to(graph, tree, up, node, height) == pytest.approx(volume, rel=1e-12)
    shape = pool_shape(graph, tree, node, height)
    held = face_volumes(shape.vertices, shape.faces, np.zeros(3)).sum()
    assert held == pytest.approx(volume, rel=1e-12)
    assert sum(area(loop, up) for loop in shape.surface) == pytest.approx(surface, rel=1e-12)
    assert np.concatenate(shape.surface) @ up == pytest.approx(depth * up[2])
    assert shape.vertices[:, 0].max() <= AT + 1e-12
    top = shape.vertices[shape.faces[shape.walls :]]
    assert top @ up == pytest.approx(depth * up[2])


def test_a_full_pool_ends_at_the_weir_and_both_bays_are_one_pool_over_it():
    graph, up = two_bays(), np.array([0.0, 0.0, 1.0])
    tree = grow_tree(graph, up, NEGLIGIBLE)
    crest = WALL - graph.origin[2]
    near, both = WIDE * AT * WALL, WIDE * 0.99 * WALL
    one = node_of_pool(graph, tree, up, CORNER, crest, near)
    assert pool_shape(graph, tree, one, crest + 0.05).vertices[:, 0].max() <= AT + 1e-12
    assert volume_to(graph, tree, up, one, crest) == pytest.approx(near)
    joined = node_of_pool(graph, tree, up, CORNER, crest, both)
    assert joined != one
    over = node_of_pool(graph, tree, up, CORNER, crest + 0.1, both + WIDE * 0.1)
    shape = pool_shape(graph, tree, over, crest + 0.1)
    assert face_volumes(shape.vertices, shape.faces, CORNER).sum() == pytest.approx(
        both + 0.1 * WIDE
    )
    with pytest.raises(ValueError, match="no pit"):
        node_of_pool(graph, tree, up, np.array([0.0, 0.0, 0.3]), crest, near)
