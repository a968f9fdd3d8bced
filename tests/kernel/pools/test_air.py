"""Bodies of air: against cut solids, against closed forms, and the laws they must keep."""

import math

import numpy as np
import pytest

from tanksolve.kernel.pools.air import air_bodies, roofs_without_vent
from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.kernel.topology.mesh_graph import build_graph
from tests.campaign_air import cases, difference
from tests.pool_tanks import arrays, box, cups

UP = np.array([0.0, 0.0, 1.0])
WIDTH, ROOF, EDGE = 0.4, 0.4, 0.1


def graph_of(solid):
    return build_graph(*arrays(solid))


def pit_of(graph, up):
    return int(graph.source[np.argmin(graph.vertices @ up)])


def one_pool(solid, up, height, ports=(), is_vent=()):
    graph = graph_of(solid)
    return air_bodies(graph, up, [pit_of(graph, np.asarray(up))], [height], ports, is_vent)


def hung():
    return box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, EDGE), (0.51, 1, 1))


def test_a_sample_of_the_campaign_agrees_with_the_oracle():
    found = [difference(solid, graph, state) for _, solid, graph, state in cases(48, seed=3)]
    assert sum(bodies > 1 for _, bodies, _ in found) > 3
    assert [words for gap, _, words in found if gap > 1e-9] == []


def test_air_and_liquid_fill_the_tank_and_meet_in_the_free_surface():
    several = 0
    for _, _, graph, (up, pits, level, liquid) in cases(48, seed=4):
        bodies = air_bodies(graph, up, pits, level, negligible=0.0)
        assert bodies.volume.sum() + liquid == pytest.approx(graph.capacity, rel=1e-9)
        surface = settled_surface(graph, up, pits, level)
        assert bodies.surface.sum(axis=0) == pytest.approx(surface, abs=1e-7 * graph.size**2)
        several += len(pits) > 1
    assert several > 3


def settled_surface(graph, up, pits, level):
    """Free surface of each pool by the other kernel: of the pool below its own level."""
    areas = []
    for pit, height in zip(pits, level, strict=True):
        below = pools_below(graph, up, height - 1e-9 * graph.size, [graph_point(graph, pit)])
        areas.append(below.area[0, below.standing[0, 0]])
    return areas


def graph_point(graph, pit):
    return graph.vertices[np.flatnonzero(graph.source == pit)[0]] + graph.origin


def test_the_wedge_behind_a_wall_up_to_the_roof():
    """Nose down by b with air of depth d at the wall: W d² / (2 tan b)."""
    b, d = math.radians(20.0), 0.12
    up = np.array([-math.sin(b), 0.0, math.cos(b)])
    height = float(up @ (0.51, 0.0, ROOF - d))
    found = one_pool(hung(), up, height, [(0.02, 0.2, ROOF)], [True])
    wedge = WIDTH * d * d / (2.0 * math.tan(b))
    assert found.standing.tolist() == [0]
    assert found.volume[1] == pytest.approx(wedge, rel=1e-9)
    assert found.surface[1, 0] == pytest.approx(WIDTH * d / math.sin(b), rel=1e-9)
    assert found.top[1] @ up == pytest.approx(up @ (0.51, 0.0, ROOF), abs=1e-12)
    assert found.seal[1] == pytest.approx(up @ (0.51, 0.0, EDGE), abs=1e-9)
    rise = ROOF - EDGE
    room = WIDTH * (rise * 0.49 - 0.49**2 * math.tan(b) / 2.0)
    assert found.shut[1] == pytest.approx(room, rel=1e-9)
    assert np.isnan([found.seal[0], found.shut[0]]).all()


def test_bays_share_their_air_until_the_edge_is_under_liquid():
    assert len(one_pool(hung(), UP, EDGE - 1e-6).volume) == 1
    assert len(one_pool(hung(), UP, EDGE + 1e-6).volume) == 2
    gap = box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, EDGE), (0.51, 1, ROOF - 0.01))
    assert len(one_pool(gap, UP, 0.3).volume) == 1


