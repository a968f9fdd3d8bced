"""One certain surface: what is proved for a cell holds at every attitude tried inside it."""

import numpy as np
import pool_tanks
import pytest
from links import arrays_of, balance_pipe

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.pools.settle import settle
from tanksolve.kernel.topology.merge_tree import grow_tree
from tanksolve.kernel.topology.mesh_graph import build_graph
from tanksolve.kernel.topology.minimum_cones import build_cones
from tanksolve.kernel.topology.one_surface import one_plane_over

MAKERS = ["holed_baffles", "hanging_and_weirs", "displacers", "nested_sumps", "cups", "leaning"]


def top_pit_or_saddle(graph, up):
    """Height, above the graph's origin, of the last event of the merge tree: one pool from there."""
    tree = grow_tree(graph, up, 1e-12 * graph.capacity)
    assert tree.lost == 0
    return tree.z[tree.birth].max()


@pytest.mark.parametrize("maker", MAKERS)
def test_a_proved_cell_has_one_pool_at_every_attitude_in_it(maker):
    vertices, faces = pool_tanks.arrays(getattr(pool_tanks, maker)())
    graph = build_graph(vertices, faces)
    tree = build_tree(vertices, faces)
    rng = np.random.default_rng(5)
    slope, width = rng.uniform(0, 0.8, 120), 10 ** rng.uniform(-3, -0.7, 120)
    heading = rng.uniform(0, 2 * np.pi, 120)
    cells = np.stack([slope, slope + width, heading, heading + width], axis=-1)
    up = up_from_slope_heading(cells[:, :2].mean(axis=1), cells[:, 2:].mean(axis=1))
    rims = [
        up_from_slope_heading(cells[:, i], cells[:, 2]) for i in (0, 1)
    ]  # it grows with both angles
    chords = np.max([np.linalg.norm(rim - up, axis=1) for rim in rims], axis=0)
    level = levels(tree, up, 10 ** rng.uniform(-4, -0.05, 120) * graph.capacity)[0]
    low = level - rng.uniform(0.0, 0.05, 120) * graph.size
    proved = one_plane_over(graph, build_cones(graph), up, chords, low)
    assert proved.any()
    assert not proved.all()
    for k in np.flatnonzero(proved):
        b0, b1, k0, k1 = cells[k]
        for _ in range(12):
            u = up_from_slope_heading(rng.uniform(b0, b1), rng.uniform(k0, k1))
            chord = np.linalg.norm(u - up[k])
            highest = low[k] - up[k] @ graph.origin + chord * graph.size
            assert top_pit_or_saddle(graph, u) <= highest + 1e-12


def test_parted_bays_are_not_proved():
    vertices, faces = pool_tanks.arrays(pool_tanks.hanging_and_weirs())
    graph = build_graph(vertices, faces)
    up = np.array([[0.0, 0.0, 1.0]])
    top = top_pit_or_saddle(graph, up[0]) + graph.origin[2]
    tiny = np.array([1e-9])
    assert one_plane_over(graph, build_cones(graph), up, tiny, np.array([top + 1e-6]))[0]
    assert not one_plane_over(graph, build_cones(graph), up, tiny, np.array([top - 1e-6]))[0]


def pieces_below(graph, up, low):
    """Pieces of the tank below a height, and pits above it, by the whole merge tree."""
    tree = grow_tree(graph, up, 0.0)
    birth = tree.z[tree.birth]
    over = np.where(tree.parent >= 0, birth[tree.parent], np.inf)
    return int(((birth < low) & (over >= low)).sum()), bool((birth[tree.left < 0] > low).any())


@pytest.mark.parametrize("maker", MAKERS)
def test_a_single_attitude_agrees_with_the_merge_tree(maker):
    vertices, faces = pool_tanks.arrays(getattr(pool_tanks, maker)())
    graph = build_graph(vertices, faces)
    rng = np.random.default_rng(11)
    up = rng.normal(size=(150, 3))
    up[:30] = np.eye(3)[rng.integers(0, 3, 30)] * rng.choice([-1, 1], 30)[:, None]
    up /= np.linalg.norm(up, axis=1)[:, None]
    low = rng.uniform(-1, 1, 150) * np.abs(graph.vertices).max()
    tiny = np.full(150, 1e-9)
    found = one_plane_over(graph, build_cones(graph), up, tiny, low + up @ graph.origin)
    truth = np.array(
        [pieces_below(graph, u, h) == (1, False) for u, h in zip(up, low, strict=True)]
    )
    # a level shelf passes for a pit until its rim is looked at: where heights tie, not all is proved
    assert not (found[:30] & ~truth[:30]).any()
    assert np.array_equal(found[30:], truth[30:])
    assert 0 < found[30:].sum() < 120


def test_a_pipe_joins_twin_tanks_where_it_is_wholly_below_the_level():
    """Mouths and run below: proved, and settled liquid stands so; run above, or a flap: not proved."""
    twin = pool_tanks.box((0, 0, 0), (1, 0.3, 0.4)) + pool_tanks.box((0, 0.7, 0), (1, 1, 0.4))
    vertices, faces = pool_tanks.arrays(twin)
    graph, tree = build_graph(vertices, faces), build_tree(vertices, faces)
    low_run = [(0.5, 0.3, 0.05), (0.5, 0.7, 0.05)]
    high_run = [low_run[0], (0.5, 0.4, 0.3), (0.5, 0.6, 0.3), low_run[1]]
    pipe, rise = arrays_of(balance_pipe(low_run)), arrays_of(balance_pipe(high_run))
    up = up_from_slope_heading(np.radians([0.0, 6.0, 60.0]), np.radians(90.0))
    level = levels(tree, up, 0.12)[0]
    chord = np.full(3, 1e-3)
    assert one_plane_over(graph, build_cones(graph), up, chord, level - 0.01, pipe).tolist() == [
        True,
        True,
        False,
    ]
    assert not one_plane_over(graph, build_cones(graph), up, chord, level - 0.01).any()
    assert not one_plane_over(graph, build_cones(graph), up, chord, level - 0.01, rise).any()
    ways = up_from_slope_heading(np.radians([0, 25, 25, 6]), np.radians([0, 270, 90, 90]))
    found = settle(graph, ways, 0.12, [[0.5, 0.1, 0.0], [0.5, 0.9, 0.0]], links=pipe)
    assert found.port_level[0, 3] == pytest.approx([level[1], level[1]], abs=1e-9)
