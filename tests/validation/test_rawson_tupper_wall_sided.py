"""Wall-sided formula GZ = sin t (GM + BM tan² t / 2): how far the liquid's centroid moves.

Source: K. J. Rawson and E. C. Tupper, Basic Ship Theory, vol. 1 (read at second hand); verified by
direct integration. In body axes the shift is (I / V) tan t across and (I / V) tan² t / 2 upwards, exact
while no floor dries and no roof is met. Box 1.2 x 0.5 m, d = 0.4 m, 15°: 0.0803848 across, centroid at
0.210770 m. Upright cylinder r = 0.3, d = 0.4 m, 20°: 0.0204733 across.
"""

import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import wall_sided_shift
from tanks import box_tank, upright_cylinder

from tanksolve.model.attitude import Attitude
from tanksolve.questions.level.surface import level


def centroid(tank, volume, slope, heading=0.0):
    return np.array(level(tank, volume, Attitude.from_slope(slope, heading)).liquid_centroid_m)


def test_box_at_15_degrees():
    x, _, z = centroid(box_tank(), 0.24, math.radians(15.0))
    assert 0.6 - x == pytest.approx(0.0803848, rel=1e-6)
    assert z == pytest.approx(0.210770, rel=3e-6)


@pytest.mark.parametrize("degrees", [1.0, 5.0, 15.0, 30.0, 33.0])
@pytest.mark.parametrize("heading", [0.0, 90.0, 180.0, 270.0])
def test_box_is_exact_while_its_walls_stay_wet(degrees, heading):
    """tan 33.69° = 2 x 0.4 / 1.2: up to there along the tank, and further across it."""
    slope, k = math.radians(degrees), math.radians(heading)
    along = heading in (0.0, 180.0)
    second = 0.5 * 1.2**3 / 12 if along else 1.2 * 0.5**3 / 12
    across, up = wall_sided_shift(second, 0.24, slope)
    expected = np.array([0.6, 0.25, 0.2 + up]) - across * np.array([math.cos(k), math.sin(k), 0.0])
    np.testing.assert_allclose(centroid(box_tank(), 0.24, slope, k), expected, atol=1e-12)


def test_past_the_drying_edge_the_formula_overstates():
    """It is then a wedge, and the formula no longer holds: a test that cannot pass by accident."""
    slope = math.radians(50.0)
    across, _ = wall_sided_shift(0.072, 0.24, slope)
    assert 0.6 - centroid(box_tank(), 0.24, slope)[0] < across - 0.01


def test_upright_cylinder_at_20_degrees():
    tank = upright_cylinder(0.3, 1.0, 2048)
    x = centroid(tank, 0.4 * math.pi * 0.09, math.radians(20.0))[0]
    assert -x == pytest.approx(0.0204733, rel=6e-6)


def beside():
    x, _, z = centroid(box_tank(), 0.24, math.radians(15.0))
    yield Beside(
        "centroid of a box 1.2 x 0.5 m, 0.4 m deep, at 15°: across", 0.0803848, 0.6 - x, "m"
    )
    yield Beside("the same: its height", 0.210770, z, "m")
