"""A tilted upright cylinder's surface is larger by sqrt(1 + m²), m the tilt as a ratio.

Source: ISO 7507-1:2003 (vertical cylindrical tanks, strapping) applies with a tilt correction up to
3 % (scope only). The figures are geometry: 3 % gives +0.0449899 %, 1 in 70 gives +0.0102036 %.
"""

import math

import numpy as np
import pytest
from beside import Beside
from tanks import upright_cylinder

from tanksolve.model.attitude import Attitude
from tanksolve.questions.level.surface import level


@pytest.mark.parametrize(("m", "percent"), [(0.03, 0.0449899), (1.0 / 70.0, 0.0102036)])
@pytest.mark.parametrize("heading", [0.0, 37.0, 180.0])
def test_surface_area_of_a_tilted_upright_cylinder(m, percent, heading):
    tank = upright_cylinder(2.0, 6.0, 96)
    attitude = Attitude.from_slope(math.atan(m), math.radians(heading))
    flat, tilted = (level(tank, 0.5 * tank.capacity, a) for a in (None, attitude))
    gain = tilted.surface_area_m2 / flat.surface_area_m2 - 1.0
    assert 100.0 * gain == pytest.approx(percent, rel=1e-5)
    np.testing.assert_allclose(1.0 + gain, math.sqrt(1.0 + m * m), rtol=1e-12)


def beside():
    tank = upright_cylinder(2.0, 6.0, 96)
    flat = level(tank, 0.5 * tank.capacity).surface_area_m2
    for m, percent, words in ((0.03, 0.0449899, "3 %"), (1.0 / 70.0, 0.0102036, "1 in 70")):
        tilted = level(tank, 0.5 * tank.capacity, Attitude.from_slope(math.atan(m), 0.0))
        ours = 100.0 * (tilted.surface_area_m2 / flat - 1.0)
        yield Beside(f"gain of an upright cylinder's surface, tilted {words}", percent, ours, "%")
