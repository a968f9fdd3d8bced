"""Allowances of the marks in a plain box against formulas written out, nothing taken from a solved mark.

In a box the liquid is a prism as long as it meets neither the roof nor, dry, the floor: its surface
turns about the middle of the plan. With the floor's area A, on a slope b along the length:

    least   A (z + l tan b)    pickup z over the floor, l from the middle
    most    A (y - c tan b)    breather at height y, c from the middle
"""

import math

import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.marks.gauge import Gauge
from tanksolve.questions.marks.marks import Allowances, marks

INCH = 0.0254
SLOPE = math.radians(6.0)
ALONG = Requirement.sides(nose_up=SLOPE, nose_down=SLOPE)
FINE = 1e-6  # of the bounds [m]
GAUGE_TOLERANCE = 1e-4  # of the marks on a gauge that is read on a slope [m]
BOXES = [(0.9, 0.3, 0.3), (48 * INCH, 20 * INCH, 18 * INCH), (0.6, 0.5, 0.4)]


class Case:
    """A box with a pickup and a breather, and its marks on paper."""

    def __init__(self, size):
        self.length, self.width, self.height = size
        self.area = self.length * self.width
        self.behind, self.low = 0.35 * self.length, 0.15 * self.height
        self.ahead, self.high = 0.1 * self.length, 0.8 * self.height
        middle, side = 0.5 * self.length, 0.5 * self.width
        self.tank = box(*size)
        self.ports = [
            pickup("p", (middle - self.behind, side, self.low)),
            breather("b", (middle + self.ahead, side, self.high)),
        ]
        self.least = self.area * (self.low + self.behind * math.tan(SLOPE))
        self.most = self.area * (self.high - self.ahead * math.tan(SLOPE))
        half = 0.5 * self.length * math.tan(SLOPE)
        assert half < self.least / self.area  # the floor stays covered
        assert self.most / self.area + half < self.height  # the roof stays dry

    def marks(self, gauges=(), **allowances):
        allow = Allowances(**allowances)
        return marks(self.tank, self.ports, ALONG, allowances=allow, gauges=gauges, tolerance=FINE)

    def check(self, found, least, most, growth=0.0):
        """Marks as on paper, and where a bound leaves them a little, on the safe side."""
        slack = FINE * self.area
        assert -1e-12 <= found.least_m3 - least <= slack / (1.0 - growth)
        assert -1e-12 <= most - found.most_m3 <= slack / (1.0 + growth)
        assert found.least_dip_m == pytest.approx(found.least_m3 / self.area, abs=1e-9)
        assert found.most_dip_m == pytest.approx(found.most_m3 / self.area, abs=1e-9)


@pytest.fixture(params=BOXES, ids=["millimetres", "inches", "square"])
def case(request):
    return Case(request.param)


def test_without_allowances(case):
    found = case.marks()
    assert found.limits.least_root_m3 == pytest.approx(case.least, rel=1e-9)
    assert found.limits.most_root_m3 == pytest.approx(case.most, rel=1e-9)
    case.check(found, case.least, case.most)


def test_reading_error_is_its_depth_of_liquid(case):
    """A dipstick read 3 mm wrong is wrong by 3 mm times the floor."""
    error = 0.003
    found = case.marks(reading_error=error)
    case.check(found, case.least + case.area * error, case.most - case.area * error)


def test_thermal_growth_is_taken_of_what_stands_at_the_mark(case):
    """What is left after shrinking, V (1 - g), must be the least; what has grown, V (1 + g), the most."""
    growth = 0.04
    found = case.marks(thermal_growth=growth)
    case.check(found, case.least / (1.0 - growth), case.most / (1.0 + growth), growth)


def test_draw_down_leaves_and_comes_back(case):
    """Cylinders take D out of a tank at the least mark, and bring D back to one at the most."""
    drawn = 0.05 * case.most
    found = case.marks(draw_down=drawn)
    case.check(found, case.least + drawn, case.most - drawn)


def test_all_at_once(case):
    """Drawn off first, shrunk next, read wrong last: ((V + D) / (1 - g)) / A + e of dip."""
    drawn, growth, error = 0.02 * case.most, 0.03, 0.002
    found = case.marks(draw_down=drawn, thermal_growth=growth, reading_error=error)
    least = (case.least + drawn) / (1.0 - growth) + case.area * error
    most = (case.most - drawn) / (1.0 + growth) - case.area * error
    case.check(found, least, most, growth)


def test_tilt_while_reading_is_the_lever_of_an_upright_stick(case):
    """Over a place (p, q) off the middle the surface is hypot(p, q) tan t higher at the worst heading;
    over the middle it does not move, so the volumes stay as they are."""
    tilt, p, q = math.radians(0.5), -0.3 * case.length, 0.2 * case.width
    stick = Gauge("stick", (0.5 * case.length + p, 0.5 * case.width + q, 0.0))
    found = case.marks(gauges=[stick], tilt=tilt)
    lever = math.hypot(p, q) * math.tan(tilt)
    _check_stick(found, case.least / case.area + lever, case.most / case.area - lever)
    slack = GAUGE_TOLERANCE * case.area
    assert 0.0 <= found.least_m3 - case.least <= slack + FINE * case.area
    assert 0.0 <= case.most - found.most_m3 <= slack + FINE * case.area


def test_tilt_while_reading_a_leaning_stick(case):
    """A stick with its foot (p, f) that leans forward by a: its mark r is where the surface meets it,
    f + r cos a = d + (p + r sin a) tan t, so r = (d - f + p tan t) / (cos a - sin a tan t); the least
    with uphill behind, the most the other way, whichever is worse. An error e adds to the reading."""
    tilt, lean, error = math.radians(0.7), math.radians(20.0), 0.002
    p, foot = -0.3 * case.length, 0.01
    stick = Gauge("stick", (0.5 * case.length + p, 0.5 * case.width, foot), lean, 0.0)
    found = case.marks(gauges=[stick], tilt=tilt, reading_error=error)

    def readings(volume):
        depth = volume / case.area - foot
        return [
            (depth + p * s) / (math.cos(lean) - math.sin(lean) * s)
            for s in (math.tan(tilt), -math.tan(tilt))
        ]

    _check_stick(found, max(readings(case.least)) + error, min(readings(case.most)) - error)


def _check_stick(found, least, most):
    """Marks of the only gauge, never laxer than on paper and at most the tolerance stricter."""
    (stick,) = found.gauges
    slack = 1.1 * GAUGE_TOLERANCE + 2 * FINE
    assert -1e-9 <= stick.least_mark_m - least <= slack
    assert -1e-9 <= most - stick.most_mark_m <= slack
