"""Flaps and balance pipes while the machine tilts: closed forms, laws, and what may not happen."""

import numpy as np
import pytest
from hypothesis import example, given, settings
from hypothesis import strategies as st
from links import arrays_of, balance_pipe, flap, square
from pool_tanks import arrays, box, rod

from tanksolve.kernel.attitude.direction import up_from_pitch_roll, up_from_slope_heading
from tanksolve.kernel.pools.links import NO_LINKS
from tanksolve.kernel.pools.settle import settle
from tanksolve.kernel.topology.mesh_graph import build_graph

W, B, T = 0.5, 0.6, 1e-3  # width and length of a bay, thickness of the wall between two
REAR, FRONT = [0.3, 0.25, 0.0], [0.9, 0.25, 0.0]
RIGHT, LEFT = [0.5, 0.1, 0.0], [0.5, 0.9, 0.0]


def graph_of(solid):
    return build_graph(*arrays(solid))


def two_bays(wall_height=2.0, thickness=T):
    tank = box((0, 0, 0), (2 * B + thickness, W, 0.8))
    return tank - box((B, -1, -1), (B + thickness, 1, wall_height))


def twin(left_lifted=0.0):
    """Two boxes 1 m long, 0.3 m wide and 0.4 m high, 0.4 m apart."""
    return box((0, 0, 0), (1, 0.3, 0.4)) + box((0, 0.7, left_lifted), (1, 1, 0.4 + left_lifted))


def nose_down(*degrees):
    return up_from_pitch_roll(-np.radians(np.array(degrees)), 0.0)


def right_side_down(*degrees):
    return up_from_pitch_roll(0.0, np.radians(np.array(degrees)))


def held(found, stop=-1, ports=2):
    pools = found.port_pool[0, stop]
    return [0.0 if pools[q] < 0 else found.volume[0, stop, pools[q]] for q in range(ports)]


FLOOR_FLAP = square((0.2, 0.0), (0.3, 0.1))


def common_plane(volume, degrees):
    """Rear and front share of one plane over both bays, nose down, both floors wet."""
    t = np.tan(np.radians(degrees))
    moment = B * B / 2 + B * (B + T) + B * B / 2
    rear_depth = (volume / W - t * moment) / (2 * B)
    assert rear_depth > 0.0
    return W * (B * rear_depth + t * B * B / 2)


@pytest.mark.parametrize("degrees", [3.0, 7.0, 10.0])
def test_a_flap_fills_the_collector_and_holds_it(degrees):
    """Tilted towards the collector both bays are one plane; level again, what came stays there."""
    links = arrays_of(flap(B, B + T, FLOOR_FLAP))
    path = nose_down(0.0, degrees, 0.0, -25.0)
    found = settle(graph_of(two_bays()), path, 0.12, [REAR, FRONT], links=links)
    rear = common_plane(0.12, degrees)
    assert held(found, 0) == pytest.approx([0.06, 0.06], rel=1e-12)
    assert found.port_level[0, 1, 0] == pytest.approx(found.port_level[0, 1, 1], abs=1e-12)
    for stop in (1, 2, 3):
        assert held(found, stop) == pytest.approx([rear, 0.12 - rear], rel=1e-11)
    assert found.port_level[0, 2] == pytest.approx([rear / W / B, (0.12 - rear) / W / B])


def test_the_same_flap_hung_the_other_way_lets_nothing_into_the_collector():
    links = arrays_of(flap(B, B + T, FLOOR_FLAP, forward=False))
    found = settle(graph_of(two_bays()), nose_down(0, 10, 0), 0.12, [REAR, FRONT], links=links)
    assert held(found, 1) == pytest.approx([0.06, 0.06], rel=1e-12)
    assert held(found, 2) == pytest.approx([0.06, 0.06], rel=1e-12)


def test_a_collector_keeps_no_more_than_its_walls():
    """The wall is 0.3 m high: level again, the collector brims and the rest is back in the rear."""
    links = arrays_of(flap(B, B + T, FLOOR_FLAP))
    path = nose_down(0.0, 20.0, 0.0, -35.0)
    found = settle(graph_of(two_bays(0.3)), path, 0.16, [REAR, FRONT], links=links)
    assert held(found, 1)[1] > 0.3 * B * W + 0.01
    assert held(found, 2) == pytest.approx([0.16 - 0.09, 0.09], rel=1e-9)
    wedge = W * 0.3**2 / (2 * np.tan(np.radians(35.0)))
    assert held(found, 3)[1] == pytest.approx(wedge, rel=1e-9)


