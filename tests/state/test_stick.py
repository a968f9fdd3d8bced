"""What a dipstick is sure of: two bays by hand, and liquid poured at random into tanks with walls."""

from pathlib import Path

import numpy as np
import pytest
from random_walled_tanks import random_tank

from tanksolve.kernel.pools.settle import settle
from tanksolve.model.requirement import Requirement
from tanksolve.project.inline import parse_fill
from tanksolve.project.load import load
from tanksolve.questions.dip import dip
from tanksolve.questions.marks.gauge import Gauge, gauge_marks
from tanksolve.questions.marks.marks import marks
from tanksolve.state.conditions import Conditions
from tanksolve.state.stick import held_at, levels_over

LEVEL = np.array([[0.0, 0.0, 1.0]])
TWO = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml")
WIDTH, REAR, FRONT, WALL = 0.4, 0.497, 0.497, 0.2
BAY = WIDTH * FRONT * WALL  # brim-full, either of them


@pytest.mark.parametrize("depth", [0.03, 0.12, 0.199])
def test_below_the_wall_a_reading_tells_of_one_bay(depth):
    least, most = held_at(TWO.tank, (0.7, 0.2, 0.05), depth)
    assert least == pytest.approx(WIDTH * FRONT * depth, rel=1e-9)
    assert most == pytest.approx(WIDTH * FRONT * depth + BAY, rel=1e-9)


def test_above_the_wall_it_tells_of_the_tank():
    held = WIDTH * 1.0 * 0.25 - WIDTH * 0.006 * WALL
    assert held_at(TWO.tank, (0.7, 0.2, 0.05), 0.25) == pytest.approx((held, held), rel=1e-9)


@pytest.mark.parametrize(("volume", "lowest", "highest"), [(0.03, 0.0, 0.03), (0.06, 0.06, 0.2)])
def test_levels_lie_between_all_next_door_and_all_here(volume, lowest, highest):
    """30 L may all stand in either bay; of 60 L the other bay holds its brim at most."""
    place = np.array([0.7, 0.2, 0.05])
    low, high = levels_over(TWO.tank, place, volume, LEVEL)
    area = WIDTH * FRONT
    exact_low = max(volume - BAY, 0.0) / area
    exact_high = min(volume / area, WALL)
    assert (low[0] + 0.05, high[0] + 0.05) == pytest.approx((exact_low, exact_high), abs=1e-9)


def test_no_poured_state_holds_what_a_reading_excludes():
    """At random into random hollows: the reading over a place and what is in agree with the table."""
    checked = 0
    for seed in range(12):
        tank, _ = random_tank(seed)
        rng = np.random.default_rng(seed)
        places = rng.uniform(tank.lower, tank.upper, (60, 3))
        places = places[[tank.winding(p)[0] > 0.5 for p in places]][:6]
        for volume in rng.uniform(0.05, 0.9, 6) * tank.capacity:
            at = places[rng.choice(len(places), 2, replace=False)]
            share = rng.uniform()
            poured = {"poured_at": at, "poured": [share, 1.0 - share]}
            try:
                found = settle(
                    tank.graph, LEVEL, volume, places, links=tank.link_stations, **poured
                )
            except ValueError:  # bodies that nothing joins: it did not fit where it was poured
                continue
            for place, level in zip(places, found.port_level[0, 0], strict=True):
                if np.isnan(level):
                    continue
                assert held_at(tank, place, level - 1e-7)[0][0] <= volume * (1.0 + 1e-9)
                assert held_at(tank, place, level + 1e-7)[1][0] >= volume * (1.0 - 1e-9)
                checked += 1
    assert checked > 100


def test_a_least_mark_is_sure_and_stands_above_the_wall_where_a_bay_may_hold_it_all():
    """Less than both brims may all stand behind the wall or before it, so no reading below it is enough."""
    stick = Gauge("stick", (0.7, 0.2, 0.0))
    found = gauge_marks(TWO.tank, stick, 0.06, 0.09)
    assert found.over_a_sill
    assert WALL < found.least_mark_m < WALL + 2e-4
    assert found.at_least_mark_m3[0] >= 0.06
    enough = gauge_marks(TWO.tank, stick, 0.03, 0.09)  # one bay alone holds as much, below its brim
    assert enough.least_mark_m == pytest.approx(0.03 / (WIDTH * FRONT), abs=1e-9)
    assert not enough.over_a_sill


def test_marks_that_no_reading_can_tell_say_so():
    """From 50 L to 60 L: either bay may be brim-full and the other hold what is left."""
    found = gauge_marks(TWO.tank, Gauge("stick", (0.7, 0.2, 0.0)), 0.05, 0.06)
    assert not found.tells
    assert found.most_mark_m == pytest.approx((0.06 - BAY) / (WIDTH * FRONT), abs=1e-9)


def test_at_the_marked_dip_the_pickup_is_covered_whichever_bay_was_filled():
    """The mark of one level would be 125 mm, where all may stand in the rear bay and the pickup dry."""
    requirement = Requirement.every_heading(np.radians(5.0))
    found = marks(TWO.tank, TWO.ports, requirement)
    assert found.least_dip_m > WALL
    assert found.least_m3 < 0.052
    sure = Conditions.of(TWO.tank, TWO.ports, found.least_m3).held(LEVEL)
    assert sure.all()


def test_a_depth_in_the_tank_file_is_all_that_it_may_mean():
    read = parse_fill("120mm", TWO.tank, ports=TWO.ports)
    assert read.fill.least == pytest.approx(WIDTH * FRONT * 0.12, rel=1e-9)
    assert read.fill.most == pytest.approx(WIDTH * FRONT * 0.12 + BAY, rel=1e-9)
    assert "its bay alone" in read.words


def test_the_table_tells_both_ends_below_the_wall_only():
    table = dip(TWO.tank, 0.05, TWO.ports)
    assert not table.one_level
    assert table.stick == "at 'pickup'"
    apart = [row.at_most_m3 - row.at_least_m3 for row in table.rows]
    assert [gap > 1e-6 for gap in apart] == [row.depth_m < WALL + 1e-9 for row in table.rows]
