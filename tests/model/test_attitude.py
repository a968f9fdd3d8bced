"""Attitude: every constructor, every reading, and what is refused."""

import math

import numpy as np
import pytest
from hypothesis import given
from strategies import angles, upright

from tanksolve.errors import AttitudeError
from tanksolve.model.attitude import (
    GRAVITY,
    Attitude,
    heading_words,
    mounting_rotation,
    pitch_roll_words,
    uphill_words,
)


def close(a: Attitude, b: Attitude, atol: float = 1e-12) -> bool:
    return bool(np.allclose(a.up, b.up, rtol=0.0, atol=atol))


@given(upright())
def test_all_constructors_meet_in_the_same_attitude(up):
    there = Attitude(tuple(float(c) for c in up))
    assert close(Attitude.from_rotations(*there.rotations), there)
    assert close(Attitude.from_inclinometer(*there.inclinometer), there)
    assert close(Attitude.from_slope(there.slope, there.heading), there)


@given(angles(80.0), angles(80.0))
def test_rotation_pitch_is_what_an_inclinometer_reads_and_roll_is_not(pitch, roll):
    """sin(roll reading) = sin(roll) cos(pitch): the reading is never the larger."""
    read_pitch, read_roll = Attitude.from_rotations(pitch, roll).inclinometer
    assert read_pitch == pytest.approx(pitch, abs=1e-12)
    assert math.sin(read_roll) == pytest.approx(math.sin(roll) * math.cos(pitch), abs=1e-12)


@given(angles(80.0), angles(80.0))
def test_slope_of_successive_rotations(pitch, roll):
    slope = Attitude.from_rotations(pitch, roll).slope
    assert math.cos(slope) == pytest.approx(math.cos(pitch) * math.cos(roll), abs=1e-12)


@pytest.mark.parametrize(
    ("attitude", "heading_deg"),
    [
        (Attitude.from_rotations(0.2, 0.0), 0.0),
        (Attitude.from_rotations(0.0, 0.2), 90.0),
        (Attitude.from_rotations(-0.2, 0.0), 180.0),
        (Attitude.from_rotations(0.0, -0.2), 270.0),
    ],
    ids=["nose up", "right side down", "nose down", "left side down"],
)
def test_one_axis_at_a_time(attitude, heading_deg):
    assert attitude.slope == pytest.approx(0.2, abs=1e-15)
    assert math.degrees(attitude.heading) == pytest.approx(heading_deg, abs=1e-12)


def test_level():
    assert Attitude.level().up == (0.0, 0.0, 1.0)
    assert Attitude.level().slope == 0.0


@pytest.mark.parametrize(
    "make",
    [
        lambda a: Attitude.from_rotations(a, 0.0),
        lambda a: Attitude.from_rotations(0.0, a),
        lambda a: Attitude.from_inclinometer(a, 0.0),
        lambda a: Attitude.from_inclinometer(0.0, a),
        lambda a: Attitude.from_projected(a, 0.0),
        lambda a: Attitude.from_projected(0.0, a),
        lambda a: Attitude.from_slope(a, 0.0),
    ],
)
@pytest.mark.parametrize("degrees", [90.0, -90.0, 120.0, math.inf, math.nan])
def test_at_or_past_a_right_angle_is_refused(make, degrees):
    with pytest.raises(AttitudeError, match="at or past 90°"):
        make(math.radians(degrees))


def test_readings_that_exclude_each_other():
    with pytest.raises(AttitudeError, match=r"no attitude reads 60° pitch and 50° roll") as caught:
        Attitude.from_inclinometer(math.radians(60.0), math.radians(50.0))
    assert "successive rotations" in caught.value.next_step


@pytest.mark.parametrize("up", [(0.0, 0.0, 2.0), (0.0, 0.0, 0.0), (math.nan, 0.0, 1.0)])
def test_up_must_be_a_unit_vector(up):
    with pytest.raises(ValueError, match="not a unit vector"):
        Attitude(up)


