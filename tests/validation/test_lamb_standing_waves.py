"""Standing waves f = sqrt(g k tanh kh) / 2 pi; k = n pi / L in a box, 1.84118 / R in a cylinder.

The box's form as in case V8.21.101 of a general finite-element code's validation manual (read
there); the cylinder's root from memory.
"""

import pytest

from tanksolve.pump.slosh import box_frequency, cylinder_frequency, with_baffle


@pytest.mark.parametrize(("mode", "hertz"), [(1, 0.712543), (2, 1.12329), (3, 1.39417)])
def test_box_1_2_by_0_4(mode: int, hertz: float) -> None:
    assert box_frequency(1.2, 0.4, mode) == pytest.approx(hertz, rel=5e-6)


def test_solid_centre_baffle() -> None:
    effect = with_baffle(1.2, 0.4, 0.6)
    assert effect.whole_hz == pytest.approx(0.712543, abs=5e-7)
    assert effect.rear_hz == effect.front_hz == pytest.approx(1.12329, abs=5e-6)


def test_cylinder() -> None:
    assert cylinder_frequency(0.3, 0.4) == pytest.approx(1.22565, abs=5e-6)
