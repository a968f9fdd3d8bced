"""Spherical cap, V = pi h² (3R - h) / 3.

Source: Lexique de mathématique (netmath), "spherical segment". R = 1, h = 0.6: 0.904779.
"""

import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import cap
from tanks import ball_tank, random_up

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import moments, volumes

LEVEL = [[0.0, 0.0, 1.0]]


def test_figure():
    assert cap(1.0, 0.6) == pytest.approx(0.904779, rel=1e-6)
    found = volumes(ball_tank(120).tree, LEVEL, [-0.4])[0][0]
    assert found == pytest.approx(0.904779, rel=4e-4)


@pytest.mark.parametrize("height", [0.6, 1.5])
def test_converges_at_second_order_in_the_rings(height):
    """Along an oblique direction, where rings do not line up with the plane, too."""
    exact = cap(1.0, height)
    for up in (np.array(LEVEL), random_up(np.random.default_rng(1), 1)):
        rings = (12, 24, 48)
        error = [exact - float(volumes(ball_tank(n).tree, up, [height - 1.0])[0][0]) for n in rings]
        assert min(error) > 0.0  # inscribed: it holds less
        order = np.polyfit(np.log(rings), np.log(error), 1)[0]
        assert order == pytest.approx(-2.0, abs=0.1)


def test_surface_of_the_cap_is_a_circle():
    """Area pi a² and second moment pi a⁴ / 4 with a² = h (2R - h); Richardson takes off the h²."""
    a2 = 0.6 * 1.4
    below = [moments(t.tree, t.tensors, LEVEL, [-0.4]) for t in map(ball_tank, (60, 120))]
    area = (4.0 * below[1].area[0] - below[0].area[0]) / 3.0
    assert area == pytest.approx(math.pi * a2, rel=1e-4)
    second = [m.surface_second[0] for m in below]
    fine = (4.0 * second[1] - second[0]) / 3.0
    np.testing.assert_allclose(np.diag(fine)[:2], math.pi * a2**2 / 4.0, rtol=2e-4)


def test_half_full_ball_stands_at_its_centre():
    tank = ball_tank(24)
    up = random_up(np.random.default_rng(2), 30)
    height = levels(tank.tree, up, 0.5 * tank.capacity)[0]
    np.testing.assert_allclose(height, 0.0, atol=1e-13)


def beside():
    ours = volumes(ball_tank(120).tree, LEVEL, [-0.4])[0][0]
    yield Beside("spherical cap R = 1, h = 0.6 (facets inscribed)", 0.904779, ours, "m³")
