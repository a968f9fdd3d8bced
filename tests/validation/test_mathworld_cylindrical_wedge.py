"""Cylindrical wedge and Archimedes' hoof, cut from an upright cylinder by a plane.

Source: MathWorld, "Cylindrical Wedge", equations 8-10, citing J. W. Harris and H. Stocker, Handbook
of Mathematics and Computational Science (1998), p. 104: V = (h R² / 3)(3 sin p - 3 p cos p - sin³ p) /
(1 - cos p); at p = 90° the hoof, 2/3 R² h. The plane meets the base in a chord and the wall at height
h above the base's farthest point.
"""

import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import wedge
from tanks import upright_cylinder

from tanksolve.kernel.capacity.volumes import volumes

FIGURES = [(60.0, 0.251841), (90.0, 0.666667), (120.0, 1.13114), (180.0, 1.57080)]


def cut(radius, height, half_angle, sides, equal_area=False):
    """Volume of the wedge in a cylinder of ``sides`` facets."""
    chord = radius * math.cos(half_angle)  # the chord's distance from the axis, towards the tip
    rise = height / (radius - chord)
    # in the wedge z <= rise (x - chord)
    up = np.array([[-rise, 0.0, 1.0]]) / math.hypot(rise, 1.0)
    tank = upright_cylinder(radius, height, sides, equal_area=equal_area)
    return float(volumes(tank.tree, up, [-rise * chord / math.hypot(rise, 1.0)])[0][0])


@pytest.mark.parametrize(("angle", "volume"), FIGURES)
def test_figures(angle, volume):
    assert wedge(1.0, 1.0, math.radians(angle)) == pytest.approx(volume, rel=5e-6)
    found = cut(1.0, 1.0, math.radians(angle), 4096, equal_area=True)
    assert found == pytest.approx(volume, rel=1e-5)


def test_hoof_of_0_3_by_0_5():
    assert cut(0.3, 0.5, math.pi / 2, 4096, equal_area=True) == pytest.approx(0.03, rel=2e-6)


@pytest.mark.parametrize(("equal_area", "order"), [(False, 2.0), (True, 4.0)])
@pytest.mark.parametrize("angle", [60.0, 90.0, 120.0])
def test_converges_at_second_order_in_the_facets(angle, equal_area, order):
    """Four times as near for twice the facets; facets of equal area, cut at a corner, sixteen times."""
    exact = wedge(1.0, 1.0, math.radians(angle))
    error = [
        abs(cut(1.0, 1.0, math.radians(angle), n, equal_area) - exact) for n in (48, 96, 192, 384)
    ]
    orders = np.log2(np.array(error[:-1]) / error[1:])
    np.testing.assert_allclose(orders, order, atol=0.12)
    assert error[-1] < 2e-4 * exact


def test_inscribed_facets_hold_less():
    assert cut(1.0, 1.0, math.pi / 2, 24) < wedge(1.0, 1.0, math.pi / 2)


def beside():
    for angle, volume in FIGURES:
        ours = cut(1.0, 1.0, math.radians(angle), 4096, equal_area=True)
        yield Beside(f"wedge of R = h = 1 at {angle:g}°", volume, ours, "m³")
