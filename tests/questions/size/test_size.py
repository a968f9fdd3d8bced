"""Smallest sizes against closed forms, and that a hair smaller fails."""

import math
from dataclasses import replace
from pathlib import Path

import numpy as np
import pytest

from tanksolve.errors import FillError, PortError, TankError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.parts import box, cylinder, extrusion
from tanksolve.geometry.sumps import round_sump
from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import FACINGS, Port, PortKind, breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.project.load import load
from tanksolve.questions.envelope.requirement_met import conditions_met
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.questions.size import size
from tanksolve.questions.size.size import smallest
from tanksolve.questions.size.stretch import DIMENSIONS, stretched
from tanksolve.questions.size.sump_gain import sump_gain
from tanksolve.state.conditions import Conditions

DEG = math.radians(1.0)
BOX = box(0.9, 0.3, 0.3)
PORTS = [pickup("p", (0.3, 0.15, 0.05)), breather("b", (0.45, 0.15, 0.3))]
LEVEL = Requirement.every_heading(0.0)


def test_height_on_level_ground_is_what_arithmetic_says():
    """Standing level the marks are the pickup and the breather: usable = area x (height - 50 mm)."""
    found = smallest(BOX, PORTS, LEVEL, "height", usable=0.02)
    assert found.smallest_m == pytest.approx(0.05 + 0.02 / 0.27, abs=1e-9)
    assert abs(found.residual_m3) <= 1e-9
    assert found.ends_on == "rule"
    assert {by.port for by in found.set_by} == {"p", "b"}
    assert found.meets_now
    assert found.smallest_m <= found.held_m <= 1.001 * found.smallest_m
    wide = smallest(BOX, PORTS, LEVEL, "width", usable=0.1)
    assert wide.smallest_m == pytest.approx(0.1 / (0.9 * 0.25), abs=1e-9)
    assert not wide.meets_now


def test_height_for_a_fill_on_a_pitch_is_the_paper_height():
    """Nose up or down b the liquid is a prism that turns about the middle of the floor: a pickup at a
    distance e behind the middle and a height z needs V / (L W) = z + e tan b, a breather c ahead of
    it in the roof leaves H = V / (L W) + c tan b. Only H depends on the height."""
    b, fill = 5 * DEG, 0.04
    ports = [pickup("p", (0.3, 0.15, 0.05)), breather("b", (0.65, 0.15, 0.3))]
    found = smallest(BOX, ports, Requirement.sides(b, b), "height", fill=fill)
    depth = fill / (0.9 * 0.3)
    assert depth > 0.05 + 0.15 * math.tan(b)
    assert depth > 0.45 * math.tan(b)  # the floor stays covered, so it is a prism
    # nose down (uphill at 180 degrees) liquid stands c tan b over the middle's level at the breather;
    # at the nose wall itself, 0.45 m ahead, it would pass the roof: the prism is cut there
    roof = _roof_height(depth, math.tan(b), ahead=0.2)
    assert found.smallest_m == pytest.approx(roof, abs=1e-9)
    (by,) = found.set_by
    assert (by.port, by.slope_deg) == ("b", pytest.approx(5.0))
    assert math.cos(math.radians(by.heading_deg)) == pytest.approx(-1.0)


def _roof_height(depth, slope, ahead):
    """H at which the surface meets the roof ``ahead`` of the middle: the air over it is a triangle.

    Beyond that place the tank is full; before it the air is (half + ahead)^2 slope / 2 a width.
    """
    half = 0.45
    return depth + (half + ahead) ** 2 * slope / 2 / (2 * half)


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
        (worst,) = conditions_met(Conditions.of(other, moved, Fill.of(target["fill"])), need, 1e-4)
        return (worst.held_margin_m if bound else worst.margin_m) >= (-1e-4 if bound else -1e-12)

    assert met(found.factor)
    assert not met(found.factor * (1.0 - 1e-7))
    assert met(found.held_m / found.now_m, bound=True)


def test_no_answer_is_said():
    tall = [pickup("p", (0.3, 0.15, 0.05)), breather("b", (0.45, 0.15, 0.051))]
    found = smallest(BOX, tall, LEVEL, "height", usable=0.02)
    assert found.smallest_m is None
    assert not found.meets_now


