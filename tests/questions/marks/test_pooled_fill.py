"""Fill limits by pools: bays in closed form, one level wrong on both sides, what a pump leaves behind."""

import math
from pathlib import Path

import numpy as np
import pytest

from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.project.load import load
from tanksolve.questions.marks import pooled_fill
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.questions.marks.marks import marks
from tanksolve.questions.marks.pooled_fill import pooled_fill_limits
from tanksolve.questions.marks.usable import usable_by_pools
from tanksolve.state.conditions import Conditions
from tanksolve.state.pooled_margin import PooledMargin, least_pooled_margin
from tanksolve.state.required_ways import CONFIRM, FINE

TANK = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml").tank
AREA = 0.994 * 0.4  # of the floor; the wall takes 6 mm
FRONT = 0.7515  # middle of the front bay
COVER = 0.02
CAP = breather("cap", (0.5, 0.2, 0.3), bore=0.02, facing="down")
SLOPE = math.radians(12.0)  # nothing goes over the wall with the fills in question


def suction(x: float, name: str = "p"):
    return pickup(name, (x, 0.2, 0.015), bore=0.02, cover=COVER)


def every(slope: float) -> Requirement:
    return Requirement.every_heading(slope)


def solved(tank, ports, slope=SLOPE, pickups="all"):
    conditions = Conditions.of(tank, ports, tank.capacity, pickups)
    guess = fill_limits(tank, ports, every(slope), pickups=pickups)
    return pooled_fill_limits(conditions, every(slope), guess)


def bay_alone(x: float) -> float:
    """Least fill [m³] of both bays where the surface turns about the middle of the front one."""
    return AREA * (0.015 + (COVER + 0.01) / math.cos(SLOPE) + abs(x - FRONT) * math.tan(SLOPE))


@pytest.mark.parametrize("x", [0.55, 0.95])
def test_the_least_fill_is_that_of_a_bay_of_its_own(x):
    found = solved(TANK, [suction(x), CAP])
    assert found.least_m3 == pytest.approx(bay_alone(x), rel=1e-9)
    assert found.least_set_by.port == "p"
    assert found.least_set_by.slope_deg == pytest.approx(12.0)


def test_one_level_is_wrong_on_either_side():
    near, far = (fill_limits(TANK, [suction(x), CAP], every(SLOPE)) for x in (0.55, 0.95))
    assert near.least_m3 < bay_alone(0.55) - 0.008  # unsafe
    assert far.least_m3 > bay_alone(0.95) + 0.008  # more than it takes


def test_the_root_holds_and_a_drop_less_does_not():
    found = solved(TANK, [suction(0.55), CAP], math.radians(20.0))
    for fill, holds in ((found.least_m3, True), (found.least_m3 - 1e-6, False)):
        conditions = Conditions.of(TANK, [suction(0.55)], fill)
        need = every(math.radians(20.0))
        margin = min(least_pooled_margin(conditions, need, f).margin_m for f in (FINE, CONFIRM))
        assert (margin >= -1e-9) is holds
        assert margin < 1e-9
    assert 0.0 < found.least_m3 < found.most_m3 < TANK.capacity


def test_any_of_two_pickups_needs_less_than_both():
    rear, front = suction(0.0985, "rear"), suction(0.95, "front")
    both, any_ = (solved(TANK, [rear, front], pickups=which) for which in ("all", "any"))
    assert both.least_m3 == pytest.approx(bay_alone(0.95), rel=1e-9)
    # nose up or down one of them has the depth; side down neither has more than the other
    assert any_.least_m3 == pytest.approx(bay_alone(FRONT), rel=1e-9)
    assert any_.least_set_by.heading_deg in (pytest.approx(90.0), pytest.approx(270.0))
    assert any_.most_m3 == TANK.capacity  # no port that must stay dry
    assert any_.most_set_by is None


def test_a_plain_box_has_the_roots_of_one_level():
    tank = box(0.9, 0.3, 0.3)
    ports = [pickup("p", (0.1, 0.15, 0.02)), breather("b", (0.6, 0.15, 0.3))]
    one, found = fill_limits(tank, ports, every(SLOPE)), solved(tank, ports)
    assert found.least_m3 == pytest.approx(one.least_root_m3, rel=1e-9)
    assert found.most_m3 == pytest.approx(one.most_root_m3, rel=1e-9)