def test_a_raised_flap_leaves_the_wedge_under_its_sill():
    """Nose up, the front bay drains rearward through a flap 0.1 m up: W a² / (2 tan b) stays."""
    links = arrays_of(flap(B, B + T, square((0.2, 0.1), (0.3, 0.2)), forward=False))
    found = settle(graph_of(two_bays()), nose_down(0, -30), 0.07, [REAR, FRONT], links=links)
    # the sill is the nearer edge of the opening, in the face towards the front bay
    wedge = W * 0.1**2 / (2 * np.tan(np.radians(30.0)))
    assert held(found) == pytest.approx([0.07 - wedge, wedge], rel=1e-9)
    assert found.link_drains[0, -1, 0] == pytest.approx(0.0, abs=1e-12)
    assert found.link_drains[0, 0, 0] == pytest.approx(0.035 - W * B * 0.1, rel=1e-9)


def test_twin_tanks_stand_at_one_level_while_the_pipe_is_low():
    links = arrays_of(balance_pipe([(0.5, 0.3, 0.05), (0.5, 0.7, 0.05)]))
    path = right_side_down(0.0, 8.0, 0.0)
    found = settle(graph_of(twin()), path, 0.12, [RIGHT, LEFT], links=links)
    # one plane, z = a - y tan b, over 0..0.3 and 0.7..1 across, 1 m along
    t = np.tan(np.radians(8.0))
    a = (0.12 + t * (0.045 + 0.255)) / 0.6
    assert a - t > 0.0
    right = 0.3 * a - 0.045 * t
    assert held(found, 1) == pytest.approx([right, 0.12 - right], rel=1e-11)
    assert found.port_level[0, 1, 0] == pytest.approx(found.port_level[0, 1, 1], abs=1e-12)
    assert held(found, 2) == pytest.approx([0.06, 0.06], rel=1e-11)


def test_twin_tanks_part_where_the_sill_of_the_pipe_comes_up():
    """At 30 degrees the uphill tank drains to its mouth's lower edge, 25 mm up, and keeps a wedge."""
    links = arrays_of(balance_pipe([(0.5, 0.3, 0.05), (0.5, 0.7, 0.05)]))
    path = right_side_down(0.0, 30.0, 0.0)
    found = settle(graph_of(twin()), path, 0.1, [RIGHT, LEFT], links=links)
    wedge = 0.025**2 / (2 * np.tan(np.radians(30.0)))
    assert held(found, 1) == pytest.approx([0.1 - wedge, wedge], rel=1e-9)
    assert held(found, 2) == pytest.approx([0.05, 0.05], rel=1e-11)


def test_a_pipe_above_the_liquid_keeps_twin_tanks_apart():
    links = arrays_of(balance_pipe([(0.5, 0.3, 0.37), (0.5, 0.7, 0.37)]))
    path = right_side_down(0.0, 15.0, -15.0)
    found = settle(graph_of(twin()), path, 0.12, [RIGHT, LEFT], links=links)
    for stop in range(3):
        assert held(found, stop) == pytest.approx([0.06, 0.06], rel=1e-12)
    level = found.port_level[0, 1]
    assert abs(level[0] - level[1]) > 0.15


def test_a_pipe_over_a_rise_is_no_siphon():
    """Mouths near the floor, the run 0.25 m up: what stands below the rise does not pass."""
    run = [(0.5, 0.3, 0.05), (0.5, 0.4, 0.25), (0.5, 0.6, 0.25), (0.5, 0.7, 0.05)]
    links = arrays_of(balance_pipe(run, bore=0.04))
    graph = graph_of(twin())
    filler = [[0.5, 0.1, 0.3]]
    paths = np.tile(np.array([0.0, 0.0, 1.0]), (3, 1, 1))
    poured = [0.06, 0.1, 0.15]
    found = settle(graph, paths, poured, [RIGHT, LEFT], links=links, poured_at=filler)
    sill = 0.25 - 0.02
    assert found.link_sill[0, 0] == pytest.approx([sill, sill], rel=1e-12)
    level = found.port_level[:, 0]
    assert level[0] == pytest.approx([0.2, 0.0], abs=1e-12)
    assert level[1] == pytest.approx([sill, (0.1 - 0.3 * sill) / 0.3], rel=1e-12)
    assert level[2] == pytest.approx([0.25, 0.25], rel=1e-12)


