"""Marks: allowances move both ends, gauges read right on a slight slope, and 'no' is said."""

import math

import numpy as np
import pytest

from tanksolve.errors import FillError, PortError
from tanksolve.geometry.parts import box, cylinder
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.marks.gauge import Gauge, gauge_marks, level_dip
from tanksolve.questions.marks.marks import Allowances, marks

DEG = math.radians(1.0)
BOX = box(0.9, 0.3, 0.3)
PORTS = [pickup("suction", (0.1, 0.15, 0.02)), breather("cap", (0.45, 0.15, 0.3))]
AREA = 0.9 * 0.3


def test_dip_is_volume_over_area_in_a_box():
    found = marks(BOX, PORTS, Requirement.every_heading(10 * DEG))
    assert found.feasible
    assert found.least_dip_m == pytest.approx(found.least_m3 / AREA, abs=1e-12)
    assert found.most_dip_m == pytest.approx(found.most_m3 / AREA, abs=1e-12)
    least = found.limits.least_m3
    assert least <= found.least_m3 <= least * (1.0 + 1e-12)
    assert found.short_by_m3 == 0.0


@pytest.mark.parametrize(
    ("allowances", "low", "high"),
    [
        (Allowances(draw_down=0.003), lambda v: v + 0.003, lambda v: v - 0.003),
        (Allowances(thermal_growth=0.05), lambda v: v / 0.95, lambda v: v / 1.05),
        (Allowances(reading_error=0.004), lambda v: v + 0.004 * AREA, lambda v: v - 0.004 * AREA),
        (
            Allowances(thermal_growth=0.05, draw_down=0.003),
            lambda v: (v + 0.003) / 0.95,
            lambda v: (v - 0.003) / 1.05,
        ),
    ],
)
def test_allowances_move_both_ends_inwards(allowances, low, high):
    need = Requirement.every_heading(10 * DEG)
    bare = marks(BOX, PORTS, need)
    found = marks(BOX, PORTS, need, allowances=allowances)
    assert found.least_m3 == pytest.approx(low(bare.least_m3), rel=1e-9)
    assert found.most_m3 == pytest.approx(high(bare.most_m3), rel=1e-9)


def test_tilt_while_reading_in_a_box_is_the_lever_of_the_stick():
    """In a box the level turns about the middle: a stick 0.35 m off it misreads by 0.35 tan tilt."""
    stick = Gauge("stick", (0.1, 0.15, 0.0))
    tilt = 2 * DEG
    found = gauge_marks(BOX, stick, 0.03, 0.05, tilt=tilt)
    lever = 0.35 * math.tan(tilt)
    assert found.least_mark_m == pytest.approx(0.03 / AREA + lever, abs=1.1e-4)
    assert found.most_mark_m == pytest.approx(0.05 / AREA - lever, abs=1.1e-4)
    assert found.least_mark_m >= 0.03 / AREA + lever - 1e-12
    assert found.most_mark_m <= 0.05 / AREA - lever + 1e-12


def test_no_reading_between_the_marks_on_a_slope_means_a_fill_outside():
    tank = cylinder(0.5, 1.0)
    stick = Gauge("stick", (0.2, 0.2, 0.01), lean=20 * DEG, towards=70 * DEG)
    least, most = 0.05, 0.15
    found = gauge_marks(tank, stick, least, most, tilt=3 * DEG)
    rng = np.random.default_rng(3)
    up = up_from_slope_heading(3 * DEG * np.sqrt(rng.random(400)), 2 * np.pi * rng.random(400))
    for volume, beyond in ((least - 1e-9, "below"), (most + 1e-9, "above")):
        height = levels(tank.tree, up, volume)[0]
        reading = (height - up @ np.array(stick.foot)) / (up @ stick.direction)
        if beyond == "below":
            assert reading.max() < found.least_mark_m < reading.max() + 2e-3
        else:
            assert reading.min() > found.most_mark_m > reading.min() - 2e-3


def test_a_leaning_stick_is_longer_by_its_cosine():
    lean = 30 * DEG
    upright = gauge_marks(BOX, Gauge("a", (0.1, 0.1, 0.0)), 0.03, 0.05)
    leaning = gauge_marks(BOX, Gauge("b", (0.1, 0.1, 0.0), lean, 1.0), 0.03, 0.05)
    assert leaning.least_mark_m * math.cos(lean) == pytest.approx(upright.least_mark_m, abs=1e-12)
    assert leaning.least_m3 == pytest.approx(upright.least_m3, rel=1e-12)


def test_least_above_most_is_told_by_how_much():
    ports = [pickup("suction", (0.02, 0.15, 0.1)), breather("cap", (0.02, 0.15, 0.2))]
    found = marks(BOX, ports, Requirement.every_heading(25 * DEG))
    assert not found.feasible
    assert found.short_by_m3 == pytest.approx(found.least_m3 - found.most_m3)
    assert found.short_by_m3 > 0.0
    assert found.short_by_dip_m == pytest.approx(found.short_by_m3 / AREA)


def test_unusable_volume_is_greatest_where_the_least_is_set():
    found = marks(BOX, PORTS, Requirement.box(20 * DEG, 0.0))
    rows = {round(row.heading_deg): row for row in found.attitudes if row.slope_deg > 1.0}
    worst = max(found.attitudes, key=lambda row: row.unusable_m3)
    assert worst.unusable_m3 == pytest.approx(found.limits.least_root_m3, rel=1e-12)
    assert rows[180] == worst
    assert worst.usable_m3 == pytest.approx(found.most_m3 - worst.unusable_m3)
    assert found.attitudes[0].unusable_m3 == pytest.approx(AREA * 0.02)


def test_level_dip_inverts_the_volume():
    tank = cylinder(0.5, 1.0)
    half = 0.5 * float(tank.upper[2] - tank.lower[2])
    assert level_dip(tank, 0.5 * tank.capacity) == pytest.approx(half, abs=1e-9)


@pytest.mark.parametrize(
    "bad", [{"reading_error": -1.0}, {"thermal_growth": 1.0}, {"tilt": math.nan}]
)
def test_allowances_that_cannot_be_are_refused(bad):
    with pytest.raises(FillError):
        Allowances(**bad)


def test_a_stick_that_lies_flat_is_refused():
    with pytest.raises(PortError):
        Gauge("stick", (0.0, 0.0, 0.0), lean=85 * DEG)


@pytest.mark.parametrize(
    "size", [(0.9, 0.3, 0.3), (0.7, 0.31, 0.37), (1.1, 0.53, 0.29), (0.3, 0.2, 0.6)]
)
def test_a_port_out_of_reach_is_not_feasible_however_much_there_is(size):
    tank = box(*size)
    high = [pickup("p", (0.1, 0.1, size[2] - 0.02), cover=0.05)]
    found = marks(tank, high, Requirement.every_heading(0.0))
    assert not found.feasible
    assert found.out_of_reach_m == pytest.approx(0.03, abs=1e-9)
