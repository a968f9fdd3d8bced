"""Fill limits against closed forms, against dense sampling, and their bounds from the safe side."""

import itertools
import math

import numpy as np
import pytest

from tanksolve.geometry.parts import box, cylinder, extrusion
from tanksolve.kernel.attitude.cells import Cells, centres, hulls, ups
from tanksolve.kernel.attitude.direction import up_from_inclinometer, up_from_slope_heading
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Rule, breather, pickup, strainer
from tanksolve.model.requirement import Meaning, Requirement
from tanksolve.model.requirement_moving import moving
from tanksolve.questions.level.surface import level
from tanksolve.questions.marks.fill_limits import Needs, fill_limits
from tanksolve.state.conditions import Conditions

DEG = math.radians(1.0)


def odd_tank():
    return extrusion([(0, 0), (0.5, 0), (0.5, 0.12), (0.3, 0.12), (0.3, 0.3), (0, 0.3)], 0.6)


def box_area_below(length: float, height: float, x: float, z: float, slope: float) -> float:
    """Area in a length x height rectangle under the line through (x, z) that falls along +x."""
    grade = math.tan(slope)

    def at(s):
        return min(max(z - (s - x) * grade, 0.0), height)

    breaks = {0.0, length}
    for y in (0.0, height):
        s = x + (z - y) / grade
        if 0.0 < s < length:
            breaks.add(s)
    ends = sorted(breaks)
    return sum(0.5 * (at(a) + at(b)) * (b - a) for a, b in itertools.pairwise(ends))


@pytest.mark.parametrize("slope_deg", [5.0, 15.0, 30.0, 50.0])
def test_least_fill_of_a_box_is_the_exact_area_under_the_plane(slope_deg):
    """Straight pitches only, past where the paper triangle holds too (roof met, floor dry)."""
    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.02, 0.15, 0.05))
    need = Requirement.sides(nose_down=slope_deg * DEG)
    found = fill_limits(tank, [suction], need)
    # nose down: liquid runs forward, its surface falls towards the tail at x = 0
    exact = 0.3 * box_area_below(0.9, 0.3, 0.9 - 0.02, 0.05, slope_deg * DEG)
    assert found.least_root_m3 == pytest.approx(exact, rel=1e-12)
    assert found.least_set_by.port == "suction"
    assert found.least_set_by.slope_deg == pytest.approx(slope_deg, abs=1e-9)
    assert found.least_set_by.heading_deg % 360 == pytest.approx(180.0, abs=1e-9)
    assert found.most_m3 == tank.capacity
    assert found.most_set_by is None


def test_braking_downhill_is_a_steeper_slope():
    """8 degrees nose down at 0.2 g: the liquid stands as on b + atan(a cos b / (g + a sin b))."""
    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.02, 0.15, 0.05))
    slope = 8 * DEG
    felt = slope + math.atan(0.2 * math.cos(slope) / (1.0 + 0.2 * math.sin(slope)))
    found = fill_limits(
        tank, [suction], moving(Requirement.every_heading(slope), brake=0.2 * 9.80665)
    )
    exact = 0.3 * box_area_below(0.9, 0.3, 0.9 - 0.02, 0.05, felt)
    assert found.least_root_m3 == pytest.approx(exact, rel=1e-9)
    assert exact <= found.least_m3 <= exact + 1e-4 * 0.27
    assert found.least_set_by.slope_deg == pytest.approx(math.degrees(felt), abs=1e-6)
    assert found.least_set_by.heading_deg == pytest.approx(180.0, abs=1e-4)


def sampled(requirement, count, rng):
    """Random attitudes of a requirement, many of them on its rim."""
    some = up_from_slope_heading(
        np.arccos(1.0 - rng.random(200 * count) * 0.5), rng.random(200 * count) * 2 * np.pi
    )
    inside = some[requirement.holds(some)]
    rims = []
    for patch in requirement.patches:
        a = rng.choice([*patch.a, 0.5 * sum(patch.a)], count)
        b = patch.b[0] + rng.random(count) * (patch.b[1] - patch.b[0])
        rims.append(patch.ups(a, b))
    return np.vstack([inside[:count], *rims])


REQUIREMENTS = {
    "every heading": Requirement.every_heading(20 * DEG),
    "box": Requirement.box(20 * DEG, 10 * DEG),
    "rotations": Requirement.sides(30 * DEG, 10 * DEG, 5 * DEG, 25 * DEG, Meaning.ROTATIONS),
    "accelerations": Requirement.accelerations(brake=4.0, corner=6.0),
    "braking on slopes": moving(Requirement.every_heading(8 * DEG), brake=3.0, corner=1.0),
    "mix": Requirement.every_heading(8 * DEG) | Requirement.box(25 * DEG, 0.0),
}
TANKS = {
    "box": (box(0.9, 0.3, 0.3), (0.1, 0.15, 0.02), (0.7, 0.1, 0.29)),
    "lying": (cylinder(0.4, 1.0), (0.2, 0.2, 0.03), (0.5, 0.2, 0.39)),
    "odd": (odd_tank(), (0.1, 0.1, 0.02), (0.4, 0.1, 0.29)),
}