def test_a_full_tank_takes_no_more_through_its_pipe():
    """The right tank is 0.3 m lower: its roof is reached, the left one keeps what has no room."""
    links = arrays_of(balance_pipe([(0.5, 0.3, 0.35), (0.5, 0.7, 0.35)]))
    level = np.array([[0.0, 0.0, 1.0]])
    found = settle(graph_of(twin(0.3)), level, 0.18, [RIGHT, [0.5, 0.9, 0.3]], links=links)
    assert held(found, 0) == pytest.approx([0.12, 0.06], rel=1e-9)
    assert found.port_level[0, 0] == pytest.approx([0.4, 0.5], rel=1e-9)


def row_of(bays, thickness=T):
    """Bays of 0.3 m in a row, full walls between them."""
    tank = box((0, 0, 0), (0.3 * bays, 0.4, 0.5))
    for k in range(1, bays):
        tank -= box((0.3 * k - thickness, -1, -1), (0.3 * k, 1, 1))
    return tank, [[0.3 * k + 0.1, 0.2, 0.0] for k in range(bays)]


def test_flaps_in_a_row_pass_liquid_on_and_none_back():
    tank, bays = row_of(4)
    hung = [flap(0.3 * k - T, 0.3 * k, square((0.1, 0.0), (0.2, 0.1))) for k in (1, 2, 3)]
    graph, level = graph_of(tank), np.array([[0.0, 0.0, 1.0]])
    first = settle(graph, level, 0.06, bays, links=arrays_of(*hung), poured_at=bays[:1])
    assert np.ptp(first.port_level[0, 0]) < 1e-12
    third = settle(graph, level, 0.04, bays, links=arrays_of(*hung), poured_at=bays[2:3])
    assert third.port_level[0, 0, :2] == pytest.approx([0.0, 0.0])
    assert third.port_level[0, 0, 2] == pytest.approx(third.port_level[0, 0, 3], rel=1e-12)
    assert third.port_level[0, 0, 2] > 0.1


@pytest.mark.parametrize("forward", [True, False])
def test_an_open_flap_is_as_good_as_a_plain_opening(forward):
    """A plate so thin that the opening has no room: tilted the way the flap opens, no difference."""
    thin = 1e-6
    corners = square((0.2, 0.05), (0.3, 0.15))
    plain = two_bays(thickness=thin) + box((B - 0.01, 0.2, 0.05), (B + 0.01, 0.3, 0.15))
    sense = 1.0 if forward else -1.0
    path = up_from_slope_heading(np.radians([0, 10, 20, 40]), np.radians(90 + sense * 80))
    links = arrays_of(flap(B, B + thin, corners, forward=forward))
    shut = settle(graph_of(two_bays(thickness=thin)), path, 0.15, [REAR, FRONT], links=links)
    cut = settle(graph_of(plain), path, 0.15, [REAR, FRONT])
    for stop in range(4):
        assert shut.port_level[0, stop] == pytest.approx(cut.port_level[0, stop], abs=2e-6)


def test_a_pipe_is_as_good_as_a_tube_in_the_mesh():
    run, bore = [(0.5, 0.3, 0.05), (0.5, 0.7, 0.05)], 0.01
    tube = twin() + rod((0.5, 0.29, 0.05), "y", 0.42, 0.5 * bore, 16)
    path = right_side_down(0.0, 10.0, 25.0, 10.0, -30.0)
    links = arrays_of(balance_pipe(run, bore))
    found = settle(graph_of(twin()), path, 0.05, [RIGHT, LEFT], links=links)
    meshed = settle(graph_of(tube), path, 0.05, [RIGHT, LEFT])
    assert found.port_level == pytest.approx(meshed.port_level, abs=1e-3)
    assert np.ptp(found.port_level[0, 2]) > 0.05


TILTS = st.lists(st.tuples(st.floats(0.0, 50.0), st.floats(0.0, 360.0)), min_size=2, max_size=4)
HUNG = st.lists(
    st.tuples(st.integers(1, 3), st.floats(0.0, 0.3), st.booleans(), st.booleans()),
    min_size=1,
    max_size=4,
)
FOUR = graph_of(row_of(4)[0])


def links_of(hung):
    made = []
    for wall, low, is_pipe, forward in hung:
        if is_pipe:
            run = [(0.3 * wall - T, 0.2, low + 0.06), (0.3 * wall, 0.2, low + 0.06)]
            made.append(balance_pipe(run))
        else:
            corners = square((0.05, low), (0.15, low + 0.1))
            made.append(flap(0.3 * wall - T, 0.3 * wall, corners, forward))
    return arrays_of(*made)


