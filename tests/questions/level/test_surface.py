"""The free surface at one attitude, and what it says of each port."""

import math

import numpy as np
import pytest
from closed_forms import box_level
from tanks import box_tank, tank

from tanksolve.errors import FillError, PortError
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, drain, pickup
from tanksolve.questions.level.surface import level
from tanksolve.record import as_plain

SIZE = (1.2, 0.5, 0.8)


def test_box_standing_level():
    found = level(box_tank(SIZE), 0.24, density=870.0)
    assert found.up == (0.0, 0.0, 1.0)
    assert found.level_height_m == pytest.approx(0.4, abs=1e-14)
    assert found.depth_m == pytest.approx(0.4, abs=1e-14)
    assert found.surface_area_m2 == pytest.approx(0.6, rel=1e-14)
    assert found.surface_centroid_m == pytest.approx((0.6, 0.25, 0.4), abs=1e-14)
    assert found.liquid_centroid_m == pytest.approx((0.6, 0.25, 0.2), abs=1e-14)
    np.testing.assert_allclose(
        found.surface_second_moment_m4,
        np.diag([0.5 * 1.2**3 / 12, 1.2 * 0.5**3 / 12, 0.0]),
        atol=1e-14,
    )
    assert found.liquid_mass_kg == pytest.approx(870.0 * 0.24)
    assert found.ullage_m3 == pytest.approx(0.24)
    assert (found.slope_deg, found.heading_deg) == (0.0, 0.0)


def test_no_density_no_mass():
    assert level(box_tank(SIZE), 0.24).liquid_mass_kg is None


@pytest.mark.parametrize(("pitch", "roll"), [(10.0, 5.0), (-20.0, 8.0), (35.0, -40.0)])
def test_tilted_box(pitch, roll):
    attitude = Attitude.from_rotations(math.radians(pitch), math.radians(roll))
    found = level(box_tank(SIZE), 0.2, attitude)
    assert found.level_height_m == pytest.approx(box_level(SIZE, attitude.up, 0.2), abs=1e-13)
    lowest = sum(min(0.0, s * u) for s, u in zip(SIZE, attitude.up, strict=True))
    assert found.depth_m == pytest.approx(found.level_height_m - lowest, abs=1e-13)
    # the centroid of the surface lies in the surface
    assert np.dot(found.up, found.surface_centroid_m) == pytest.approx(
        found.level_height_m, abs=1e-13
    )
    # and the second moments are of a plane figure: nought along up
    np.testing.assert_allclose(np.array(found.surface_second_moment_m4) @ found.up, 0.0, atol=1e-14)
    # liquid runs to the low side: nose up leaves the centroid behind the middle
    assert (found.liquid_centroid_m[0] < 0.6) is (pitch > 0.0)
    assert (found.liquid_centroid_m[1] < 0.25) is (roll > 0.0)


def test_ports_at_their_margins():
    """Level at 0.4 m: margins are depths over, or air under, less what the rule asks for."""
    ports = [
        pickup("suction", (0.6, 0.25, 0.1), bore=0.05, facing="down", cover=0.04),
        pickup("sideways", (0.6, 0.25, 0.38), bore=0.1, facing="left", cover=0.0),
        breather("vent", (0.6, 0.25, 0.8), cover=0.05),
        drain("drain", (0.1, 0.1, 0.0)),
    ]
    found = {port.name: port for port in level(box_tank(SIZE), 0.24, ports=ports).ports}
    assert found["suction"].margin_m == pytest.approx(0.4 - 0.1 - 0.04)
    assert found["suction"].wet
    assert found["suction"].covered
    assert found["suction"].holds
    half_bare = found["sideways"]
    assert half_bare.margin_m == pytest.approx(0.4 - 0.38 - 0.05)
    assert half_bare.wet
    assert not half_bare.covered
    assert not half_bare.holds
    assert found["vent"].margin_m == pytest.approx(0.8 - 0.05 - 0.4)
    assert not found["vent"].wet
    assert found["vent"].holds
    assert found["drain"].margin_m == pytest.approx(0.4)
    assert found["drain"].holds
    assert [port.kind for port in found.values()] == ["pickup", "pickup", "breather", "drain"]


def test_a_drowned_breather_and_a_dry_pickup():
    ports = [breather("vent", (1.1, 0.25, 0.39)), pickup("suction", (0.1, 0.25, 0.41))]
    vent, suction = level(box_tank(SIZE), 0.24, ports=ports).ports
    assert vent.margin_m == pytest.approx(-0.01)
    assert vent.wet
    assert not vent.holds
    assert suction.margin_m == pytest.approx(-0.01)
    assert not suction.wet
    assert not suction.holds


def test_empty():
    attitude = Attitude.from_slope(0.3, 1.0)
    found = level(box_tank(SIZE), 0.0, attitude, [drain("drain", (0.0, 0.0, 0.0))])
    assert found.depth_m == pytest.approx(0.0, abs=1e-15)
    assert found.ullage_m3 == pytest.approx(0.48)
    assert not found.ports[0].wet
    assert math.isnan(found.liquid_centroid_m[0])


def test_brim_full():
    attitude = Attitude.from_slope(0.3, 1.0)
    found = level(box_tank(SIZE), box_tank(SIZE).capacity, attitude)
    top = sum(max(0.0, s * u) for s, u in zip(SIZE, attitude.up, strict=True))
    assert found.level_height_m == pytest.approx(top, abs=1e-14)
    assert found.ullage_m3 == 0.0
    assert found.liquid_centroid_m == pytest.approx((0.6, 0.25, 0.4), abs=1e-13)


def test_one_drop():
    found = level(box_tank(SIZE), 1e-12)
    assert found.depth_m == pytest.approx(1e-12 / 0.6, rel=1e-3)
    assert found.surface_area_m2 == pytest.approx(0.6)


def test_between_two_bodies_a_port_is_read_the_kind_way_and_the_level_the_low_way():
    """All that liquid could stand at is tried: see the margins' docstring for which way each leans."""
    found = level(tank("two bodies"), 0.4 * 0.4 * 0.3)
    assert found.level_height_m == pytest.approx(0.3, abs=1e-9)


@pytest.mark.parametrize("volume", [-1e-9, 0.49, math.nan])
def test_a_fill_that_does_not_fit_is_refused(volume):
    with pytest.raises(FillError, match="does not fit"):
        level(box_tank(SIZE), volume)


def test_a_port_outside_is_refused():
    with pytest.raises(PortError, match="outside the tank"):
        level(box_tank(SIZE), 0.2, ports=[pickup("s", (0.6, 0.25, 0.9))])


def test_heading_and_slope_are_told():
    found = level(box_tank(SIZE), 0.2, Attitude.from_slope(math.radians(12.0), math.radians(200.0)))
    assert found.slope_deg == pytest.approx(12.0)
    assert found.heading_deg == pytest.approx(200.0)


def test_as_plain_data():
    plain = as_plain(level(box_tank(SIZE), 0.2, ports=[pickup("s", (0.6, 0.25, 0.1))]))
    assert plain["level_height_m"] == pytest.approx(1 / 3)
    assert plain["ports"][0]["name"] == "s"
