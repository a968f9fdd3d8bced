import math

import pytest

from tanksolve.errors import FillError
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.pump.suction_head import level_over_pump


def test_on_level_ground_it_is_the_depth_less_the_pumps_height() -> None:
    head = level_over_pump(box(1.2, 0.5, 0.8), 0.18, (0.1, 0.2, -0.1))
    assert head.level_over_pump_m == pytest.approx(0.3 + 0.1)
    assert (head.pitch_deg, head.roll_deg) == (0.0, 0.0)


def test_the_worst_attitude_is_found_and_told() -> None:
    """Box full to d = 0.3: the surface turns about its middle, so the pump at the nose is lifted."""
    pitches = [Attitude.from_inclinometer(math.radians(p), 0.0) for p in (-10, 10, 5)]
    head = level_over_pump(box(1.2, 0.5, 0.8), 0.18, (1.2, 0.25, 0.0), pitches)
    slope = math.radians(10)
    assert head.pitch_deg == pytest.approx(10.0)
    assert head.level_over_pump_m == pytest.approx(
        0.3 * math.cos(slope) - 0.6 * math.sin(slope), abs=1e-12
    )


def test_least_fill_counts_and_too_much_is_refused() -> None:
    from tanksolve.model.liquid import Fill

    tank = box(1.2, 0.5, 0.8)
    assert level_over_pump(tank, Fill(0.18, 0.24), (0, 0, 0)).level_over_pump_m == pytest.approx(
        0.3
    )
    with pytest.raises(FillError, match="more than the tank holds"):
        level_over_pump(tank, 0.5, (0, 0, 0))