def test_accelerations_tilt_the_liquid():
    """tan of the angle = a / g on level ground, worked by hand: 0.4 g gives 21.8014 degrees."""
    braking = Attitude.level().with_acceleration((-0.4 * GRAVITY, 0.0, 0.0))
    assert math.degrees(braking.slope) == pytest.approx(21.8014, abs=5e-5)
    assert math.degrees(braking.heading) == pytest.approx(180.0), "as with the nose down"
    # 8 m/s on a curve of 20 m to the left pushes the machine to its left: v²/r
    cornering = Attitude.level().with_acceleration((0.0, 8.0**2 / 20.0, 0.0))
    assert math.degrees(cornering.slope) == pytest.approx(18.0720, abs=5e-5)
    assert math.degrees(cornering.heading) == pytest.approx(90.0), "as with the right side down"


def test_acceleration_up_an_incline():
    """2 m/s² straight up a slope of 15 degrees: 25.5985 degrees between surface and floor."""
    felt = Attitude.from_rotations(math.radians(15.0), 0.0).with_acceleration((2.0, 0.0, 0.0))
    assert math.degrees(felt.slope) == pytest.approx(25.5985, abs=5e-5)


def test_free_fall_is_refused():
    with pytest.raises(AttitudeError, match="cancel"):
        Attitude.level().with_acceleration((0.0, 0.0, -GRAVITY))


@given(angles(180.0), angles(80.0), angles(80.0))
def test_mounting_is_a_rotation(yaw, pitch, roll):
    turn = mounting_rotation(yaw, pitch, roll)
    np.testing.assert_allclose(turn @ turn.T, np.eye(3), atol=1e-14)
    assert np.linalg.det(turn) == pytest.approx(1.0)


@given(angles(180.0), angles(80.0), angles(80.0))
def test_a_tank_mounted_askew_on_a_level_machine_stands_at_that_attitude(yaw, pitch, roll):
    seen = Attitude.level().mounted(mounting_rotation(yaw, pitch, roll))
    assert close(seen, Attitude.from_rotations(pitch, roll))


def test_a_tank_turned_to_the_left_takes_the_machines_pitch_as_roll():
    """Its nose points to the machine's left, so its right side is at the machine's nose."""
    turned = mounting_rotation(yaw=math.radians(90.0))
    seen = Attitude.from_rotations(math.radians(10.0), 0.0).mounted(turned)
    pitch, roll = (math.degrees(a) for a in seen.rotations)
    assert (pitch, roll) == pytest.approx((0.0, -10.0), abs=1e-12)
    np.testing.assert_allclose(turned @ (0.0, 1.0, 0.0), (1.0, 0.0, 0.0), atol=1e-15)


@pytest.mark.parametrize(
    ("heading_deg", "words"),
    [
        (0, "nose up"),
        (2, "nose up"),
        (45, "nose up, right side down"),
        (70, "right side down, nose up"),
        (90, "right side down"),
        (135, "nose down, right side down"),
        (180, "nose down"),
        (200, "nose down, left side down"),
        (270, "left side down"),
        (359, "nose up"),
    ],
)
def test_headings_in_words(heading_deg, words):
    assert heading_words(math.radians(heading_deg)) == words


@pytest.mark.parametrize(
    ("heading_deg", "digits", "words"),
    [
        (359.97, 1, "0.0° (nose up)"),
        (359.6, 0, "0° (nose up)"),
        (-1e-9, 1, "0.0° (nose up)"),
        (720.0, 0, "0° (nose up)"),
        (150.6, 0, "151° (nose down, right side down)"),
        (270.0, 1, "270.0° (left side down)"),
    ],
)
def test_uphill_is_told_in_words_and_never_as_360(heading_deg, digits, words):
    assert uphill_words(heading_deg, digits) == words


def test_pitch_and_roll_are_told_without_signs():
    ten, five = math.radians(10.0), math.radians(5.0)
    assert pitch_roll_words(ten, -five) == (
        "10.0° (17.6 % grade) nose up, 5.0° (8.7 % grade) left side down"
    )
    assert pitch_roll_words(-ten, 0.0) == "10.0° (17.6 % grade) nose down"
    assert pitch_roll_words(0.0, 0.0) == "level ground"


@given(angles(180.0))
def test_heading_words_agree_with_the_signs_of_pitch_and_roll(heading):
    pitch, roll = Attitude.from_slope(0.3, heading).inclinometer
    words = heading_words(heading)
    assert ("nose up" in words) <= (pitch > 0.0)
    assert ("nose down" in words) <= (pitch < 0.0)
    assert ("right side down" in words) <= (roll > 0.0)
    assert ("left side down" in words) <= (roll < 0.0)