def test_a_port_above_the_roof_has_no_fill():
    found = solved(TANK, [pickup("p", (0.9, 0.2, 0.28), cover=0.1)])
    assert found.least_m3 == TANK.capacity
    assert found.least_short_m > 0.05


@pytest.mark.parametrize("gap", [0.3, 0.55])
def test_a_fill_between_the_marks_that_fails_moves_the_least_above_it(monkeypatch, gap):
    """No real tank is known in which more liquid holds less: the margin is made up."""
    capacity = TANK.capacity

    def made_up(conditions, ways):
        share = conditions.least / capacity
        margin = -0.01 if share < 0.1 or gap - 0.03 < share < gap + 0.03 else 0.01
        each = [np.full(way.paths.shape[:2], margin) for way in ways]
        return PooledMargin(margin, "p", 1.0, 2.0, "made up", 1), each

    monkeypatch.setattr(pooled_fill, "least_along", made_up)
    found = solved(TANK, [suction(0.55)])
    # a quarter, a half and three quarters of the way from 0.1 of the tank to the brim are tried
    assert found.least_m3 == pytest.approx((gap + 0.03) * capacity, rel=1e-6)


def test_what_is_behind_the_wall_stays_behind():
    """Level, from 100 L: the rear bay stays full to the wall's edge, 200 mm; the front goes to 45 mm."""
    conditions = Conditions.of(TANK, [suction(0.55)], 0.100)
    usable, port = usable_by_pools(conditions, np.array([[0.0, 0.0, 1.0]]))
    assert 0.100 - usable[0] == pytest.approx(0.4 * 0.497 * (0.2 + 0.045), rel=1e-9)
    assert port[0] == 0


def test_the_wall_keeps_back_as_much_as_its_edge_does_on_a_slope():
    """Nose up on 5°: behind the wall, and on it, a plane through its front edge; in front one through
    the pickup's upper edge."""
    slope = math.radians(5.0)
    up = up_from_slope_heading(np.array([slope]), np.array([0.0]))
    conditions = Conditions.of(TANK, [suction(0.55)], 0.100)
    usable, _ = usable_by_pools(conditions, up)
    grade = math.tan(slope)  # the surface falls by this, seen from the tank, towards the nose
    rear = 0.4 * (0.497 * 0.2 + 0.5 * 0.503**2 * grade)
    depth = 0.015 + (COVER + 0.01) / math.cos(slope)
    front = 0.4 * 0.497 * (depth + (0.55 - FRONT) * grade)
    assert 0.100 - usable[0] == pytest.approx(rear + front, rel=1e-9)


def test_in_a_plain_box_what_stays_is_what_one_plane_cuts_off():
    tank = box(0.9, 0.3, 0.3)
    port = pickup("p", (0.1, 0.15, 0.02), cover=0.0)
    up = up_from_slope_heading(np.radians([0.0, 10.0, 15.0]), np.radians([0.0, 180.0, 40.0]))
    usable, _ = usable_by_pools(Conditions.of(tank, [port], 0.05), up)
    assert 0.05 - usable == pytest.approx(volumes(tank.tree, up, up @ port.position)[0], rel=1e-9)
    short, _ = usable_by_pools(Conditions.of(tank, [port], 0.002), up)
    assert short == pytest.approx(usable - 0.048, rel=1e-9)
    assert short[0] < 0.0


def test_marks_say_how_they_were_judged():
    found = marks(TANK, [suction(0.55), CAP], every(SLOPE))
    assert found.judged_by == "pools"
    assert found.least_m3 == pytest.approx(bay_alone(0.55), rel=1e-9)
    assert found.filled == "all bays at one level, standing level"
    level = found.attitudes[0]
    assert level.unusable_m3 == pytest.approx(0.4 * 0.497 * 0.245, rel=1e-9)
    assert level.usable_m3 == pytest.approx(found.most_m3 - level.unusable_m3)
    one = marks(TANK, [suction(0.55), CAP], every(SLOPE), one_level=True)
    assert (one.judged_by, one.filled) == ("one level", None)
    plain = marks(box(0.9, 0.3, 0.3), [pickup("p", (0.1, 0.15, 0.02))], every(SLOPE))
    assert plain.judged_by == "one surface"
