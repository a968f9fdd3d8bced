"""Pools of a plane: against the oracle, against hand-made cases, and the laws they must keep."""

import numpy as np
import pytest

from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.kernel.topology.drop_ray import drop_from_point, grid_for
from tanksolve.kernel.topology.merge_tree import NEGLIGIBLE, grow_tree
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.campaign_pools import cases, difference
from tests.pool_tanks import TANKS, arrays, box, cups, displacers, egg_crate, holed_baffles

UP = np.array([0.0, 0.0, 1.0])


def graph_of(solid):
    return build_graph(*arrays(solid))


def unit(*xyz):
    return np.array(xyz) / np.linalg.norm(xyz)


def test_a_sample_of_the_campaign_agrees_with_the_oracle():
    gaps = [difference(solid, graph, plane) for _, solid, graph, plane in cases(96, seed=20)]
    assert sum(pools > 1 for _, pools, _ in gaps) > 10
    assert [words for gap, _, words in gaps if gap > 1e-9] == []


def test_bays_between_walls_are_pools_until_the_lowest_opening():
    tank = box((0, 0, 0), (0.9, 0.5, 0.4))
    tank -= box((0.2, -1, -1), (0.3, 1, 0.1)) + box((0.6, -1, -1), (0.7, 1, 0.2))
    pools = pools_below(graph_of(tank), np.tile(UP, (3, 1)), [0.05, 0.15, 0.3])
    assert pools.number.tolist() == [3, 2, 1]
    assert np.sort(pools.volume[0]) == pytest.approx([0.005, 0.005, 0.0075], rel=1e-12)
    both = 0.5 * 0.15 * 0.6 - 0.5 * 0.1 * 0.1
    assert np.sort(pools.volume[1, :2]) == pytest.approx([0.015, both], rel=1e-12)
    assert np.sort(pools.area[0]) == pytest.approx([0.1, 0.1, 0.15], rel=1e-12)


def test_the_saddle_is_the_lower_edge_of_the_hole():
    tank = box((0, 0, 0), (0.4, 0.2, 0.2)) - (
        box((0.2, -1, -1), (0.21, 1, 1)) - box((0.1, 0.05, 0.07), (0.3, 0.1, 0.12))
    )
    tree = grow_tree(graph_of(tank), UP, NEGLIGIBLE)
    assert len(tree.birth) == 3  # two pits and one saddle; a level floor is one pit
    assert tree.parent.tolist() == [2, 2, -1]
    assert tree.z[tree.birth[2]] + 0.1 == pytest.approx(0.07, abs=1e-15)


def test_a_solid_standing_free_takes_its_volume_from_the_pool_around_it():
    tank = box((0, 0, 0), (1, 1, 1)) - box((0.2, 0.2, 0.2), (0.6, 0.6, 0.4))
    pools = pools_below(graph_of(tank), UP, [0.5])
    assert pools.number.tolist() == [1]
    assert pools.volume[0, 0] == pytest.approx(0.5 - 0.032, rel=1e-13)


def test_a_cup_within_a_cup_holds_a_pool_within_a_pool():
    graph = graph_of(cups())
    inside_small = [0.15, 0.15, 0.24]
    inside_cup = [0.08, 0.08, 0.24]
    outside = [0.55, 0.35, 0.24]
    under_bell = [0.34, 0.14, 0.24]
    found = pools_below(graph, UP, 0.24, [inside_small, inside_cup, outside, under_bell])
    assert found.number[0] == 3
    small, cup, sea, bell = found.standing[0]
    assert len({small, cup, sea}) == 3
    assert bell == sea
    assert found.volume[0, small] == pytest.approx(0.08 * 0.08 * 0.08, rel=1e-12)
    ring = 0.16**2 * 0.12 - 0.1**2 * (0.24 - 0.15) - 0.0
    assert found.volume[0, cup] == pytest.approx(ring, rel=1e-12)


