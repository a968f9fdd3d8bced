import math

import pytest

from tanksolve.errors import FillError, TankError
from tanksolve.pump.crossflow import running_left
from tanksolve.pump.slosh import (
    box_frequency,
    box_modes,
    cylinder_frequency,
    equivalent_box,
    near_excitation,
    with_baffle,
)


def test_equivalent_box_of_a_box_is_the_box() -> None:
    length, width, depth = 1.2, 0.5, 0.4
    area = length * width
    modes = equivalent_box(area * depth, area, area * length**2 / 12, area * width**2 / 12)
    exact = box_modes(length, width, depth, "box")
    for mode, other in zip(modes, exact, strict=True):
        assert mode.frequency_hz == pytest.approx(other.frequency_hz, rel=1e-12)
        assert "estimate" in mode.basis


def test_equivalent_box_of_an_upright_cylinder_is_near_its_closed_form() -> None:
    r, h = 0.3, 0.4
    area, second = math.pi * r**2, math.pi * r**4 / 4
    first = equivalent_box(area * h, area, second, second)[0]
    assert first.frequency_hz == pytest.approx(cylinder_frequency(r, h), rel=0.05)


def test_shallow_water_limit() -> None:
    assert box_frequency(10.0, 0.01) == pytest.approx(math.sqrt(9.80665 * 0.01) / 20.0, rel=1e-5)


def test_a_baffle_raises_the_lowest_frequency_most_at_the_middle() -> None:
    lowest = [
        min(e.rear_hz, e.front_hz) for e in (with_baffle(1.2, 0.4, x) for x in (0.2, 0.4, 0.6))
    ]
    assert with_baffle(1.2, 0.4, 0.2).whole_hz < lowest[0] < lowest[1] < lowest[2]
    assert "longer bay" in with_baffle(1.2, 0.4, 0.2).words


def test_near_excitation() -> None:
    assert near_excitation(1.0, (0.79, 0.81, 1.19, 1.21)) == (0.81, 1.19)


def test_seconds_of_running_left() -> None:
    left = running_left(0.001, 0.0017, 0.0008)
    assert left.seconds == pytest.approx(2.5, rel=1e-12)
    assert "2.50 s" in left.words


def test_nonsense_is_refused() -> None:
    with pytest.raises(TankError, match="outside the tank"):
        with_baffle(1.2, 0.4, 1.3)
    with pytest.raises(TankError, match="not positive"):
        box_frequency(1.2, 0.0)
    with pytest.raises(FillError, match="not positive"):
        near_excitation(1.0, (0.0,))
    with pytest.raises(FillError, match="negative"):
        running_left(0.001, -0.1)