def test_an_edge_that_liquid_just_touches_is_shut():
    found = one_pool(hung(), UP, EDGE)
    assert found.volume == pytest.approx([0.5 * WIDTH * 0.3, 0.49 * WIDTH * 0.3], rel=1e-9)


def test_a_weir_full_to_the_brim_leaves_one_body_of_air():
    solid = box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, -1), (0.51, 1, 0.2))
    graph = graph_of(solid)
    pit = int(np.flatnonzero((graph.vertices + graph.origin == (0, 0, 0)).all(axis=1))[0])
    found = air_bodies(graph, UP, [graph.source[pit]], [0.2], [(0.9, 0.2, 0.1)])
    whole = WIDTH * (0.5 * 0.2 + 0.49 * 0.4 + 0.01 * 0.2)
    assert found.volume == pytest.approx([whole], rel=1e-9)
    assert found.surface[0] == pytest.approx([0.5 * WIDTH], rel=1e-9)
    assert found.standing.tolist() == [0]


def test_two_pools_of_their_own_level_under_two_bodies_of_air():
    """A weir across, full on one side, and a curtain along that dips into both pools."""
    solid = box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, -1), (0.51, 1, 0.3))
    solid -= box((-1, 0.2, 0.05), (2, 0.21, 1))
    graph = graph_of(solid)
    corners = graph.vertices + graph.origin

    def pit(x):
        return int(graph.source[np.argmin(np.linalg.norm(corners - (x, 0, 0), axis=1))])

    found = air_bodies(graph, UP, [pit(0.0), pit(1.0)], [0.25, 0.1])
    right = 0.2 * (0.5 * 0.15 + 0.49 * 0.3 + 0.01 * 0.1)
    assert found.volume == pytest.approx([right, right / 0.2 * 0.19], rel=1e-9)
    assert found.surface.sum(axis=0) == pytest.approx([0.5 * 0.39, 0.49 * 0.39], rel=1e-9)


def test_air_under_a_bell_stands_in_it_alone():
    ports = [(0.34, 0.14, 0.28), (0.34, 0.14, 0.05), (0.55, 0.35, 0.4)]
    found = one_pool(cups(), UP, 0.24, ports, [False, False, True])
    assert found.standing.tolist() == [1, 1, 0]
    assert found.volume[1] == pytest.approx(0.16 * 0.16 * 0.04, rel=1e-9)
    assert found.seal[1] == pytest.approx(0.1, abs=1e-12)
    assert found.shut[1] == pytest.approx(0.16 * 0.16 * 0.18 - 0.1 * 0.1 * 0.05, rel=1e-12)


def test_roofs_without_a_vent_gap_or_a_breather():
    graph = graph_of(hung())
    found = roofs_without_vent(graph, UP, [(0.1, 0.2, ROOF)])
    assert found.shut == pytest.approx([0.49 * WIDTH * (ROOF - EDGE)], rel=1e-12)
    assert found.seal == pytest.approx([EDGE], abs=1e-12)
    assert found.top[0, 0] >= 0.51
    both = [(0.1, 0.2, ROOF), (0.9, 0.2, ROOF)]
    assert len(roofs_without_vent(graph, UP, both).shut) == 0
    assert len(roofs_without_vent(graph, UP, [(0.9, 0.2, ROOF)]).shut) == 1
    assert len(roofs_without_vent(graph, UP, []).shut) == 1
    gap = box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, EDGE), (0.51, 1, ROOF - 0.01))
    assert len(roofs_without_vent(graph_of(gap), UP, both[:1]).shut) == 0


def test_a_tube_vents_down_to_its_mouth():
    """A beam of 50 mm hangs from the roof: only a mouth below it vents both sides."""
    graph = graph_of(box((0, 0, 0), (1, WIDTH, ROOF)) - box((0.5, -1, ROOF - 0.05), (0.51, 1, 1)))
    assert len(roofs_without_vent(graph, UP, [(0.1, 0.2, ROOF - 0.08)]).shut) == 0
    found = roofs_without_vent(graph, UP, [(0.1, 0.2, ROOF - 0.02)])
    assert found.shut == pytest.approx([0.49 * WIDTH * 0.05], rel=1e-12)
