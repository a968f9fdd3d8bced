"""The paper method of the trade, both ways, and exact areas where it no longer holds.

Hand formula (common practice, no source): on slope b a pickup at distance x uphill of the middle
of a box is lost when depth - height = x tan b. It holds while the surface meets neither roof nor
floor: (L/2) tan b <= depth and <= H - depth.
"""

import itertools
import math

import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.paper import paper_height, paper_slope
from tanksolve.questions.place.heights import heights

INCH, GALLON = 0.0254, 231 * 0.0254**3  # US gallon: 231 cubic inches, NIST Handbook 44 Appendix C
BOXES = {
    # length, width, height, fill, pickup from the rear wall; all SI after the unit
    "900x300x300 mm, 42 L": (0.9, 0.3, 0.3, 0.042, 0.05),
    "1500x620x480 mm, 230 L": (1.5, 0.62, 0.48, 0.230, 0.2),
    "640x400x350 mm, 45 L": (0.64, 0.4, 0.35, 0.045, 0.03),
    "36x14x16 in, 18 US gal": (36 * INCH, 14 * INCH, 16 * INCH, 18 * GALLON, 3 * INCH),
    "20x20x12 in, 11 US gal": (20 * INCH, 20 * INCH, 12 * INCH, 11 * GALLON, 1.5 * INCH),
    "30x18x24 in, 25 US gal": (30 * INCH, 18 * INCH, 24 * INCH, 25 * GALLON, 2 * INCH),
}


def exact_drop(length, height, depth, x, slope):
    """Height over x of the surface that falls forwards and leaves depth x length below: by halving."""
    grade = math.tan(slope)

    def area(at_x):
        def z(s):
            return min(max(at_x - (s - x) * grade, 0.0), height)

        breaks = {0.0, length}
        for y in (0.0, height):
            s = x + (at_x - y) / grade
            if 0.0 < s < length:
                breaks.add(s)
        return sum(0.5 * (z(a) + z(b)) * (b - a) for a, b in itertools.pairwise(sorted(breaks)))

    low, high = -10.0, 10.0
    for _ in range(200):
        middle = 0.5 * (low + high)
        low, high = (middle, high) if area(middle) < depth * length else (low, middle)
    return low


@pytest.mark.parametrize("case", BOXES.values(), ids=BOXES)
def test_limit_slope_from_pickup_height(case):
    length, width, height, fill, x = case
    tank, depth, lever = box(length, width, height), fill / (length * width), 0.5 * length - x
    checked = 0
    for share in (0.35, 0.6, 0.9):
        z = share * depth
        slope = math.atan((depth - z) / lever)
        if 0.5 * length * math.tan(slope) > min(depth, height - depth):
            continue
        found = envelope(tank, [pickup("p", (x, 0.5 * width, z))], fill, every_deg=90)
        assert math.radians(found.nose_down) == pytest.approx(slope, abs=1e-9)
        assert paper_slope(depth, z, lever) == pytest.approx(slope, abs=1e-15)
        checked += 1
    assert checked >= 2, "the triangle holds at most of these heights"


@pytest.mark.parametrize("case", BOXES.values(), ids=BOXES)
@pytest.mark.parametrize("slope_deg", [2.0, 5.0, 9.0])
def test_pickup_height_from_wanted_slope(case, slope_deg):
    length, width, height, fill, x = case
    tank, depth, lever = box(length, width, height), fill / (length * width), 0.5 * length - x
    slope = math.radians(slope_deg)
    need = Requirement.sides(nose_up=slope, nose_down=slope)
    found = heights(tank, pickup("p", (0, 0, 0)), fill, need, x, 0.5 * width)
    assert found.highest_m == pytest.approx(depth - lever * math.tan(slope), abs=1e-9)
    assert found.paper.holds
    assert found.paper.height_m == pytest.approx(found.highest_m, abs=1e-9)
    assert found.set_by.heading_deg == pytest.approx(180.0)


@pytest.mark.parametrize(
    ("fill_share", "slope_deg", "why"),
    [
        (0.25, 15.0, "the floor runs dry"),
        (0.8, 15.0, "meets the roof"),
        (0.45, 30.0, "meets the roof and the floor runs dry"),
    ],
)
def test_past_the_triangle_the_area_integral_is_right_and_paper_is_said_to_be_wrong(
    fill_share, slope_deg, why
):
    length, width, height = 0.9, 0.3, 0.3
    tank, x, slope = box(length, width, height), 0.6, math.radians(slope_deg)
    fill = fill_share * tank.capacity
    found = heights(tank, pickup("p", (0, 0, 0)), fill, Requirement.sides(nose_up=slope), x, 0.15)
    depth = fill_share * height
    exact = exact_drop(length, height, depth, x, slope)
    assert found.highest_m == pytest.approx(exact, abs=1e-9)
    assert not found.paper.holds
    assert why in found.paper.why_not
    assert abs(found.paper.height_m - exact) > 1e-4


def test_walls_that_are_not_upright_are_named():
    from tanksolve.geometry.parts import cylinder

    tank = cylinder(0.5, 1.0)
    said = paper_height(tank, 0.4 * tank.capacity, 0.3, 0.1, math.radians(10), math.radians(90))
    assert not said.holds


def test_half_full_the_paper_method_is_right_by_symmetry_though_roof_and_floor_are_met():
    tank = box(0.9, 0.3, 0.3)
    said = paper_height(tank, 0.5 * tank.capacity, 0.6, 0.15, math.radians(30), 0.0)
    assert said.holds