def top_of_bay(pit, up):
    """Height of the roof of the bay, one every 0.3 m, that a vertex of the four bays lies in."""
    corners = arrays(row_of(4)[0])[0]
    bay = np.floor((corners[:, 0] + 1e-6) / 0.3)
    return (corners[bay == bay[pit]] @ up).max()


@settings(max_examples=25, deadline=None)
@given(tilts=TILTS, hung=HUNG, share=st.floats(0.05, 0.9), poured=st.booleans())
@example([(0.0, 0.0), (32.0, 0.0)], [(1, 0.0, False, False), (2, 0.0, False, False)], 0.75, False)
def test_laws_of_linked_pools(tilts, hung, share, poured):
    """Nothing is lost; no link is left open; the same question has the same answer."""
    _, bays = row_of(4)
    links = links_of(hung)
    slope, heading = np.radians(np.array(tilts)).T
    path = up_from_slope_heading(np.concatenate([[0.0], slope]), np.concatenate([[0.0], heading]))
    volume = share * FOUR.capacity * (0.25 if poured else 1.0)
    kept = {"links": links, "poured_at": bays[:1] if poured else ()}
    found = settle(FOUR, path, volume, bays, **kept)
    assert np.nansum(found.volume, axis=2) == pytest.approx(volume, rel=1e-12)
    for stop in range(len(path)):
        for k, (near, far) in enumerate(found.link_pool[0, stop]):
            if near < 0 or near == far:
                continue
            before = found.level[0, stop, near]
            behind = -np.inf if far < 0 else found.level[0, stop, far]
            if far >= 0 and behind >= top_of_bay(found.pit[0, stop, far], path[stop]) - 1e-9:
                continue  # full to its roof: nothing more goes in
            assert before <= max(found.link_sill[0, stop, k], behind) + 1e-9
    again = settle(FOUR, path, volume, bays, **kept)
    assert np.array_equal(found.volume, again.volume, equal_nan=True)


@settings(max_examples=15, deadline=None)
@given(tilts=TILTS, low=st.floats(0.0, 0.3), share=st.floats(0.05, 0.9))
def test_nothing_flows_back_through_a_flap(tilts, low, share):
    vertices, faces = arrays(row_of(2)[0])
    graph = build_graph(vertices, faces)
    links = arrays_of(flap(0.3 - T, 0.3, square((0.1, low), (0.2, low + 0.1))))
    slope, heading = np.radians(np.array(tilts)).T
    path = up_from_slope_heading(np.concatenate([[0.0], slope]), np.concatenate([[0.0], heading]))
    bays = [[0.1, 0.2, 0.0], [0.4, 0.2, 0.0]]
    found = settle(graph, path, share * graph.capacity, bays, links=links)
    in_front = (found.pit[0] >= 0) & (vertices[found.pit[0], 0] > 0.3 - 1e-9)
    collector = np.sum(found.volume[0], axis=1, where=in_front)
    assert np.all(np.diff(collector) >= -1e-12 * graph.capacity)


def test_the_answer_does_not_move_when_the_steps_are_cut():
    tank, bays = row_of(4)
    links = links_of([(1, 0.05, False, True), (2, 0.1, True, True), (3, 0.0, False, False)])
    path = up_from_slope_heading(np.radians([0, 35, 35, 20]), np.radians([0, 150, 250, 20]))
    coarse = settle(graph_of(tank), path, 0.08, bays, links=links)
    fine = settle(graph_of(tank), path, 0.08, bays, links=links, max_step=0.005, tolerance=1e-8)
    assert coarse.port_level == pytest.approx(fine.port_level, abs=1e-5)


def test_a_mouth_outside_the_tank_is_refused():
    links = arrays_of(balance_pipe([(0.5, 0.3, 0.05), (0.5, 3.7, 0.05)]))
    with pytest.raises(ValueError, match="outside"):
        settle(graph_of(twin()), np.array([[0.0, 0.0, 1.0]]), 0.1, links=links)
    assert len(NO_LINKS.first_station) == 1


