"""Zones and best places against many random points; heights against the paper method."""

import math

import numpy as np
import pytest
import zone_attack
from zone_attack import BOX, CONE, DEG, PICKUP, TEN, ZoneCase, attack_best, attack_zone

from tanksolve.geometry.parts import box
from tanksolve.geometry.zone import carved, room_body
from tanksolve.kernel.attitude.cells import SLOPE_HEADING
from tanksolve.kernel.attitude.halfspaces import Optimum, corners_of
from tanksolve.model.ports import breather, pickup, strainer
from tanksolve.model.requirement import Patch, Requirement
from tanksolve.questions.place import points as place
from tanksolve.questions.place.points import Opening, best_place, heights_at, zone_half_spaces

GAP = 3e-3  # m; the campaign takes 1 mm


@pytest.mark.parametrize("case", TEN.values(), ids=TEN)
def test_every_point_of_the_zone_holds_and_none_well_outside_does(case):
    """A sample of ``campaign_zone``, which takes 10,000 points of each kind."""
    found = attack_zone(case, GAP, 200, np.random.default_rng(11))
    assert found.inside == found.outside == 200
    assert found.wrong_inside == 0
    assert found.wrong_outside == 0
    assert 0.0 < found.least_inside < 2.0 * GAP  # the zone is no smaller than it need be


def test_the_proof_finds_what_few_samples_miss(monkeypatch):
    """Three samples on an arc of 20 degrees let 1.4 mm too much through at the wall."""
    monkeypatch.setattr(place, "_ZONE_SAMPLES", 0)
    arc = Patch(SLOPE_HEADING, (40 * DEG, 40 * DEG), (0.0, 20 * DEG), "an arc")
    steep = ZoneCase(box(0.8, 0.8, 0.8), 0.5, PICKUP, Requirement((arc,)))
    found = attack_zone(steep, 6e-4, 400, np.random.default_rng(11))
    assert found.wrong_inside == found.wrong_outside == 0


@pytest.mark.parametrize("case", TEN.values(), ids=TEN)
def test_the_best_place_beats_random_points(case):
    """A sample of ``campaign_zone``, which takes 10,000 rivals."""
    found = attack_best(case, 500, np.random.default_rng(12), 1e-3)
    assert found.wrong == 0
    assert found.bound <= found.margin <= found.bound + 1.1e-3


@pytest.mark.parametrize(("moved", "wrong"), [(2.0 * GAP, "inside"), (-2.0 * GAP, "outside")])
def test_the_attack_finds_a_zone_that_is_off(monkeypatch, moved, wrong):
    def spoilt(*args):
        spaces = zone_half_spaces(*args)
        return spaces._replace(offsets=spaces.offsets + moved)

    monkeypatch.setattr(zone_attack, "zone_half_spaces", spoilt)
    found = attack_zone(TEN["wedge"], GAP, 200, np.random.default_rng(11))
    assert (found.wrong_inside > 0) is (wrong == "inside")
    assert (found.wrong_outside > 0) is (wrong == "outside")


def test_the_attack_finds_a_best_place_that_is_not(monkeypatch):
    def spoilt(*args):
        best, worst = best_place(*args)
        moved = best.place + np.array([0.1, 0.0, 0.05])
        return Optimum(moved, best.margin - 0.1), worst

    monkeypatch.setattr(zone_attack, "best_place", spoilt)
    assert attack_best(TEN["wedge"], 500, np.random.default_rng(12), 1e-3).wrong > 0


def test_zone_solid_is_the_part_of_the_tank_inside_its_half_spaces():
    tank, need = TEN["ell"].tank, TEN["ell"].need
    spaces = zone_half_spaces(TEN["ell"].opening, need, 1e-3)
    region = carved(room_body(tank), corners_of(spaces.normals, spaces.offsets))
    rng = np.random.default_rng(13)
    points = rng.uniform(tank.lower, tank.upper, (4000, 3))
    inside = (points @ spaces.normals.T <= spaces.offsets).all(axis=1)
    inside &= np.abs(tank.winding(points)) > 0.5
    boxed = float(np.prod(tank.upper - tank.lower))
    error = 4.0 * math.sqrt(inside.mean() / len(points)) * boxed
    assert region.volume == pytest.approx(boxed * inside.mean(), abs=error)
    assert (region.vertices @ spaces.normals.T - spaces.offsets).max() < 1e-9


def test_no_zone_where_nothing_holds():
    tank = box(0.9, 0.3, 0.3)
    opening = Opening.of(tank, pickup("p", (0, 0, 0), cover=0.2), 0.02)
    assert zone_half_spaces(opening, CONE, 1e-3) is None
    best, _ = best_place(opening, CONE, tank.vertices[tank.faces], 1e-3)
    assert best.margin < 0.0


@pytest.mark.parametrize("slope_deg", [3.0, 8.0, 12.0])
def test_height_is_the_paper_height_in_a_box(slope_deg):
    tank = box(0.9, 0.3, 0.3)
    need = Requirement.every_heading(slope_deg * DEG)
    x, y = 0.02, 0.1
    found = heights_at(Opening.of(tank, pickup("p", (0, 0, 0)), 0.04), need, x, y, 1e-4)
    lever = math.hypot(0.45 - x, 0.15 - y)
    paper = 0.04 / 0.27 - lever * math.tan(slope_deg * DEG)
    assert found.root == pytest.approx(paper, abs=1e-9)
    assert found.root - 1e-4 <= found.bound <= found.root
    roof = heights_at(Opening.of(tank, breather("b", (0, 0, 0)), 0.04), need, x, y, 1e-4)
    assert roof.root == pytest.approx(0.04 / 0.27 + lever * math.tan(slope_deg * DEG), abs=1e-9)
    assert roof.root <= roof.bound <= roof.root + 1e-4


def test_where_the_port_is_now_does_not_matter():
    tank = box(0.9, 0.3, 0.3)
    here = strainer("s", (0.3, 0.1, 0.2), bore=0.04, length=0.05, facing="forward")
    there = strainer("s", (0.0, 0.0, 0.0), bore=0.04, length=0.05, facing="forward")
    found = [heights_at(Opening.of(tank, p, 0.04), BOX, 0.5, 0.1, 1e-4) for p in (here, there)]
    assert found[0].root == pytest.approx(found[1].root, abs=1e-12)
