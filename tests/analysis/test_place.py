"""Zones and best places against many random points; heights against the paper method."""

import math

import numpy as np
import pytest

from tanksolve.analysis.place import Opening, best_place, heights_at, zone_half_spaces
from tanksolve.build.parts import box, cylinder, extrusion
from tanksolve.build.zone import carved
from tanksolve.kernel.attitude_cells import ups
from tanksolve.kernel.halfspaces import corners_of
from tanksolve.model.ports import breather, pickup, strainer
from tanksolve.model.requirement import Meaning, Requirement

DEG = math.radians(1.0)
CONE, BOX = Requirement.every_heading(20 * DEG), Requirement.box(20 * DEG, 10 * DEG)
TILTED = Requirement.sides(25 * DEG, 5 * DEG, 0.0, 15 * DEG, Meaning.ROTATIONS)
PICKUP = pickup("p", (0, 0, 0), bore=0.03, facing="down", cover=0.01)
SIDEWAYS = pickup("p", (0, 0, 0), bore=0.05, facing="left", cover=0.0)
STRAINER = strainer("s", (0, 0, 0), bore=0.04, length=0.05, facing="forward", cover=0.0)
CAP = breather("b", (0, 0, 0), bore=0.02, facing="up", cover=0.005)


def wedge():
    return extrusion([(0, 0), (0.9, 0), (0.9, 0.4), (0.2, 0.4)], 0.5, "across")


def ell():
    return extrusion([(0, 0), (0.5, 0), (0.5, 0.15), (0.3, 0.15), (0.3, 0.35), (0, 0.35)], 0.6)


TEN = {
    "box, cone": (box(0.9, 0.3, 0.3), 0.5, PICKUP, CONE),
    "box, breather": (box(0.9, 0.3, 0.3), 0.6, CAP, BOX),
    "flat box": (box(1.2, 0.8, 0.15), 0.7, PICKUP, Requirement.every_heading(4 * DEG)),
    "tall box": (box(0.2, 0.3, 0.8), 0.3, SIDEWAYS, BOX),
    "lying": (cylinder(0.5, 1.0), 0.5, PICKUP, BOX),
    "across": (cylinder(0.4, 0.7, "across"), 0.4, STRAINER, CONE),
    "upright": (cylinder(0.4, 0.7, "upright"), 0.5, CAP, CONE),
    "wedge": (wedge(), 0.5, PICKUP, TILTED),
    "ell": (ell(), 0.6, PICKUP, CONE),
    "braking": (box(0.6, 0.5, 0.4), 0.5, SIDEWAYS, Requirement.accelerations(4.0, 2.0, 3.0)),
}


def attitudes(requirement, count, rng):
    """Random required attitudes, half of them on the rim, the corners among them."""
    found = []
    for patch in requirement.patches:
        a, b = rng.uniform(*patch.a, count), rng.uniform(*patch.b, count)
        a[: count // 2] = rng.choice(patch.a, count // 2)
        b[count // 2 : 3 * count // 4] = rng.choice(patch.b, count // 4)
        a[:4], b[:4] = np.repeat(patch.a, 2), np.tile(patch.b, 2)
        found.append(ups(np.full(count, patch.chart, np.int8), a, b))
    return np.vstack(found)


def margins(opening, places, up):
    """Least margin of each place over ``up``, by the plain definition, not by half-spaces."""
    from tanksolve.kernel.level import levels
    from tanksolve.kernel.support import support_high, support_low

    height = levels(opening.tank.tree, up, opening.volume, lowest=opening.dry)[0]
    if opening.dry:
        edge = support_low(opening.discs, up) - opening.cover
        return (places @ up.T + edge - height).min(axis=1)
    edge = support_high(opening.discs, up) + opening.cover
    return (height - edge - places @ up.T).min(axis=1)


def points_in(tank, count, rng):
    """Random points of a tank; boxes and prisms only need the winding number of their own mesh."""
    points = rng.uniform(tank.lower, tank.upper, (3 * count, 3))
    return points[np.abs(tank.winding(points)) > 0.5][:count]


@pytest.mark.parametrize("case", TEN.values(), ids=TEN)
def test_every_point_of_the_zone_holds_and_none_well_outside_does(case):
    tank, share, port, need = case
    rng = np.random.default_rng(11)
    opening = Opening.of(tank, port, share * tank.capacity)
    shrink = 1e-3
    spaces = zone_half_spaces(opening, need, shrink)
    assert spaces is not None
    up = attitudes(need, 600, rng)
    points = rng.uniform(tank.lower, tank.upper, (10_000, 3))
    margin = margins(opening, points, up)
    inside = (points @ spaces.normals.T <= spaces.offsets).all(axis=1)
    assert inside.sum() > 20
    assert margin[inside].min() >= -1e-9
    # farther than the gap outside a face: lost at some required attitude
    out = (points @ spaces.normals[6:].T - spaces.offsets[6:]).max(axis=1) > spaces.gap
    assert margin[out].max() < 5e-5  # 600 samples of the rim do not hit the very worst attitude
    exact = [opening.worst_margin(p, need, 1e-3).value for p in points[out][:20]]
    assert min(exact) > 0.0


@pytest.mark.parametrize("case", TEN.values(), ids=TEN)
def test_the_best_place_beats_ten_thousand_random_points(case):
    tank, share, port, need = case
    rng = np.random.default_rng(12)
    opening = Opening.of(tank, port, share * tank.capacity)
    best, worst = best_place(opening, need, tank.vertices[tank.faces], 1e-3)
    assert -worst.value - 1e-3 <= best.margin <= -worst.value
    up = attitudes(need, 400, rng)
    points = (
        points_in(tank, 10_000, rng)
        if tank.capacity < 0.02
        else tank.lower + (rng.random((10_000, 3)) * (tank.upper - tank.lower))
    )
    candidates = margins(opening, points, up)
    for k in np.argsort(-candidates)[:5]:
        if np.abs(tank.winding(points[k])[0]) > 0.5:
            assert -opening.worst_margin(points[k], need, 1e-3).value <= -worst.value + 1e-6
    assert margins(opening, best.place[None], up)[0] >= best.margin


def test_zone_solid_is_the_part_of_the_tank_inside_its_half_spaces():
    tank, share, port, need = TEN["ell"]
    spaces = zone_half_spaces(Opening.of(tank, port, share * tank.capacity), need, 1e-3)
    region = carved(tank, corners_of(spaces.normals, spaces.offsets))
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
