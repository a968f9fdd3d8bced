"""Attitudes as up vectors: each way of stating one against the rotations and readings it means."""

import math

import numpy as np
import pytest
from hypothesis import given
from strategies import angles, directions, upright

from tanksolve.kernel.attitude import direction

LEVEL = np.array([0.0, 0.0, 1.0])


def machine_axes(yaw: float, pitch: float, roll: float) -> np.ndarray:
    """Forward, left and up axes of the machine as columns in the ground's frame, by plain rotations."""
    cy, sy, cp, sp, cr, sr = (f(a) for a in (yaw, pitch, roll) for f in (math.cos, math.sin))
    turn = np.array([[cy, -sy, 0.0], [sy, cy, 0.0], [0.0, 0.0, 1.0]])
    nose_up = np.array([[cp, 0.0, -sp], [0.0, 1.0, 0.0], [sp, 0.0, cp]])
    right_down = np.array([[1.0, 0.0, 0.0], [0.0, cr, -sr], [0.0, sr, cr]])
    return turn @ nose_up @ right_down


@given(angles(180.0), angles(89.0), angles(179.0))
def test_pitch_roll_is_yaw_then_pitch_then_roll(yaw, pitch, roll):
    seen_from_machine = machine_axes(yaw, pitch, roll).T @ LEVEL
    np.testing.assert_allclose(
        direction.up_from_pitch_roll(pitch, roll), seen_from_machine, atol=1e-15
    )


def test_signs_in_words():
    nose_up = direction.up_from_pitch_roll(0.1, 0.0)
    assert nose_up[0] > 0.0, "with the nose up, forward leans towards the sky"
    right_down = direction.up_from_pitch_roll(0.0, 0.1)
    assert right_down[1] > 0.0, "with the right side down, left leans towards the sky"


@pytest.mark.parametrize(
    ("heading_deg", "uphill"),
    [(0, (1, 0)), (90, (0, 1)), (180, (-1, 0)), (270, (0, -1))],
)
def test_heading_is_the_direction_of_uphill(heading_deg, uphill):
    up = direction.up_from_slope_heading(math.radians(30.0), math.radians(heading_deg))
    np.testing.assert_allclose(up[:2], 0.5 * np.array(uphill), atol=1e-15)


@given(angles(89.0), angles(89.0))
def test_inclinometer_axes_stand_at_these_angles_to_the_horizontal(pitch, roll):
    if math.sin(pitch) ** 2 + math.sin(roll) ** 2 > 1.0:
        with pytest.raises(ValueError, match="no attitude"):
            direction.up_from_inclinometer(pitch, roll)
        return
    up = direction.up_from_inclinometer(pitch, roll)
    assert math.asin(up[0]) == pytest.approx(pitch, abs=1e-9)
    assert math.asin(up[1]) == pytest.approx(roll, abs=1e-9)
    assert up[2] >= 0.0


@given(angles(85.0), angles(85.0))
def test_projected_readings_are_slopes_of_the_two_upright_planes(pitch, roll):
    up = direction.up_from_projected(pitch, roll)
    assert up[0] / up[2] == pytest.approx(math.tan(pitch), rel=1e-12, abs=1e-15)
    assert up[1] / up[2] == pytest.approx(math.tan(roll), rel=1e-12, abs=1e-15)


ROUND_TRIPS = {
    "rotations": (direction.pitch_roll_from_up, direction.up_from_pitch_roll),
    "inclinometer": (direction.inclinometer_from_up, direction.up_from_inclinometer),
    "projected": (direction.projected_from_up, direction.up_from_projected),
    "slope and heading": (direction.slope_heading_from_up, direction.up_from_slope_heading),
}


@pytest.mark.parametrize("way", ROUND_TRIPS)
@given(up=upright())
def test_every_way_of_stating_an_attitude_comes_back(way, up):
    read, state = ROUND_TRIPS[way]
    back = state(*read(up))
    # an inclinometer's u_z is a square root, which loses half the digits where u_z is small
    np.testing.assert_allclose(back, up, atol=1e-13 if way != "inclinometer" else 1e-12)
    assert np.linalg.norm(back) == pytest.approx(1.0, abs=1e-14)


@given(up=directions())
def test_slope_and_heading_cover_the_whole_sphere(up):
    slope, heading = direction.slope_heading_from_up(up)
    assert 0.0 <= slope <= math.pi
    assert 0.0 <= heading <= 2.0 * math.pi
    np.testing.assert_allclose(direction.up_from_slope_heading(slope, heading), up, atol=1e-14)


def test_level_ground_has_no_heading():
    assert direction.slope_heading_from_up(LEVEL) == (0.0, 0.0)


def test_functions_take_grids():
    pitch, roll = np.meshgrid(np.linspace(-0.3, 0.3, 5), np.linspace(-0.2, 0.2, 4))
    grid = direction.up_from_pitch_roll(pitch, roll)
    assert grid.shape == (4, 5, 3)
    back_pitch, back_roll = direction.pitch_roll_from_up(grid)
    np.testing.assert_allclose(back_pitch, pitch, atol=1e-15)
    np.testing.assert_allclose(back_roll, roll, atol=1e-15)


@given(angles(60.0), angles(60.0))
def test_the_three_pitch_roll_conventions_differ_in_the_second_order_only(pitch, roll):
    """On one axis alone they agree; together they part by less than the product of the angles."""
    for state in (direction.up_from_inclinometer, direction.up_from_projected):
        np.testing.assert_allclose(state(pitch, 0.0), direction.up_from_pitch_roll(pitch, 0.0))
        np.testing.assert_allclose(state(0.0, roll), direction.up_from_pitch_roll(0.0, roll))


def test_braking_lifts_the_liquid_at_the_nose():
    """Liquid runs to the nose in braking, as it does when the nose is down: up leans to the tail."""
    felt = direction.up_with_acceleration(LEVEL, (-0.4 * 9.80665, 0.0, 0.0), 9.80665)
    np.testing.assert_allclose(felt, direction.up_from_pitch_roll(-math.atan(0.4), 0.0), atol=1e-15)


def test_free_fall_has_no_up():
    with pytest.raises(ValueError, match="cancel"):
        direction.up_with_acceleration(LEVEL, (0.0, 0.0, -9.80665), 9.80665)