@pytest.mark.parametrize("degrees", [0.0, 8.0, -8.0])
def test_a_full_tank_between_two_others_passes_liquid_on(degrees):
    """Three boxes in a row across, the middle one 0.1 m high and full: the outer two stand level."""
    tank = box((0, 0, 0), (1, 0.3, 0.4)) + box((0, 0.4, 0), (1, 0.7, 0.1))
    tank += box((0, 0.8, 0), (1, 1.1, 0.4))
    pipes = [balance_pipe([(0.5, y, 0.04), (0.5, y + 0.1, 0.04)]) for y in (0.3, 0.7)]
    ports = [[0.5, 0.1, 0.0], [0.5, 0.55, 0.0], [0.5, 1.0, 0.0]]
    path = right_side_down(0.0, degrees)
    filler = [[0.5, 0.1, 0.3]]
    found = settle(graph_of(tank), path, 0.15, ports, links=arrays_of(*pipes), poured_at=filler)
    assert held(found, ports=3)[1] == pytest.approx(0.03, rel=1e-9)
    level = found.port_level[0, -1]
    assert level[0] == pytest.approx(level[2], abs=1e-12)
    assert held(found, ports=3)[0] == pytest.approx(
        0.06 + 0.3 * 0.4 * np.tan(np.radians(degrees)), rel=1e-9
    )


def test_the_pool_over_two_pits_drains_through_the_mouth_in_one_of_them():
    """A rib parts the rear bay's floor: through the flap beside it only its own pit runs out."""
    tank = two_bays() - box((0.3, -1, -1), (0.3 + T, 1, 0.1))
    links = arrays_of(flap(B, B + T, FLOOR_FLAP), flap(B, B + T, square((0.4, 0.3), (0.45, 0.4))))
    ports = [[0.1, 0.25, 0.0], [0.5, 0.25, 0.0], FRONT]
    filler = [[0.9, 0.25, 0.5]]
    path = nose_down(0.0, -20.0, 0.0, 20.0)
    paths = np.array([path])
    found = settle(graph_of(tank), paths, 0.05, ports, links=links)
    far, near, front = held(found, 3, ports=3)
    wedge = W * 0.1**2 / (2 * np.tan(np.radians(20.0)))
    assert far == pytest.approx(wedge, rel=1e-9)
    assert found.port_level[0, 3, 1] == pytest.approx(found.port_level[0, 3, 2], abs=1e-12)
    assert far + near + front == pytest.approx(0.05, rel=1e-12)
    shut = settle(graph_of(tank), path[:1], 0.05, ports, links=links, poured_at=filler)
    assert held(shut, ports=3) == pytest.approx([0.0, 0.0, 0.05])


def test_past_a_raised_flap_both_bays_rise_together_and_a_higher_bay_behind_waits():
    """Poured in the rear: to the sill, then the front to the sill, then both at one level."""
    links = arrays_of(flap(B, B + T, square((0.2, 0.1), (0.3, 0.2))))
    graph, level = graph_of(two_bays()), np.array([[0.0, 0.0, 1.0]])
    found = settle(graph, level, 0.12, [REAR, FRONT], links=links, poured_at=[REAR])
    assert held(found) == pytest.approx([0.06, 0.06], rel=1e-12)
    both = {"links": links, "poured_at": [FRONT, REAR]}
    below = settle(graph, level, 0.12, [REAR, FRONT], poured=[0.6, 0.4], **both)
    assert held(below) == pytest.approx(
        [0.048, 0.072], rel=1e-12
    )  # shut: 0.16 m before, 0.24 behind
    above = settle(graph, level, 0.12, [REAR, FRONT], poured=[0.4, 0.6], **both)
    assert held(above) == pytest.approx([0.06, 0.06], rel=1e-12)
    thrice = {"links": links, "poured_at": [FRONT, REAR, REAR]}
    late = settle(graph, level, 0.12, [REAR, FRONT], poured=[0.4, 0.3, 0.3], **thrice)
    assert held(late) == pytest.approx([0.06, 0.06], rel=1e-12)


def test_a_pool_let_down_below_a_ridge_leaves_its_other_pit_brimming():
    """A rib 0.1 m high parts the rear bay's floor; level, liquid stands 8 mm over it and before the flap.

    Nose down by less than one step the flap opens: only the pit with the flap runs out.
    """
    tank = two_bays() - box((0.3, -1, -1), (0.3 + T, 1, 0.1))
    links = arrays_of(flap(B, B + T, FLOOR_FLAP))
    ports = [[0.1, 0.25, 0.0], [0.5, 0.25, 0.0], FRONT]
    volume = W * (2 * B * 0.108 - 0.1 * T)
    found = settle(graph_of(tank), nose_down(0.0, 2.5), volume, ports, links=links)
    assert found.number[0].tolist() == [2, 3]
    far, near, front = held(found, ports=3)
    assert far == pytest.approx(W * (0.3 * 0.1 - 0.045 * np.tan(np.radians(2.5))), rel=1e-9)
    assert found.port_level[0, 1, 1] == pytest.approx(found.port_level[0, 1, 2], abs=1e-12)
    assert far + near + front == pytest.approx(volume, rel=1e-12)
