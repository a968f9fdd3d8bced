"""Smallest sizes against closed forms, and that a hair smaller fails."""

import math

import pytest

from tanksolve.analysis.conditions import Conditions
from tanksolve.analysis.fill_limits import fill_limits
from tanksolve.analysis.required_margin import least_margin
from tanksolve.build.parts import box, cylinder
from tanksolve.build.sumps import round_sump
from tanksolve.design.size import DIMENSIONS, smallest, stretched
from tanksolve.design.sump_gain import sump_gain
from tanksolve.errors import PortError, TankError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement

DEG = math.radians(1.0)
BOX = box(0.9, 0.3, 0.3)
PORTS = [pickup("p", (0.3, 0.15, 0.05)), breather("b", (0.45, 0.15, 0.3))]
LEVEL = Requirement.every_heading(0.0)


def test_height_on_level_ground_is_what_arithmetic_says():
    """Standing level the marks are the pickup and the breather: usable = area x (height - 50 mm)."""
    found = smallest(BOX, PORTS, LEVEL, "height", usable=0.02)
    assert found.smallest_m == pytest.approx(0.05 + 0.02 / 0.27, abs=1e-9)
    assert abs(found.residual) <= 1e-9
    assert found.meets_now
    assert found.smallest_m <= found.held_m <= 1.001 * found.smallest_m
    wide = smallest(BOX, PORTS, LEVEL, "width", usable=0.1)
    assert wide.smallest_m == pytest.approx(0.1 / (0.9 * 0.25), abs=1e-9)
    assert not wide.meets_now


def test_height_for_a_fill_on_a_pitch_is_the_paper_height():
    """Nose up or down b, the breather in the middle: its height is the depth, whatever the pitch."""
    found = smallest(BOX, PORTS, Requirement.sides(5 * DEG, 5 * DEG), "height", fill=0.04)
    depth = 0.04 / 0.27
    roof = depth  # the breather keeps dry down to the level in the middle...
    # ...unless the liquid meets the roof there and is pushed back up
    assert found.smallest_m >= roof
    other, moved = stretched(BOX, PORTS, "height", found.factor)
    limits = fill_limits(other, moved, Requirement.sides(5 * DEG, 5 * DEG))
    assert limits.most_root_m3 == pytest.approx(0.04, rel=1e-7)


@pytest.mark.parametrize("dimension", DIMENSIONS)
@pytest.mark.parametrize("target", [{"usable": 0.02}, {"fill": 0.042}])
def test_a_hair_smaller_fails_and_the_proved_size_holds(dimension, target):
    need = Requirement.box(10 * DEG, 8 * DEG)
    found = smallest(BOX, PORTS, need, dimension, **target)
    assert found.smallest_m is not None

    def met(factor, bound=False):
        other, moved = stretched(BOX, PORTS, dimension, factor)
        if "usable" in target:
            limits = fill_limits(other, moved, need)
            if bound:
                return limits.most_m3 - limits.least_m3 >= target["usable"]
            return limits.most_root_m3 - limits.least_root_m3 >= target["usable"]
        worst = least_margin(Conditions.of(other, moved, Fill.of(target["fill"])), need, 1e-4)
        return (worst.bound if bound else worst.value) <= 0.0

    assert met(found.factor)
    assert not met(found.factor * (1.0 - 1e-7))
    assert met(found.held_m / found.now_m, bound=True)


def test_no_answer_is_said():
    tall = [pickup("p", (0.3, 0.15, 0.05)), breather("b", (0.45, 0.15, 0.051))]
    found = smallest(BOX, tall, LEVEL, "height", usable=0.02)
    assert found.smallest_m is None
    assert not found.meets_now


def test_stretching_keeps_ports_at_their_walls():
    ports = [pickup("p", (0.1, 0.15, 0.05)), breather("b", (0.8, 0.15, 0.29))]
    tank, moved = stretched(BOX, ports, "scale", 2.0)
    assert tank.capacity == pytest.approx(8 * BOX.capacity)
    assert moved[0].position == pytest.approx((0.1, 0.3, 0.05))
    assert moved[1].position == pytest.approx((1.7, 0.3, 0.59))
    assert stretched(BOX, ports, "length", 1.0)[1][1].position == pytest.approx((0.8, 0.15, 0.29))
    with pytest.raises(TankError):
        stretched(BOX, ports, "length", 0.0)


def test_a_stretched_cylinder_is_a_longer_one():
    tank, _ = stretched(cylinder(0.4, 1.0), [], "length", 1.5)
    assert tank.capacity == pytest.approx(cylinder(0.4, 1.5).capacity)


def test_a_sump_gains_what_stands_below_the_pickup_on_level_ground():
    sump = round_sump("sump", (0.3, 0.15), 0.15, 0.08)
    found = sump_gain(BOX, PORTS, LEVEL, sump)
    assert found.adds_m3 == pytest.approx(math.pi * 0.075**2 * 0.08, rel=5e-3)
    assert found.least_before_m3 == pytest.approx(0.27 * 0.05)
    assert found.least_after_m3 == pytest.approx(found.adds_m3 * 0.05 / 0.08, rel=1e-3)
    assert found.gain_m3 == pytest.approx(found.least_before_m3 - found.least_after_m3)
    with pytest.raises(PortError):
        sump_gain(BOX, PORTS[1:], LEVEL, sump)
