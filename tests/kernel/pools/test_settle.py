"""Liquid carried along a path of attitudes: closed forms, laws, and the dependence on the path."""

import numpy as np
import pytest

from tanksolve.kernel.attitude.direction import up_from_pitch_roll, up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.kernel.pools.settle import settle
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.pool_tanks import TANKS, arrays, box

LEVEL = np.array([0.0, 0.0, 1.0])
WALL = 1e-3


def graph_of(solid):
    return build_graph(*arrays(solid))


def nose_down(degrees):
    """Up vectors with the nose (+x) down by these angles, from level."""
    return up_from_pitch_roll(-np.radians(np.atleast_1d(degrees)), 0.0)


def two_bays(wall_height):
    """Worked by hand: bays of 0.6 x 0.5 m, 0.8 m high, a wall between them."""
    tank = box((0, 0, 0), (1.2 + WALL, 0.5, 0.8))
    return tank - box((0.6, -1, -1), (0.6 + WALL, 1, wall_height))


REAR, FRONT = [0.3, 0.25, 0.0], [0.9, 0.25, 0.0]


def in_port(found, path, stop, port):
    pool = found.port_pool[path, stop, port]
    return 0.0 if pool < 0 else found.volume[path, stop, pool]


def test_what_is_poured_over_the_wall_runs_into_the_other_bay():
    graph = graph_of(two_bays(0.3))
    found = settle(graph, LEVEL[None], 0.12, [REAR, FRONT], poured_at=[REAR])
    assert in_port(found, 0, 0, 0) == pytest.approx(0.09, rel=1e-12)
    assert found.port_level[0, 0] == pytest.approx([0.3, 0.1], rel=1e-12)


def test_more_than_both_bays_hold_stands_at_one_level():
    graph = graph_of(two_bays(0.3))
    found = settle(graph, LEVEL[None], 0.25, [REAR, FRONT], poured_at=[REAR])
    level = (0.25 + 0.3 * 0.5 * WALL) / (0.5 * (1.2 + WALL))
    assert found.number[0, 0] == 1
    assert found.port_level[0, 0] == pytest.approx([level, level], rel=1e-12)
    assert level == pytest.approx(0.416667, rel=1e-3)  # the published figure is for a thin wall


@pytest.mark.parametrize(
    ("degrees", "kept"), [(10.0, 0.0741306), (20.0, 0.0572427), (35.0, 0.0321333)]
)
def test_the_uphill_bay_keeps_what_stands_under_its_lip(degrees, kept):
    graph = graph_of(two_bays(0.3))
    path = nose_down([0.0, degrees])
    found = settle(graph, path, 0.12, [REAR, FRONT], poured_at=[REAR])
    slope = np.tan(np.radians(degrees))
    exact = 0.5 * (0.3 * 0.6 - 0.5 * 0.36 * slope if slope < 0.5 else 0.5 * 0.09 / slope)
    assert exact == pytest.approx(kept, rel=2e-6)
    assert in_port(found, 0, 1, 0) == pytest.approx(exact, rel=1e-9)
    assert in_port(found, 0, 1, 1) == pytest.approx(0.12 - exact, rel=1e-9)


@pytest.mark.parametrize("degrees", [5.0, 15.0, 30.0, 45.0])
@pytest.mark.parametrize("start", [0.06, 0.15])
def test_the_wedge_behind_a_wall_whose_opening_starts_at_a_height(degrees, start):
    """By hand: W a² / (2 tan b), or W B (a - B tan b / 2) once the surface meets the end."""
    W, B, H = 0.5, 0.6, 0.8
    wall = box((B, -1, -1), (B + WALL, 1, 1)) - box((B - 0.1, 0.2, start), (B + 0.1, 0.3, 0.7))
    graph = graph_of(box((0, 0, 0), (2 * B + WALL, W, H)) - wall)
    found = settle(graph, nose_down([0.0, degrees]), 2 * W * B * start * 0.99, [REAR, FRONT])
    slope = np.tan(np.radians(degrees))
    wedge = W * start**2 / (2 * slope) if start / slope < B else W * B * (start - B * slope / 2)
    assert in_port(found, 0, 1, 0) == pytest.approx(min(0.99 * W * B * start, wedge), rel=1e-9)


def test_pools_that_part_on_the_way_keep_what_their_lip_lets_them_hold():
    """One surface over the wall until 43.9 degrees, then two; back again, what is left stays."""
    tank = box((0, 0, 0), (1.2 + WALL, 0.5, 2.0)) - box((0.6, -1, -1), (0.6 + WALL, 1, 0.3))
    found = settle(graph_of(tank), nose_down([0.0, 40.0, 50.0, 60.0, 50.0]), 0.2, [REAR, FRONT])
    assert found.number[0].tolist() == [1, 1, 2, 2, 2]
    kept = 0.5 * 0.5 * 0.09 / np.tan(np.radians([50.0, 60.0, 60.0]))
    held = [in_port(found, 0, stop, 0) for stop in (2, 3, 4)]
    assert held == pytest.approx(kept, rel=1e-9)


