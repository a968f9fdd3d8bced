"""Lying cylinder with flat ends: level, and tilted along its axis.

Source: D. Jones, "Calculating Tank Volume", flat-ended cylinder: A_f = R² acos((R - h) / R) -
(R - h) sqrt(2 R h - h²), V = A_f L. The tilted figures are our own integral of A_f along the axis
(closed_forms.tilted_cylinder), checked by quadrature; R = 0.5, L = 2, depth h at mid-length.
"""

import itertools
import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import segment_area, tilted_cylinder
from tanks import circle, convex_prism

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes

R, L = 0.5, 2.0
TABLE = [
    (0.3, 0.0, 0.396337),
    (0.3, 2.0, 0.396692),
    (0.3, 5.0, 0.398579),
    (0.3, 15.0, 0.418828),
    (0.3, 30.0, 0.518065),
    (0.5, 30.0, 0.785398),
    (0.8, 30.0, 1.17296),
]


def plane(depth, slope):
    """The plane z = depth - R - (x - L/2) tan slope, nose up, axis at z = 0."""
    up = np.array([[math.sin(slope), 0.0, math.cos(slope)]])
    return up, up @ [0.5 * L, 0.0, depth - R]


def held(depth, slope, sides, equal_area=False):
    tank = convex_prism(circle(R, sides, equal_area), L)
    return float(volumes(tank.tree, *plane(depth, slope))[0][0])


@pytest.mark.parametrize(("depth", "degrees", "volume"), TABLE)
def test_table(depth, degrees, volume):
    slope = math.radians(degrees)
    assert tilted_cylinder(R, L, depth, slope) == pytest.approx(volume, rel=3e-6)
    assert held(depth, slope, 4096, equal_area=True) == pytest.approx(volume, rel=4e-6)


@pytest.mark.parametrize("slope_deg", [2.0, 15.0, 30.0, 60.0])
@pytest.mark.parametrize("depth", [0.1, 0.3, 0.8])
def test_closed_form_is_the_quadrature_of_the_segment(depth, slope_deg):
    """Gauss points on the stretches between the ends and the places where the section runs dry or full."""
    t = math.tan(math.radians(slope_deg))
    breaks = {0.0, L, *(0.5 * L + (depth - e) / t for e in (0.0, 2 * R))}
    inner = sorted(x for x in breaks if 0.0 <= x <= L)
    nodes, weights = np.polynomial.legendre.leggauss(200)
    total = 0.0
    for a, b in itertools.pairwise(inner):
        xs = 0.5 * (a + b) + 0.5 * (b - a) * nodes
        areas = [segment_area(R, depth - (x - 0.5 * L) * t) for x in xs]
        total += 0.5 * (b - a) * float(weights @ areas)
    assert tilted_cylinder(R, L, depth, math.radians(slope_deg)) == pytest.approx(total, rel=1e-6)


@pytest.mark.parametrize(("depth", "degrees"), [(0.3, 0.0), (0.3, 15.0), (0.8, 30.0)])
def test_converges_at_second_order_in_the_facets(depth, degrees):
    exact = tilted_cylinder(R, L, depth, math.radians(degrees))
    sides = (64, 128, 256, 512, 1024)
    error = [abs(held(depth, math.radians(degrees), n) - exact) for n in sides]
    order = np.polyfit(np.log(sides), np.log(error), 1)[0]
    assert order == pytest.approx(-2.0, abs=0.15)


def test_half_full_is_half_by_symmetry_on_any_mesh():
    """Facets or not: exact to rounding on a polygon with a centre of symmetry."""
    assert held(0.5, math.radians(30.0), 12) == pytest.approx(held(1.0, 0.0, 12) / 2, rel=1e-13)


def test_level_is_the_inverse():
    tank = convex_prism(circle(R, 2048, True), L)
    for depth, degrees, _ in TABLE:
        slope = math.radians(degrees)
        up, height = plane(depth, slope)
        found = levels(tank.tree, up, tilted_cylinder(R, L, depth, slope))[0]
        np.testing.assert_allclose(found, height, atol=2e-6)


def test_rolling_about_its_axis_moves_no_liquid():
    tank = convex_prism(circle(R, 256, True), L)
    roll = np.radians(np.linspace(-60.0, 60.0, 41))
    up = np.stack([np.zeros(41), np.sin(roll), np.cos(roll)], axis=-1)
    height = levels(tank.tree, up, 0.3 * tank.capacity)[0]
    assert np.ptp(height) < 1e-4 * R


def beside():
    for depth, degrees, volume in TABLE:
        what = f"lying cylinder R = 0.5 m, L = 2 m, depth {depth:g} m at mid-length, tilted {degrees:g}°"
        yield Beside(what, volume, held(depth, math.radians(degrees), 4096, equal_area=True), "m³")
