"""Flaps and balance pipes in the answers: limits in closed form, and what is never called certain."""

import math

import numpy as np
import pytest
from tanksolve.questions.envelope.pooled_envelope import PooledEnvelope, pooled_envelope

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, notch
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import filler, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.level.pools import pools
from tanksolve.state.one_surface import one_surface_certain
from tanksolve.state.ways import STRAIGHT

L, W, H = 1.0, 0.4, 0.5
WALL, THICK = 0.3, 0.002
VOLUME = 0.06
SHELL = box(L, W, H)
PICKUP = pickup("suction", (0.05, 0.2, 0.08))


def walled(flap, *cuts):
    """A full wall across with a flap at the floor; the bay behind it is 0.3 m long."""
    low = notch("bottom", 0.2, 0.1, 0.05, flap=flap)
    return build(Parts(SHELL, baffles=(Baffle("wall", "across", WALL, THICK, cuts=(low, *cuts)),)))


def nose_up(degrees):
    return Attitude.from_rotations(math.radians(degrees), 0.0)


def twins(height=0.05):
    shell = beside(box(0.9, 0.25, 0.3), [("left", (0.0, 0.7, 0.0), box(0.9, 0.25, 0.3))])
    pipe = BalancePipe("cross", ((0.45, 0.25, height), (0.45, 0.7, height)), 0.05)
    return build(Parts(shell, pipes=(pipe,), bodies=2))


def test_a_flap_raises_the_limit_nose_down_to_that_of_its_own_bay():
    """Shut, the rear bay is a box of its own: depth d + (x - B/2) tan b over a wet floor."""
    depth = VOLUME / W / (L - THICK)
    found = pooled_envelope(walled("rearward"), [PICKUP], VOLUME, paths=(STRAIGHT,))
    own = math.degrees(math.atan((depth - 0.08) / (WALL / 2 - 0.05)))
    assert own < math.degrees(math.atan(2 * depth / WALL)), "the floor of the bay is wet to there"
    assert found.nose_down == pytest.approx(own, abs=0.01)
    assert envelope(walled("rearward"), [PICKUP], VOLUME).nose_down < own - 10.0


def test_hung_the_other_way_it_lets_the_bay_run_out_like_a_plain_opening():
    tank = walled("forward")
    found = pooled_envelope(tank, [PICKUP], VOLUME, paths=(STRAIGHT,))
    assert found.nose_down == pytest.approx(envelope(tank, [PICKUP], VOLUME).nose_down, abs=0.01)


@pytest.mark.parametrize("way", ["forward", "rearward"])
def test_one_surface_is_never_certain_across_a_shut_flap(way):
    tank = walled(way)
    found = pooled_envelope(tank, [PICKUP], VOLUME, every_deg=45.0, paths=(STRAIGHT,))
    assert isinstance(found, PooledEnvelope)
    for limit in (*found.limits, found.worst):
        assert limit.one_surface_to_deg == 0.0
        assert not limit.bounded
    assert not one_surface_certain(tank, Requirement.every_heading(math.radians(2.0)), VOLUME)


def test_over_a_plain_opening_one_surface_is_certain_flap_or_not():
    """A hole below the level joins the bays: the flap beside it makes no difference there."""
    tank = walled("rearward", hole(0.06, (0.1, 0.05)))
    assert one_surface_certain(tank, Requirement.every_heading(math.radians(5.0)), VOLUME)


def test_twin_tanks_are_bounded_where_their_pipe_is_below_the_level():
    tank, ports = twins(), [pickup("suction", (0.45, 0.04, 0.06))]
    found = pooled_envelope(tank, ports, 0.06, every_deg=90.0)
    left_down = next(limit for limit in found.limits if limit.heading_deg == 270.0)
    depth = 0.06 / (0.9 * 0.5)
    wanted = math.degrees(math.atan((depth - 0.06) / (0.475 - 0.04)))
    assert left_down.slope_deg == pytest.approx(wanted, abs=1e-3)
    assert left_down.bounded
    assert left_down.held_to_deg == pytest.approx(wanted, abs=0.06)


def test_twin_tanks_with_a_high_pipe_have_each_their_own_limit():
    tank, ports = twins(0.27), [pickup("suction", (0.45, 0.04, 0.06))]
    found = pooled_envelope(tank, ports, 0.06, every_deg=90.0, paths=(STRAIGHT,))
    depth = 0.06 / (0.9 * 0.5)
    own = math.degrees(math.atan((depth - 0.06) / (0.125 - 0.04)))
    assert own < math.degrees(math.atan(2 * depth / 0.25)), "the floor is wet to there"
    assert found.left_down == pytest.approx(own, abs=0.01)


def test_the_links_are_told_open_shut_and_not_reached():
    tank = walled("rearward")
    level = pools(tank, VOLUME, None, [PICKUP])
    assert [(link.state, link.way) for link in level.links] == [("open", "rearward")]
    up = pools(tank, VOLUME, nose_up(10.0), [PICKUP])
    assert up.links[0].state == "open"
    back = pools(tank, VOLUME, nose_up(-10.0), [PICKUP], path=[nose_up(10.0)])
    assert back.links[0].state == "shut"
    kept = {pool.ports: pool.volume_m3 for pool in back.pools}
    assert kept == {pool.ports: pytest.approx(pool.volume_m3, rel=1e-12) for pool in up.pools}
    poured = pools(tank, 0.004, None, [PICKUP, filler("cap", (0.1, 0.2, 0.5))])
    assert (poured.links[0].state, poured.links[0].from_pool) == ("shut", None)


def test_what_a_pipe_brings_to_the_pickup_is_not_trapped():
    """Level: of the left tank's half, what stands below the pipe's lower edge is out of reach."""
    found = pools(twins(), 0.06, None, [pickup("suction", (0.45, 0.1, 0.02))])
    assert found.trapped_m3 == pytest.approx(0.9 * 0.25 * 0.025, rel=1e-9)
    high = pools(twins(0.25), 0.06, None, [pickup("suction", (0.45, 0.1, 0.02))])
    assert high.trapped_m3 == pytest.approx(0.03, rel=1e-9)
    assert high.links[0].state == "not reached"


def test_what_a_flap_brings_is_not_trapped_what_it_holds_back_is():
    ahead = pickup("ahead", (0.9, 0.2, 0.02))
    feeds = pools(walled("rearward"), VOLUME, None, [PICKUP])
    holds = pools(walled("rearward"), VOLUME, None, [ahead])
    assert feeds.trapped_m3 == pytest.approx(0.0, abs=1e-12)
    share = WALL / (L - THICK)
    assert holds.trapped_m3 == pytest.approx(VOLUME * share, rel=1e-9)


def test_the_span_holds_a_pipe_that_runs_below_the_tanks():
    shell = beside(box(0.9, 0.25, 0.3), [("left", (0.0, 0.7, 0.0), box(0.9, 0.25, 0.3))])
    run = ((0.45, 0.1, 0.0), (0.45, 0.1, -0.1), (0.45, 0.8, -0.1), (0.45, 0.8, 0.0))
    tank = build(Parts(shell, pipes=(BalancePipe("under", run, 0.05),), bodies=2))
    assert tank.span[0][2] < -0.12
    assert np.all(tank.span[1] == tank.upper)
    assert tank.links[0].sill((0.0, 0.0, 1.0)) == pytest.approx(0.0, abs=1e-12)