def test_three_bays_in_series_spill_one_into_the_next():
    tank = box((0, 0, 0), (0.9, 0.4, 0.5))
    tank -= box((0.3, -1, -1), (0.3 + WALL, 1, 0.2)) + box((0.6, -1, -1), (0.6 + WALL, 1, 0.1))
    graph = graph_of(tank)
    points = [[0.1, 0.2, 0.0], [0.45, 0.2, 0.0], [0.8, 0.2, 0.0]]
    first, second = 0.3 * 0.4 * 0.2, (0.3 - WALL) * 0.4 * 0.1
    poured = [first, first + 0.5 * second, first + second + 0.003]
    paths = np.tile(LEVEL, (3, 1, 1))
    found = settle(graph, paths, poured, points, poured_at=points[:1])
    held = np.array([[in_port(found, i, 0, p) for p in range(3)] for i in range(3)])
    wanted = [[first, 0, 0], [first, 0.5 * second, 0], [first, second, 0.003]]
    assert held == pytest.approx(np.array(wanted), rel=1e-12, abs=1e-15)


def test_a_sump_keeps_its_content_at_40_degrees():
    """A sump deeper than it is long: the surface passes through its downhill lip."""
    L, W, D = 0.1, 0.1, 0.2
    tank = box((0, 0, 0), (0.8, 0.4, 0.3)) + box((0.4, 0.1, -D), (0.4 + L, 0.1 + W, 0.01))
    graph = graph_of(tank)
    found = settle(graph, nose_down([0.0, 40.0]), 2 * L * W * D, [[0.45, 0.15, -D]])
    kept = W * L * (D - L * np.tan(np.radians(40.0)) / 2)
    assert in_port(found, 0, 1, 0) == pytest.approx(kept, rel=1e-9)
    assert found.number[0, 1] == 2


def test_out_and_back_leaves_liquid_on_the_wrong_side():
    graph = graph_of(two_bays(0.3))
    found = settle(graph, nose_down([0.0, 30.0, 0.0]), 0.12, [REAR, FRONT])
    kept = 0.5 * 0.5 * 0.09 / np.tan(np.radians(30.0))
    assert in_port(found, 0, 0, 0) == pytest.approx(0.06, rel=1e-12)
    assert in_port(found, 0, 2, 0) == pytest.approx(kept, rel=1e-9)
    assert found.port_level[0, 2] == pytest.approx([kept / 0.3, (0.12 - kept) / 0.3], rel=1e-9)


def test_one_body_of_liquid_stands_at_the_single_plane():
    vertices, faces = arrays(box((0, 0, 0), (1, 0.5, 0.4)) - box((0.4, 0.2, -1), (0.6, 0.3, 0.1)))
    path = up_from_slope_heading(np.radians([0.0, 20.0, 45.0]), np.radians([0.0, 70.0, 70.0]))
    found = settle(build_graph(vertices, faces), path, 0.08, [[0.1, 0.1, 0.1]])
    plane = levels(build_tree(vertices, faces), path, 0.08)[0]
    assert found.number[0].tolist() == [1, 1, 1]
    assert found.port_level[0, :, 0] == pytest.approx(plane, abs=1e-12)


@pytest.mark.parametrize("name", TANKS)
def test_no_liquid_is_lost_or_made_and_each_level_holds_its_volume(name):
    vertices, faces = arrays(TANKS[name]())
    graph = build_graph(vertices, faces)
    slopes = np.radians([0.0, 25.0, 40.0, 10.0])
    paths = np.array(
        [up_from_slope_heading(slopes, np.radians([k, k, k + 30.0, k + 90.0])) for k in (20, 200)]
    )
    amount = np.array([0.15, 0.4]) * graph.capacity
    found = settle(graph, paths, amount, tolerance=1e-4)
    assert np.nansum(found.volume, axis=2) == pytest.approx(
        np.broadcast_to(amount[:, None], (2, 4)), rel=1e-12
    )
    for line, stop, pool in np.argwhere(found.pit >= 0):
        level = found.level[line, stop, pool]
        below = pools_below(graph, paths[line, stop], level)
        same = np.flatnonzero(below.pit[0] == found.pit[line, stop, pool])
        assert below.volume[0, same] == pytest.approx(found.volume[line, stop, pool], rel=1e-9)
        assert below.area[0, same] == pytest.approx(found.area[line, stop, pool], rel=1e-6)


def test_the_answer_does_not_move_when_the_steps_are_cut():
    graph = graph_of(TANKS["hanging and weirs"]())
    path = up_from_slope_heading(np.radians([0.0, 45.0]), np.radians([35.0, 35.0]))
    ports = [[0.1, 0.2, 0.0], [0.45, 0.2, 0.0], [0.8, 0.2, 0.0]]
    coarse = settle(graph, path, 0.06, ports)
    fine = settle(graph, path, 0.06, ports, max_step=0.01, tolerance=1e-8)
    assert fine.attitudes[0] > 2 * coarse.attitudes[0]
    assert coarse.port_level == pytest.approx(fine.port_level, abs=1e-5)


def test_what_does_not_fit_is_refused():
    graph = graph_of(box((0, 0, 0), (1, 1, 1)))
    with pytest.raises(ValueError, match="capacity"):
        settle(graph, LEVEL[None], 1.1)
    with pytest.raises(ValueError, match="outside"):
        settle(graph, LEVEL[None], 0.1, poured_at=[[3.0, 0.0, 0.0]])