@pytest.mark.parametrize("need", REQUIREMENTS.values(), ids=REQUIREMENTS)
@pytest.mark.parametrize("case", TANKS.values(), ids=TANKS)
def test_no_sampled_attitude_needs_more_than_the_bound_or_much_more_than_the_root(case, need):
    tank, low, high = case
    ports = [
        pickup("suction", low, bore=0.03, facing="down", cover=0.01),
        breather("cap", high, bore=0.02, facing="up", cover=0.005),
    ]
    found = fill_limits(tank, ports, need)
    conditions = Conditions.of(tank, ports, tank.capacity)
    up = sampled(need, 1500, np.random.default_rng(5))
    liquid = Needs(conditions, Rule.WET).volume(up).max()
    air = Needs(conditions, Rule.DRY).volume(up).max()
    rounding = 1e-12 * tank.capacity
    assert liquid <= found.least_root_m3 + rounding  # the root is the greatest there is
    assert tank.capacity - air >= found.most_root_m3 - rounding
    step = 1e-4 * tank.capacity / (tank.upper[2] - tank.lower[2])
    assert found.least_root_m3 <= found.least_m3 <= found.least_root_m3 + step
    assert found.most_root_m3 - step <= found.most_m3 <= found.most_root_m3
    # and it is reached, within what 1,500 samples can find
    assert liquid >= found.least_root_m3 - 0.02 * tank.capacity


@pytest.mark.parametrize("case", TANKS.values(), ids=TANKS)
def test_margin_at_the_root_is_nought_and_a_drop_beyond_it_fails(case):
    tank, low, high = case
    ports = [pickup("suction", low, bore=0.03, facing="down"), breather("cap", high)]
    found = fill_limits(tank, ports, Requirement.every_heading(12 * DEG))
    drop = 5e-8  # m³, a drop of 0.05 ml
    for volume, by, beyond in (
        (found.least_root_m3, found.least_set_by, -drop),
        (found.most_root_m3, found.most_set_by, drop),
    ):
        at = Attitude.from_slope(math.radians(by.slope_deg), math.radians(by.heading_deg))
        port = next(p for p in ports if p.name == by.port)
        assert abs(level(tank, volume, at, [port]).ports[0].margin_m) <= 1e-9
        assert not level(tank, volume + beyond, at, [port]).ports[0].holds
        assert level(tank, volume - beyond, at, [port]).ports[0].holds


def test_any_of_two_pickups_needs_less_than_both():
    tank = box(0.9, 0.3, 0.3)
    ports = [pickup("rear", (0.02, 0.15, 0.02)), pickup("front", (0.88, 0.15, 0.02))]
    need = Requirement.box(20 * DEG, 0.0)
    every = fill_limits(tank, ports, need)
    either = fill_limits(tank, ports, need, pickups="any")
    assert either.least_root_m3 < 0.3 * every.least_root_m3
    # with one at each end the worst is where both are equally bad: on level ground
    assert either.least_root_m3 == pytest.approx(0.9 * 0.3 * 0.02, rel=1e-9)
    assert either.least_m3 >= either.least_root_m3


def test_a_port_out_of_reach_is_said_with_how_far():
    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.0, 0.15, 0.2), cover=0.0)
    found = fill_limits(
        tank, [pickup("s", (0.0, 0.15, 0.2), cover=0.15)], Requirement.every_heading(0.0)
    )
    assert found.least_short_m == pytest.approx(0.05, abs=1e-9)
    assert found.least_root_m3 == pytest.approx(tank.capacity)
    assert fill_limits(tank, [suction], Requirement.every_heading(0.0)).least_short_m == 0.0
    low = fill_limits(
        tank, [breather("b", (0.4, 0.1, 0.02), cover=0.03)], Requirement.every_heading(0.0)
    )
    assert low.most_short_m == pytest.approx(0.01, abs=1e-9)


def test_a_strainer_counts_to_its_far_end():
    tank = box(0.9, 0.3, 0.3)
    short = strainer("s", (0.4, 0.15, 0.1), bore=0.05, length=0.02, facing="down", cover=0.0)
    long_ = strainer("s", (0.4, 0.15, 0.02), bore=0.05, length=0.08, facing="up", cover=0.0)
    need = Requirement.every_heading(10 * DEG)
    assert fill_limits(tank, [short], need).least_root_m3 == pytest.approx(
        fill_limits(tank, [long_], need).least_root_m3, rel=1e-9
    )


def test_inclinometer_corner_is_the_worst_of_its_box():
    tank = box(0.9, 0.3, 0.3)
    suction = pickup("suction", (0.02, 0.02, 0.02))
    found = fill_limits(tank, [suction], Requirement.box(15 * DEG, 10 * DEG))
    corner = up_from_inclinometer(-15 * DEG, -10 * DEG)
    assert found.least_set_by.slope_deg == pytest.approx(math.degrees(math.acos(corner[2])))


@pytest.mark.parametrize("rule", [Rule.WET, Rule.DRY])
@pytest.mark.parametrize("case", TANKS.values(), ids=TANKS)
def test_no_attitude_of_a_cell_needs_more_than_its_bound(case, rule):
    tank, low, high = case
    ports = [pickup("suction", low, bore=0.03, facing="down"), breather("cap", high, bore=0.02)]
    needs = Needs(Conditions.of(tank, ports, tank.capacity), rule)
    rng = np.random.default_rng(8)
    start = np.stack([rng.uniform(0, 0.5, 60), rng.uniform(0, 6, 60)], axis=1)
    size = rng.uniform(0.02, 0.3, (60, 2))
    box_ = np.stack(
        [start[:, 0], start[:, 0] + size[:, 0], start[:, 1], start[:, 1] + size[:, 1]], axis=1
    )
    cells = Cells(np.zeros(60, np.int8), box_)
    bound = needs.volume_bound(centres(cells), hulls(cells))
    for share in rng.random((40, 2)):
        a = box_[:, 0] + share[0] * size[:, 0]
        b = box_[:, 2] + share[1] * size[:, 1]
        assert (needs.volume(ups(cells.chart, a, b)) <= bound + 1e-12).all()
        assert (
            needs.short(ups(cells.chart, a, b))
            <= needs.short_bound(centres(cells), hulls(cells)) + 1e-12
        ).all()
