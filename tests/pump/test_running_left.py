"""Seconds until air reaches the pump: a range, since the middle of laminar flow runs at twice the mean."""

import pytest

from tanksolve.errors import FillError
from tanksolve.pump.crossflow import running_left


def test_seconds_of_running_left_are_a_range() -> None:
    left = running_left(0.001, 0.0017, 0.0008)
    assert left.seconds == pytest.approx(0.85 + 0.8, rel=1e-12)
    assert left.seconds_plug == pytest.approx(2.5, rel=1e-12)
    assert "1.65 to 2.50 s" in left.words


def test_the_soonest_is_when_the_middle_of_a_parabola_arrives() -> None:
    """Poiseuille's profile, by quadrature: the mean of 1 - r² over the disc is half its middle."""
    count = 100_000
    mean = sum((1.0 - r * r) * 2.0 * r / count for r in ((k + 0.5) / count for k in range(count)))
    left = running_left(0.002, 0.003)
    assert left.seconds == pytest.approx(mean * left.seconds_plug, rel=1e-8)


def test_what_a_pot_holds_lasts_in_full() -> None:
    left = running_left(0.001, 0.0, 0.0008)
    assert left.seconds == left.seconds_plug == pytest.approx(0.8)


def test_nonsense_is_refused() -> None:
    with pytest.raises(FillError, match="negative"):
        running_left(0.001, -0.1)
