"""Pickup limits of a box, worked by hand.

Source: none published; plane geometry, derived in tests/closed_forms.py. L along the tilt, mean depth d,
height H: the uphill floor edge dries at tan = 2d / L; the roof is reached at tan = 2 (H - d) / L; a point
at the floor's centre is lost at tan = 8d / L if 4d <= H. L = 1.2, d = 0.15, H = 0.8: 14.0362°, past the
roof's 45.0000° at the downhill edge, and wetted length sqrt(2 d L / tan) = 0.789644 m at 30°. The floor
edge of an upright cylinder dries at atan(d / r): 53.1301° for d = 0.4, r = 0.3.
"""

import math

import numpy as np
import pytest
from beside import Beside
from closed_forms import floor_centre_dries, floor_edge_dries, roof_reached
from tanks import box_tank, upright_cylinder

from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.level.surface import level

L, W, H, D = 1.2, 0.5, 0.8, 0.15
VOLUME = L * W * D


def limits(port, **options):
    return envelope(box_tank((L, W, H)), [port], VOLUME, every_deg=90.0, **options)


def test_figures():
    assert math.degrees(floor_edge_dries(D, L)) == pytest.approx(14.0362, abs=5e-5)
    assert math.degrees(floor_centre_dries(D, L)) == pytest.approx(45.0, abs=1e-12)
    assert math.degrees(math.atan(0.4 / 0.3)) == pytest.approx(53.1301, abs=5e-5)


def test_a_pickup_at_the_uphill_floor_edge():
    found = limits(pickup("suction", (L, 0.25, 0.0)))
    assert found.nose_up == pytest.approx(math.degrees(floor_edge_dries(D, L)), abs=1e-9)
    assert found.nose_up == pytest.approx(14.0362, abs=5e-5)


def test_a_pickup_at_the_floor_centre():
    found = limits(pickup("suction", (0.5 * L, 0.25, 0.0)))
    for heading in (found.nose_up, found.nose_down):
        assert heading == pytest.approx(45.0, abs=1e-9)
    # across, 8d / W is past 60°: nothing gives out
    assert math.degrees(floor_centre_dries(D, W)) > 60.0
    assert found.left_down is None
    assert found.right_down is None


def test_a_breather_in_the_roof_edge():
    deep = 0.6
    found = envelope(
        box_tank((L, W, H)), [breather("vent", (0.0, 0.25, H))], L * W * deep, every_deg=90.0
    )
    assert found.nose_up == pytest.approx(math.degrees(roof_reached(deep, L, H)), abs=1e-9)


@pytest.mark.parametrize("degrees", [20.0, 30.0, 44.0])
def test_wetted_length_goes_with_the_root_of_depth(degrees):
    """Past the drying edge the surface meets the floor at sqrt(2 d L / tan) from the low end."""
    slope = math.radians(degrees)
    found = level(box_tank((L, W, H)), VOLUME, Attitude.from_slope(slope, 0.0))
    wetted = found.level_height_m / math.sin(slope)
    assert wetted == pytest.approx(math.sqrt(2.0 * D * L / math.tan(slope)), rel=1e-12)
    if degrees == 30.0:
        assert wetted == pytest.approx(0.789644, rel=1e-6)


@pytest.mark.parametrize("along", [0.5, 0.7, 0.9])
def test_a_floor_pickup_anywhere_obeys_the_root_law(along):
    """Lost when the wetted length shrinks to its distance from the low end: tan = 2 d L / x²."""
    root = math.atan(2.0 * D * L / along**2)
    assert along * math.tan(root) < H  # the liquid's triangle stays below the roof
    found = limits(pickup("suction", (along, 0.25, 0.0)), search_to_deg=88.0)
    assert found.nose_up == pytest.approx(math.degrees(root), abs=1e-9)


def test_near_the_low_end_the_roof_cuts_the_triangle():
    """H x - H² / (2 tan) = d L, hence tan = H² / (2 (H x - d L)); nearer still, it is never lost."""
    expected = math.atan(0.5 * H * H / (H * 0.3 - D * L))
    found = limits(pickup("suction", (0.3, 0.25, 0.0)), search_to_deg=88.0)
    assert found.nose_up == pytest.approx(math.degrees(expected), abs=1e-9)
    assert limits(pickup("suction", (0.2, 0.25, 0.0)), search_to_deg=88.0).nose_up is None


def test_floor_edge_of_an_upright_cylinder():
    """On a polygon with a corner uphill the radius is that of the corner."""
    tank = upright_cylinder(0.3, 1.2, 256)
    corner = float(tank.vertices[:, 0].max())
    found = envelope(
        tank,
        [pickup("suction", (corner, 0.0, 0.0), cover=0.0)],
        0.4 * tank.capacity / 1.2,
        every_deg=90.0,
    )
    assert found.nose_up == pytest.approx(math.degrees(math.atan(0.4 / corner)), abs=1e-9)
    assert found.nose_up == pytest.approx(53.1301, abs=5e-3)
    np.testing.assert_allclose(corner, 0.3, rtol=1e-3)


def beside():
    edge = limits(pickup("suction", (L, 0.25, 0.0))).nose_up
    yield Beside("limit of a pickup at the uphill floor edge of a box", 14.0362, edge, "°")
    centre = limits(pickup("suction", (0.5 * L, 0.25, 0.0))).nose_up
    yield Beside("limit of one at the middle of the floor", 45.0, centre, "°")
    found = level(box_tank((L, W, H)), VOLUME, Attitude.from_slope(math.radians(30.0), 0.0))
    wetted = found.level_height_m / math.sin(math.radians(30.0))
    yield Beside("wetted length at 30°", 0.789644, wetted, "m")
