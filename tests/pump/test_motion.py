import math

import pytest

from tanksolve.errors import AttitudeError
from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.pump.motion import Manoeuvre, accelerate, brake, corner


def test_braking_is_felt_as_nose_down_and_a_left_corner_as_right_side_down() -> None:
    assert brake(3.0).effective.rotations[0] < 0.0
    assert accelerate(3.0).effective.rotations[0] > 0.0
    assert corner(8.0, 20.0, "left").effective.rotations[1] > 0.0


def test_tilt_in_g_gives_the_acceleration_back() -> None:
    forward, left = brake(0.4 * GRAVITY).tilt_in_g
    assert forward == pytest.approx(-0.4, rel=1e-12)
    assert left == 0.0


def test_braking_downhill_adds_to_the_slope() -> None:
    downhill = Attitude.from_rotations(math.radians(-10.0), 0.0)
    pitch = brake(0.3 * GRAVITY, downhill).effective.rotations[0]
    assert pitch < math.radians(-10.0) - 0.2
    on_grade = math.degrees(
        math.atan2(math.sin(math.radians(10)) + 0.3, math.cos(math.radians(10)))
    )
    assert math.degrees(pitch) == pytest.approx(-on_grade, rel=1e-12)


def test_names_are_in_the_users_words() -> None:
    assert brake(0.4 * GRAVITY).name == "brake 0.40 g"
    assert corner(8.0, 20.0, "right").name == "corner right 8 m/s at 20 m"


def test_nonsense_is_refused() -> None:
    for bad in (lambda: brake(-1.0), lambda: corner(8.0, 0.0, "left"), lambda: brake(math.nan)):
        with pytest.raises(AttitudeError):
            bad()
    with pytest.raises(AttitudeError, match="not a side"):
        corner(8.0, 20.0, "up")
    with pytest.raises(AttitudeError, match="no surface"):
        Manoeuvre.of("free fall", (0.0, 0.0, -GRAVITY))