def test_a_tank_that_only_just_holds_the_fill_is_a_jump():
    """A pickup at the floor is covered the better the fuller: V = L W H ends it, with all but its need
    to spare. Nose up 15 degrees the pickup needs the prism below the plane through it."""
    b, fill = 15 * DEG, 0.042
    ports = [pickup("p", (0.8, 0.15, 0.01))]
    found = smallest(BOX, ports, Requirement.sides(nose_up=b), "length", fill=fill)
    length = fill / (0.3 * 0.3)
    assert found.smallest_m == pytest.approx(length, rel=1e-9)
    assert found.ends_on == "capacity"
    assert found.jump_words == "is the smallest that holds the fill at all"
    assert 0.1 * math.tan(b) > 0.01  # the floor is dry before the nose wall
    rise = 0.01 + (length - 0.1) * math.tan(b)  # depth at the rear wall
    assert rise < 0.3  # no roof
    need = 0.3 * rise**2 / math.tan(b) / 2
    assert found.residual_m3 == pytest.approx(fill - need, rel=1e-7)
    assert found.held_m == pytest.approx(found.smallest_m, rel=1e-3)


def test_a_port_that_would_be_left_outside_is_a_jump():
    """300 mm from the rear wall there is no tank shorter than 300 mm; 20 L would fit in 222 mm."""
    ports = [pickup("p", (0.3, 0.15, 0.05))]
    found = smallest(BOX, ports, LEVEL, "length", fill=0.02)
    assert found.smallest_m == pytest.approx(0.3, rel=1e-5)
    assert found.ends_on == "port"
    assert "below it port 'p'" in found.jump_words
    assert found.residual_m3 == pytest.approx(0.02 - 0.3 * 0.3 * 0.05, rel=1e-4)


def test_a_fill_that_does_not_fit_is_not_solved(monkeypatch):
    solved = []

    def watched(tank, *args, **options):
        solved.append(tank.capacity)
        return fill_limits(tank, *args, **options)

    monkeypatch.setattr(size, "fill_limits", watched)
    need = Requirement.every_heading(15 * DEG)
    found = size.smallest(BOX, PORTS[:1], need, "scale", fill=0.042)
    assert found.smallest_m == pytest.approx(0.9 * (0.042 / 0.081) ** (1 / 3))
    assert found.solves == len(solved) <= 12
    assert min(solved) >= 0.042


def test_a_root_that_was_right_only_for_the_coarse_search_is_sought_again(monkeypatch):
    """The coarse search has missed the worst attitude: it would have the tank at 0.8 of its size."""
    solve = size.fill_limits

    def short_sighted(*args, tolerance, **options):
        found = solve(*args, tolerance=tolerance, **options)
        missed = 0.2 * found.least_root_m3 if tolerance > 1e-3 else 0.0
        return replace(found, least_root_m3=found.least_root_m3 - missed)

    monkeypatch.setattr(size, "fill_limits", short_sighted)
    found = size.smallest(BOX, PORTS, LEVEL, "height", usable=0.02)
    assert found.smallest_m == pytest.approx(0.05 + 0.02 / 0.27, abs=1e-9)


def test_a_port_on_a_wall_inside_the_enclosing_box_moves_with_that_wall():
    """The floor beside a sump is 80 mm over the lowest point, in a tank twice as high 160 mm."""
    deep = build(Parts(BOX, sumps=(round_sump("sump", (0.3, 0.15), 0.15, 0.08),)))
    ports = [pickup("on the floor", (0.6, 0.1, 0.0)), pickup("over it", (0.6, 0.1, 0.02))]
    tank, moved = stretched(deep, ports, "height", 2.0)
    assert moved[0].position == pytest.approx((0.6, 0.1, 0.08))
    assert moved[1].position == pytest.approx((0.6, 0.1, 0.02))
    assert tank.distance_to_wall(moved[0].position) < 1e-9


@pytest.mark.parametrize("usable", [0.0, -0.003, math.nan, math.inf])
def test_a_usable_volume_that_is_none_is_refused(usable):
    with pytest.raises(FillError):
        smallest(BOX, PORTS, LEVEL, "height", usable=usable)


