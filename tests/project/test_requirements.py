"""The notation of --require, and its mistakes."""

import math

import numpy as np
import pytest

from tanksolve.errors import QuantityError, RequirementError, TanksolveError
from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.model.requirement import Requirement
from tanksolve.project.requirements import parse_gauge, parse_requirement, parse_requirements

DEG = math.radians(1.0)


@pytest.mark.parametrize(
    ("text", "same"),
    [
        ("15deg", Requirement.every_heading(15 * DEG)),
        ("25%", Requirement.every_heading(math.atan(0.25))),
        ("1:4", Requirement.every_heading(math.atan(0.25))),
        ("pitch=20deg,roll=10deg", Requirement.box(20 * DEG, 10 * DEG)),
        (" roll=10deg , pitch=20deg", Requirement.box(20 * DEG, 10 * DEG)),
        ("nose_up=30deg,nose_down=15deg", Requirement.sides(30 * DEG, 15 * DEG)),
        ("brake=0.5g,corner=0.8g", Requirement.accelerations(0.5 * 9.80665, 0.0, 0.8 * 9.80665)),
    ],
)
def test_notation(text, same):
    found = parse_requirement(text)
    for one, other in zip(found.patches, same.patches, strict=True):
        assert (one.chart, *one.a, *one.b) == pytest.approx((other.chart, *other.a, *other.b))


def test_lists_and_repeats_join():
    found = parse_requirements(["15deg", "slope=20deg,heading=90deg; at_pitch=10deg,at_roll=-5deg"])
    assert len(found.patches) == 3
    up = up_from_inclinometer(10 * DEG, -5 * DEG)
    last = found.patches[2]
    assert last.a[0] == pytest.approx(math.acos(up[2]))
    assert last.b[0] == pytest.approx(np.arctan2(up[1], up[0]) % math.tau)


@pytest.mark.parametrize(
    ("text", "error", "says"),
    [
        ("15", QuantityError, "degrees or grade percent"),
        ("15degs", QuantityError, "15degs"),
        ("modu-statics", RequirementError, "modu-static"),
        ("pitsch=5deg", RequirementError, "did you mean 'pitch'"),
        ("pitch=5deg,slope=5deg", RequirementError, "do not go together"),
        ("10deg,pitch=5deg", RequirementError, "only accelerations can be added"),
        ("10deg,brake=0.5", QuantityError, "acceleration"),
        ("pitch=5deg,pitch=6deg", RequirementError, "twice"),
        ("pitch=-5deg", RequirementError, "negative"),
        ("pitch=5deg,as=euler", RequirementError, "as=euler"),
        ("95deg", RequirementError, "89°"),
        ("", RequirementError, "no attitude"),
    ],
)
def test_mistakes_name_the_option(text, error, says):
    with pytest.raises(error) as caught:
        parse_requirements([text])
    assert says in caught.value.message
    assert "--require" in caught.value.message


def test_gauge():
    gauge = parse_gauge("stick", "100,150,5mm,lean=10deg,towards=90deg", "--dipstick")
    assert gauge.foot == pytest.approx((0.1, 0.15, 0.005))
    assert gauge.direction == pytest.approx((0.0, math.sin(10 * DEG), math.cos(10 * DEG)))
    with pytest.raises(TanksolveError):
        parse_gauge("stick", "100,150,5mm,tilt=3deg", "--dipstick")