def test_two_cells_that_touch_along_an_edge_do_not_share_liquid():
    a, fa = arrays(box((0, 0, 0), (1, 1, 1)))
    b, fb = arrays(box((1, 1, 0), (2, 2, 0.5)))
    both, index = np.unique(np.vstack([a, b]), axis=0, return_inverse=True)
    faces = index.reshape(-1)[np.vstack([fa, fb + len(a)])]
    pools = pools_below(build_graph(both, faces), UP, 0.25)
    assert pools.number.tolist() == [2]
    assert pools.volume[0] == pytest.approx([0.25, 0.25])


@pytest.mark.parametrize("up", [UP, unit(1, 0, 1), unit(0, 1, 1), unit(1, 1, 1), unit(1, 0, 0)])
def test_level_floors_and_edge_on_walls_make_no_spurious_pits(up):
    tank = box((0, 0, 0), (0.8, 0.8, 0.4))
    for x in np.linspace(0.1, 0.7, 7):  # a roof and a wall cut into many triangles
        tank -= box((x, 0.1, 0.35), (x + 0.02, 0.7, 1)) + box((x, 0.79, -1), (x + 0.02, 1, 0.3))
    count = len(grow_tree(graph_of(tank), np.asarray(up, float), NEGLIGIBLE).birth)
    assert count == 1


@pytest.mark.parametrize("name", TANKS)
def test_pools_sum_to_the_volume_below_the_plane_and_turn_with_the_tank(name):
    solid = TANKS[name]()
    random = np.random.default_rng(5)
    up = random.normal(size=(20, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    vertices, faces = arrays(solid)
    z = up @ vertices.T
    height = z.min(axis=1) + random.uniform(0.05, 0.95, 20) * np.ptp(z, axis=1)
    pools = pools_below(build_graph(vertices, faces), up, height)
    whole = volumes(build_tree(vertices, faces), up, height)
    assert np.nansum(pools.volume, axis=1) == pytest.approx(whole[0], rel=1e-12)
    assert np.nansum(pools.area, axis=1) == pytest.approx(whole[1], rel=1e-9)
    turn = np.linalg.qr(random.normal(size=(3, 3)))[0]
    turn *= np.sign(np.linalg.det(turn))
    turned = pools_below(
        build_graph(vertices @ turn.T + 3.0, faces),
        up @ turn.T,
        height + 3.0 * (up @ turn.T).sum(axis=1),
    )
    assert turned.number.tolist() == pools.number.tolist()
    for a, b in zip(pools.volume, turned.volume, strict=True):
        assert np.sort(a) == pytest.approx(np.sort(b), rel=1e-9, nan_ok=True)


def test_the_area_is_the_slope_of_the_volume():
    graph = graph_of(egg_crate())
    up = unit(0.2, -0.1, 1)
    h, step = 0.15, 1e-6
    low, mid, high = (pools_below(graph, up, h + d) for d in (-step, 0.0, step))
    assert mid.number[0] > 3
    slope = (high.volume[0] - low.volume[0]) / (2 * step)
    assert mid.area[0] == pytest.approx(slope, rel=1e-6)


def test_a_drop_along_shared_edges_always_lands():
    graph = graph_of(holed_baffles())
    random = np.random.default_rng(3)
    turn = np.linalg.qr(random.normal(size=(3, 3)))[0]
    turned = graph._replace(vertices=graph.vertices @ turn.T)
    for mesh, up in ((graph, UP), (turned, turn @ UP)):
        # the tree's boxes do not turn with the vertices: rebuild for the turned mesh
        mesh = build_graph(mesh.vertices, mesh.faces)
        grid = grid_for(up, mesh.size)
        for start in mesh.vertices[::7]:  # straight above vertices: only edges and corners to hit
            top = start + 1e-7 * up
            face, height = drop_from_point(mesh, grid, top)
            assert face >= 0
            assert height <= float(top @ up) + 1e-6


def test_a_hole_in_the_mesh_is_refused():
    vertices, faces = arrays(displacers())
    with pytest.raises(ValueError, match="not closed"):
        build_graph(vertices, faces[1:])
    # a floor turned inside out, so that what hangs has nothing below it
    free = box((0, 0, 0), (1, 1, 1))
    v, f = arrays(free)
    with pytest.raises(ValueError, match="falls out"):
        pools_below(build_graph(v, f[:, ::-1]), UP, 0.5)
