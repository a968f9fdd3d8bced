"""Liquid in rigid-body motion: tan(angle) = a_h / (g + a_v), with a_h = a cos, a_v = a sin uphill.

mathalino.com, node 3374 (read in that page); also in F. M. White and in Munson (from memory).
"""

import math
from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.pump.motion import accelerate, brake, corner, rotation_rise


def test_brake_0_4_g_on_the_flat() -> None:
    pitch, roll = brake(0.4 * GRAVITY).effective.rotations
    assert math.degrees(pitch) == pytest.approx(-21.8014, abs=5e-5)
    assert roll == 0.0


def test_corner_8_metres_per_second_at_20_metres() -> None:
    for side, sign in (("left", 1.0), ("right", -1.0)):
        pitch, roll = corner(8.0, 20.0, side).effective.rotations
        assert math.degrees(roll) == pytest.approx(sign * 18.0720, abs=5e-5)
        assert pitch == 0.0


def test_climb_15_degrees_while_accelerating() -> None:
    climb = accelerate(2.0, Attitude.from_rotations(math.radians(15.0), 0.0))
    from_floor = math.degrees(climb.effective.rotations[0])
    assert from_floor == pytest.approx(25.5985, abs=5e-5)
    assert from_floor - 15.0 == pytest.approx(10.5985, abs=5e-5)
    assert climb.effective_gravity_m_s2 == pytest.approx(10.5035, abs=5e-5)


def test_spinning_tank() -> None:
    assert rotation_rise(2.0 * math.pi, 0.3) == pytest.approx(0.181156, abs=5e-7)


def beside() -> Iterator[Beside]:
    ours = math.degrees(-brake(0.4 * GRAVITY).effective.rotations[0])
    yield Beside("nose down in liquid's eyes, braking at 0.4 g", 21.8014, ours, "°")
    ours = math.degrees(corner(8.0, 20.0, "left").effective.rotations[1])
    yield Beside("right side down, 8 m/s round a left bend of 20 m", 18.0720, ours, "°")
    climb = accelerate(2.0, Attitude.from_rotations(math.radians(15.0), 0.0))
    ours = math.degrees(climb.effective.rotations[0])
    yield Beside("nose up, 15° climb at 2 m/s²", 25.5985, ours, "°")
