"""Grade percent against degrees, as a driver finds it in tables.

Source: TB 9-2350-292-10 (technical bulletin), grade percent = 100 x rise / run. The degrees below
carry six digits of that relation.
Second part: the trap of two conventions for pitch with roll, worked by hand below.
"""

import math
import re

import pytest
from beside import Beside

from tanksolve.model.attitude import Attitude
from tanksolve.units import parse_angle, slope_words

GRADES = {
    10: 5.71059,
    12: 6.84277,
    15: 8.53077,
    20: 11.3099,
    30: 16.6992,
    40: 21.8014,
    50: 26.5651,
    55: 28.8108,
    60: 30.9638,
    75: 36.8699,
}


@pytest.mark.parametrize(("grade", "degrees"), GRADES.items())
def test_grade_percent_reads_as_degrees(grade, degrees):
    assert math.degrees(parse_angle(f"{grade}%")) == pytest.approx(degrees, rel=5e-6)


@pytest.mark.parametrize(("grade", "degrees"), GRADES.items())
def test_a_slope_is_written_both_ways_rounded_down(grade, degrees):
    words = slope_words(math.atan(0.01 * grade), 3)
    told, percent = map(float, re.fullmatch(r"([\d.]+)° \(([\d.]+) % grade\)", words).groups())
    assert 0.0 <= degrees - told < 0.0011  # the table's own last digit is rounded
    assert percent == grade


@pytest.mark.parametrize(
    ("pitch", "roll", "rotations", "projected"),
    [
        # 22.5° roll and 7.5° pitch, from class rules for offshore units; acos(cos p cos r) when
        # they are successive rotations, atan(hypot(tan p, tan r)) when they are two slopes
        ("7.5deg", "22.5deg", 23.6553, 23.4913),
        ("60%", "30%", 34.7819, 33.8545),
    ],
)
def test_the_same_pair_of_angles_is_two_slopes(pitch, roll, rotations, projected):
    p, r = parse_angle(pitch), parse_angle(roll)
    as_rotations = math.degrees(Attitude.from_rotations(p, r).slope)
    as_projected = math.degrees(Attitude.from_projected(p, r).slope)
    assert as_rotations == pytest.approx(rotations, abs=5e-5)
    assert as_projected == pytest.approx(projected, abs=5e-5)


def test_an_inclinometer_pair_is_a_third_slope():
    """sin² slope = sin² p + sin² r: 23.85°, steeper than both."""
    by_hand = math.asin(math.hypot(math.sin(math.radians(7.5)), math.sin(math.radians(22.5))))
    read = Attitude.from_inclinometer(math.radians(7.5), math.radians(22.5))
    assert read.slope == pytest.approx(by_hand, abs=1e-14)
    assert math.degrees(by_hand) == pytest.approx(23.8492, abs=5e-5)


def beside():
    for grade in (10, 30, 60):
        found = math.degrees(parse_angle(f"{grade}%"))
        yield Beside(f"{grade} % grade", GRADES[grade], found, "°")