def test_a_fill_that_the_tank_cannot_hold_now_is_refused():
    with pytest.raises(FillError):
        smallest(BOX, PORTS, LEVEL, "height", fill=0.082)


def test_stretching_keeps_ports_at_their_walls():
    ports = [pickup("p", (0.1, 0.15, 0.05)), breather("b", (0.8, 0.15, 0.29))]
    tank, moved = stretched(BOX, ports, "scale", 2.0)
    assert tank.capacity == pytest.approx(8 * BOX.capacity)
    assert moved[0].position == pytest.approx((0.1, 0.3, 0.05))
    assert moved[1].position == pytest.approx((1.7, 0.3, 0.59))
    assert stretched(BOX, ports, "length", 1.0)[1][1].position == pytest.approx((0.8, 0.15, 0.29))
    with pytest.raises(TankError):
        stretched(BOX, ports, "length", 0.0)


def opening(length, width, at=(0.45, 0.15, 0.3)):
    """A rectangular opening in the roof of the box, its corners its outline."""
    half = (0.5 * length, 0.5 * width)
    rim = tuple((a * half[0], b * half[1], 0.0) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1)))
    across = math.hypot(length, width)
    return Port("o", PortKind.FILLER, at, bore=across, facing=FACINGS["up"], rim=rim)


@pytest.mark.parametrize("factor", [0.5, 1.0, 2.0])
@pytest.mark.parametrize("x", [0.22, 0.45, 0.68])
def test_a_hatch_keeps_its_size_in_a_tank_of_another_length(factor, x):
    hatch = opening(0.4, 0.1, (x, 0.15, 0.3))
    (moved,) = stretched(BOX, [hatch], "length", factor)[1]
    assert np.ptp(moved.rim, axis=0) == pytest.approx((0.4, 0.1, 0.0))
    assert moved.bore == pytest.approx(hatch.bore)


def test_a_hatch_longer_than_the_tank_is_as_long_as_it():
    (moved,) = stretched(BOX, [opening(0.4, 0.1)], "length", 1 / 3)[1]
    assert np.ptp(moved.rim, axis=0) == pytest.approx((0.3, 0.1, 0.0))
    assert moved.bore == pytest.approx(math.hypot(0.3, 0.1))


@pytest.mark.parametrize("factor", [0.5, 2.0])
def test_an_open_top_is_as_long_as_its_tank(factor):
    (moved,) = stretched(BOX, [opening(0.9, 0.3)], "length", factor)[1]
    assert np.ptp(moved.rim, axis=0) == pytest.approx((0.9 * factor, 0.3, 0.0))
    assert moved.bore == pytest.approx(math.hypot(0.9 * factor, 0.3))


def test_an_outline_in_a_wall_aslant_stays_in_it():
    """A hatch in a roof that falls forward: in a longer tank the roof falls less, and so does the hatch."""
    tank = extrusion([(0.0, 0.0), (0.9, 0.0), (0.9, 0.1), (0.0, 0.3)], 0.3, "across")
    fall = np.array([0.1, 0.0, -0.1 * 0.2 / 0.9])
    corners = (a * fall + (0.0, 0.05 * b, 0.0) for a, b in ((1, 1), (-1, 1), (-1, -1), (1, -1)))
    rim = tuple((x, y, z) for x, y, z in np.array(list(corners)).tolist())
    out = (0.2, 0.0, 0.9)
    hatch = Port("o", PortKind.FILLER, (0.45, 0.15, 0.2), bore=0.23, facing=out, rim=rim)
    other, (moved,) = stretched(tank, [hatch], "length", 2.0)
    for corner in moved.rim:
        assert other.distance_to_wall(np.add(moved.position, corner)) < 1e-9


def test_the_least_length_of_a_tank_with_a_hatch_is_that_of_a_hatch_of_its_size():
    """Nose up b the liquid stands to the hatch's rear edge, d = L/2 + 0.2 from the front wall, the roof behind it
    wet: V = W (L H - d² tan b / 2), a quadratic in L."""
    b, fill, width, height = math.radians(10.0), 0.04, 0.3, 0.3
    asked = Requirement.single(Attitude.from_slope(b, 0.0))
    found = smallest(BOX, [opening(0.4, 0.1)], asked, "length", fill=fill)
    t = 0.5 * math.tan(b)
    terms = [-t / 4, height - 0.2 * t, -0.04 * t - fill / width]
    assert found.smallest_m == pytest.approx(min(np.roots(terms)), abs=1e-6)


