"""Centre of buoyancy under small tilt: BM = A k² / V = I / V.

Source: Encyclopaedia Britannica, 11th ed., vol. 14, "Hydromechanics", equation (5). Box 1.2 x 0.5 m,
liquid 0.4 m deep: I = 0.0720000 m⁴, BM = 0.300000 m. Upright cylinder r = 0.3 m, 0.4 m deep:
I = pi r⁴ / 4 = 0.00636173 m⁴, BM = r² / 4d = 0.0562500 m.
"""

import math

import numpy as np
import pytest
from beside import Beside
from tanks import box_tank, upright_cylinder

from tanksolve.model.attitude import Attitude
from tanksolve.questions.level.surface import level


def small_tilt_shift(tank, volume, slope):
    """How far the liquid's centroid runs downhill for a small nose-up tilt."""
    tilted = level(tank, volume, Attitude.from_slope(slope, 0.0))
    return level(tank, volume).liquid_centroid_m[0] - tilted.liquid_centroid_m[0]


def test_box():
    found = level(box_tank(), 0.24)
    second = found.surface_second_moment_m4[0][0]
    assert second == pytest.approx(0.5 * 1.2**3 / 12, rel=1e-12)
    assert second == pytest.approx(0.0720000, rel=1e-6)
    assert second / 0.24 == pytest.approx(0.300000, rel=1e-6)
    assert small_tilt_shift(box_tank(), 0.24, 1e-5) / 1e-5 == pytest.approx(0.3, rel=1e-8)


def test_upright_cylinder():
    """The polygon's own I / V holds exactly; the circle's to second order in the facets."""
    tank = upright_cylinder(0.3, 1.0, 2048)
    volume = 0.4 * math.pi * 0.09
    second = level(tank, volume).surface_second_moment_m4[0][0]
    assert second == pytest.approx(0.00636173, rel=4e-6)
    assert second / volume == pytest.approx(0.0562500, rel=4e-6)
    shift = small_tilt_shift(tank, volume, 1e-5) / 1e-5
    assert shift == pytest.approx(second / volume, rel=1e-8)


def test_second_moments_of_the_polygon_converge_at_second_order():
    exact = math.pi * 0.3**4 / 4
    sides = np.array([16, 32, 64, 128])
    error = []
    for n in sides:
        tank = upright_cylinder(0.3, 1.0, int(n))
        moment = level(tank, 0.4 * tank.capacity).surface_second_moment_m4
        error.append(abs(moment[0][0] - exact))
    # of equal area a regular polygon's moment is right to fourth order
    assert np.polyfit(np.log(sides), np.log(error), 1)[0] == pytest.approx(-4.0, abs=0.1)


def beside():
    second = level(box_tank(), 0.24).surface_second_moment_m4[0][0]
    yield Beside("BM of a box 1.2 x 0.5 m, 0.4 m deep", 0.3, second / 0.24, "m")
    tank, volume = upright_cylinder(0.3, 1.0, 2048), 0.4 * math.pi * 0.09
    second = level(tank, volume).surface_second_moment_m4[0][0]
    yield Beside("BM of an upright cylinder r = 0.3 m, 0.4 m deep", 0.05625, second / volume, "m")
