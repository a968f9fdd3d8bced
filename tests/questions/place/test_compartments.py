"""Zones where walls part the liquid: closed forms of each bay, and liquid settled anew at random places."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest
from tanksolve.state.pooled_margin import least_pooled_margin
from zone_attack import clear_of, inside, points_in

from tanksolve.geometry.parts import box
from tanksolve.geometry.zone import room_body
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.project.load import load
from tanksolve.questions.place.compartments import pooled_places
from tanksolve.questions.place.heights import heights
from tanksolve.questions.place.place import place
from tanksolve.questions.place.points import Opening
from tanksolve.questions.place.pools import judged
from tanksolve.state.conditions import Conditions
from tanksolve.state.required_ways import CONFIRM, FINE
from tanksolve.state.ways import Start

TANK = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml").tank
FILL = 0.040
DEPTH = FILL / (0.994 * 0.4)  # the wall of 6 mm takes its share
BAYS = (0.2485, 0.7515)  # middles of the bays, forward
GENTLE, STEEP = math.radians(12.0), math.radians(20.0)  # nothing goes over the wall; some does
PICKUP = pickup("p", (0, 0, 0), bore=0.02, cover=0.02)  # no facing: a ball of 10 mm radius
BREATHER = breather("b", (0, 0, 0), bore=0.02)
AIR = BREATHER.required_cover


def every(slope: float) -> Requirement:
    return Requirement.every_heading(slope)


def least(port, points, requirement, fineness=FINE) -> float:
    """Least margin [m] of ports at all of ``points``, the liquid settled anew for all ports at once."""
    moved = [replace(port, name=f"at {n}", position=tuple(p)) for n, p in enumerate(points)]
    return least_pooled_margin(
        Conditions.of(TANK, moved, FILL, "all"), requirement, fineness
    ).margin_m


@pytest.mark.parametrize("middle", BAYS)
@pytest.mark.parametrize("beside", [0.0, -0.08, 0.1])
def test_in_each_bay_the_height_is_that_of_a_tank_of_its_own(middle, beside):
    """Nothing crosses the wall, so the surface turns about the middle of the bay."""
    x = middle + beside
    found = heights(TANK, PICKUP, FILL, every(GENTLE), x, 0.2)
    exact = DEPTH - 0.03 / math.cos(GENTLE) - abs(beside) * math.tan(GENTLE)
    assert found.judged_by == "pools"
    assert found.highest_m == pytest.approx(exact, abs=1.5e-4)
    assert found.highest_m <= exact
    over = heights(TANK, BREATHER, FILL, every(GENTLE), x, 0.2)
    exact = DEPTH + (0.01 + AIR) / math.cos(GENTLE) + abs(beside) * math.tan(GENTLE)
    assert over.lowest_m == pytest.approx(exact, abs=1.5e-4)
    assert over.lowest_m >= exact


def test_each_bay_has_a_cone_of_its_own():
    found = place(TANK, PICKUP, FILL, every(GENTLE))
    tall = DEPTH - (0.03 + found.gap_m) / math.cos(GENTLE)
    lost = tall / math.tan(GENTLE) - 0.2  # the cone is wider than the tank: cut by its walls
    assert lost > 0.0
    assert [part.name for part in found.zones] == ["zone 1", "zone 2"]
    for part, middle in zip(sorted(found.zones, key=lambda one: one.from_m), BAYS, strict=True):
        assert part.to_m[2] == pytest.approx(tall, rel=1e-3)
        assert part.best_point_m == pytest.approx((middle, 0.2, 0.0), abs=2e-3)
        assert part.best_margin_m == pytest.approx(DEPTH * math.cos(GENTLE) - 0.03, abs=1e-4)
        grid = np.stack(np.meshgrid(*2 * [np.linspace(-1, 1, 801)]), axis=-1) * [0.2485, 0.2]
        above = np.maximum(tall - math.tan(GENTLE) * np.hypot(grid[..., 0], grid[..., 1]), 0.0)
        assert part.volume_m3 == pytest.approx(above.mean() * 0.497 * 0.4, rel=0.01)
    assert found.zone_volume_m3 == pytest.approx(sum(part.volume_m3 for part in found.zones))


def test_one_level_is_wrong_both_ways():
    by_pools = place(TANK, PICKUP, FILL, every(STEEP))
    by_one = place(TANK, PICKUP, FILL, every(STEEP), one_level=True)
    assert (by_pools.judged_by, by_one.judged_by) == ("pools", "one level")
    assert by_one.feasible
    assert least(PICKUP, [by_one.recommended_point_m], every(STEEP)) < -0.02
    good = np.array(by_pools.recommended_point_m)
    assert least(PICKUP, [good], every(STEEP)) >= 0.0
    refused = place(
        TANK, PICKUP, FILL, every(STEEP), within=(good - 1e-3, good + 1e-3), one_level=True
    )
    assert refused.best_margin_m < 0.0


@pytest.mark.parametrize(("port", "slope"), [(PICKUP, STEEP), (BREATHER, STEEP)])
def test_places_inside_hold_at_other_attitudes_too(port, slope):
    found = place(TANK, port, FILL, every(slope))
    rng = np.random.default_rng(4)
    points = rng.uniform(found.zone_from_m, found.zone_to_m, (4000, 3))
    points = points[inside(found.zone, points)][:150]
    assert len(points) > 60
    for fineness in (FINE, CONFIRM._replace(shift=0.1)):
        assert least(port, points, every(slope), fineness) >= 0.0
    assert least(port, [found.best_point_m], every(slope)) >= found.best_margin_m - 1e-9


def test_places_of_a_pickup_outside_are_lost_at_a_sample():
    found = place(TANK, PICKUP, FILL, every(STEEP))
    points = points_in(TANK, 3000, np.random.default_rng(5))
    points = points[clear_of(found.zone, points, 2.0 * found.gap_m)]
    near = points[~clear_of(found.zone, points, 0.03)][:12]
    assert len(near) == 12
    for point in near:
        assert least(PICKUP, [point], every(STEEP)) < 0.0


@pytest.mark.parametrize("port", [PICKUP, BREATHER])
def test_no_place_has_more_margin_than_the_best(port):
    found = place(TANK, port, FILL, every(STEEP))
    points = points_in(TANK, 400, np.random.default_rng(6))
    opening, start = Opening.of(TANK, port, FILL), Start.of(TANK, [])
    rivals = np.minimum(
        *(judged(opening, every(STEEP), start, points, fine).worst for fine in (FINE, CONFIRM))
    )
    assert rivals.max() > 0.0
    # a breather's margin jumps where it comes over another pool: the best is a good one, no more
    assert rivals.max() <= found.best_margin_m + (0.002 if port is BREATHER else 1e-9)


@pytest.mark.parametrize("port", [PICKUP, BREATHER])
def test_in_a_plain_box_pools_find_what_one_level_proves(port):
    tank, need = box(0.9, 0.3, 0.3), every(STEEP)
    proved = place(tank, port, 0.042, need)
    opening = Opening.of(tank, port, 0.042)
    room = room_body(tank)
    found = pooled_places("p", opening, need, Start.of(tank, []), room, room, proved.gap_m)
    assert proved.judged_by == "one surface"
    assert 0.999 <= found.region.volume / proved.zone_volume_m3 <= 1.01
    assert found.best.margin == pytest.approx(proved.best_margin_m, abs=1e-3)


def test_no_place_at_all_is_answered_with_the_least_bad_tried():
    found = place(TANK, PICKUP, FILL, every(math.radians(40.0)))
    assert not found.feasible
    assert found.zones == ()
    assert found.tube is None
    assert found.best_margin_m < -0.05
    assert least(PICKUP, [found.best_point_m], every(math.radians(40.0))) == pytest.approx(
        found.best_margin_m, abs=1e-9
    )