def test_a_stretched_cylinder_is_a_longer_one():
    tank, _ = stretched(cylinder(0.4, 1.0), [], "length", 1.5)
    assert tank.capacity == pytest.approx(cylinder(0.4, 1.5).capacity)


def test_a_sump_gains_what_stands_below_the_pickup_on_level_ground():
    """Before, a slab of the floor as deep as the pickup is high; after, the same of the sump."""
    sump = round_sump("sump", (0.3, 0.15), 0.15, 0.08)
    found = sump_gain(BOX, PORTS, LEVEL, sump)
    before, after = 0.9 * 0.3 * 0.05, math.pi * 0.075**2 * 0.05
    assert found.adds_m3 == pytest.approx(math.pi * 0.075**2 * 0.08, rel=1e-9)
    assert found.least_before_m3 == pytest.approx(before, rel=1e-9)
    assert found.least_after_m3 == pytest.approx(after, rel=1e-8)  # a bound: rounding is added
    assert found.gain_m3 == pytest.approx(before - after, rel=1e-8)
    assert found.pickup_m == pytest.approx((0.3, 0.15, 0.05 - 0.08))
    with pytest.raises(PortError):
        sump_gain(BOX, PORTS[1:], LEVEL, sump)


def test_a_sump_gains_on_a_slope_what_two_wedges_differ_by():
    """Nose down b, one plane through the pickup: before, a triangle from the dry floor behind it to
    the nose wall, W (z + (L - x) tan b)^2 / (2 tan b). After, what the nose can hold back before it
    runs over the sump's foremost rim, W (L - x - r)^2 tan b / 2, and the sump, as full as at its
    middle: pi r^2 z."""
    b, z, x, r, depth = 20 * DEG, 0.05, 0.3, 0.075, 0.08
    nose = z + (0.9 - x) * math.tan(b)
    assert nose < 0.3  # no roof
    assert z < x * math.tan(b)  # dry floor behind
    assert r * math.tan(b) < z < depth - r * math.tan(b)  # within the sump's wall
    sump = round_sump("sump", (x, 0.15), 2 * r, depth)
    found = sump_gain(BOX, PORTS, Requirement.sides(nose_down=b), sump, tolerance=1e-6)
    before = 0.3 * nose**2 / (2 * math.tan(b))
    corners = build(Parts(BOX, sumps=(sump,))).vertices
    rim = corners[(abs(corners[:, 2]) < 1e-9) & (corners[:, 0] < 0.5), 0].max()  # a facet's corner
    assert rim == pytest.approx(x + r, abs=1e-3)
    after = 0.3 * (0.9 - rim) ** 2 * math.tan(b) / 2 + math.pi * r**2 * z
    assert found.least_before_m3 == pytest.approx(before, abs=1e-6 * 0.27)
    assert found.least_after_m3 == pytest.approx(after, abs=1e-6 * 0.27)
    assert found.gain_m3 == pytest.approx(before - after, abs=2e-6 * 0.27)


TWO_BAYS = load(Path(__file__).parents[3] / "meshes" / "two_bays.toml").tank
IN_FRONT = [pickup("p", (0.55, 0.2, 0.015), bore=0.02, cover=0.02)]


def test_behind_a_wall_what_the_rear_bay_may_hold_is_added_to_the_width():
    """On level ground the front bay needs the depth d, and the rear one, 0.497 m long, may brim at the
    wall's 0.2 m: usable = width x (0.2988 m² - 0.497 m x d - 0.503 m x 0.2 m), plate taken as rear."""
    found = smallest(TWO_BAYS, IN_FRONT, Requirement.every_heading(0.0), "width", usable=0.06)
    depth = 0.015 + 0.01 + 0.02
    # the mesh has its plate from 497 to 503 mm
    section = 0.3 - 0.006 * 0.2 - 0.497 * depth - 0.497 * 0.2
    assert found.smallest_m == pytest.approx(0.06 / section, rel=1e-8)
    assert found.ends_on == "rule"
    assert found.held_m >= found.smallest_m
