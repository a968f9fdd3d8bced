"""Flaps and balance pipes in the answers: limits in closed form, and what is never called certain."""

import math

import numpy as np
import pytest

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, notch
from tanksolve.geometry.bodies import beside
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import filler, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.level.pools import pools
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.state.one_surface import one_surface_certain

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


@pytest.mark.parametrize("way", ["forward", "rearward"])
def test_one_surface_is_never_certain_across_a_shut_flap(way):
    tank = walled(way)
    assert not one_surface_certain(tank, Requirement.every_heading(math.radians(2.0)), VOLUME)


def test_a_flap_that_lets_out_towards_the_pickup_needs_less_than_a_solid_wall():
    """What the front bay holds can run back through the flap, at its sill; a solid wall may keep it all."""
    level = Requirement.every_heading(math.radians(3.0))
    least = [
        fill_limits(walled(flap), [PICKUP], level).least_m3 for flap in ("rearward", "forward")
    ]
    assert least[0] < 0.5 * least[1]


def test_twin_tanks_count_what_stands_below_the_pipe_in_the_other():
    """Level ground: right tank to the edge, left tank to the pipe's lower side, 25 mm up, at the least."""
    tank, ports = twins(), [pickup("suction", (0.45, 0.04, 0.06))]
    least = fill_limits(tank, ports, Requirement.every_heading(0.0)).least_m3
    assert least == pytest.approx(0.9 * 0.25 * (0.06 + 0.06), rel=1e-6)
    low = [pickup("suction", (0.45, 0.04, 0.01))]
    least = fill_limits(tank, low, Requirement.every_heading(0.0)).least_m3
    assert least == pytest.approx(0.9 * 0.25 * (0.01 + 0.025), rel=1e-6)


def test_over_a_plain_opening_one_surface_is_certain_flap_or_not():
    """A hole below the level joins the bays: the flap beside it makes no difference there."""
    tank = walled("rearward", hole(0.06, (0.1, 0.05)))
    assert one_surface_certain(tank, Requirement.every_heading(math.radians(5.0)), VOLUME)


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
