"""Masses and areas against boxes done by hand."""

import math

import pytest

from tanksolve.errors import FillError, QuantityError
from tanksolve.geometry.parts import box
from tanksolve.model.attitude import Attitude
from tanksolve.questions.level.mass import mass

LENGTH, WIDTH, HEIGHT = 1.2, 0.5, 0.8


@pytest.fixture
def tank():
    return box(LENGTH, WIDTH, HEIGHT)


def test_liquid_of_a_level_box(tank):
    found = mass(tank, 0.3, density=850.0)
    assert found.liquid_mass_kg == pytest.approx(255.0)
    assert found.liquid_centroid_m == pytest.approx((0.6, 0.25, 0.25))
    assert found.wetted_area_m2 == pytest.approx(0.6 + 0.5 * 3.4)
    assert found.wall_area_m2 == pytest.approx(2 * (0.6 + 0.96 + 0.4))
    assert found.metal_mass_kg is None
    assert found.total_centroid_m == pytest.approx(found.liquid_centroid_m)


def test_metal_and_total(tank):
    found = mass(tank, 0.3, density=850.0, plate=0.003, metal_density=7850.0)
    metal = found.wall_area_m2 * 0.003 * 7850.0
    assert found.metal_mass_kg == pytest.approx(metal)
    assert found.metal_centroid_m == pytest.approx((0.6, 0.25, 0.4))
    assert found.total_mass_kg == pytest.approx(255.0 + metal)
    assert found.total_centroid_m[2] == pytest.approx(
        (255.0 * 0.25 + metal * 0.4) / (255.0 + metal)
    )


def test_tilted_centroid_is_the_wall_sided_one(tank):
    """Rawson and Tupper's wall-sided shift: (I / V) tan a along, half of that times tan a up."""
    slope = math.radians(10.0)
    attitude = Attitude.from_slope(slope, 0.0)
    found = mass(tank, 0.24, attitude, density=1000.0)
    inertia = WIDTH * LENGTH**3 / 12
    shift = inertia / 0.24 * math.tan(slope)
    assert found.liquid_centroid_m[0] == pytest.approx(0.6 - shift)
    assert found.liquid_centroid_m[2] == pytest.approx(0.2 + 0.5 * shift * math.tan(slope))
    # wall sides: two trapezia of the mean depth; ends: W times the depth at each; floor all wet
    assert found.wetted_area_m2 == pytest.approx(0.6 + 2 * LENGTH * 0.4 + 2 * WIDTH * 0.4)


def test_empty_and_full(tank):
    empty = mass(tank, 0.0, density=850.0, plate=0.003, metal_density=7850.0)
    assert empty.wetted_area_m2 == 0.0
    assert empty.total_centroid_m == pytest.approx((0.6, 0.25, 0.4))
    full = mass(tank, tank.capacity, density=850.0)
    assert full.wetted_area_m2 == pytest.approx(full.wall_area_m2)


@pytest.mark.parametrize(
    "wrong",
    [
        {"density": 0.0},
        {"density": math.nan},
        {"density": 1.0, "plate": 0.003},
        {"density": 1.0, "plate": -0.003, "metal_density": 7850.0},
    ],
)
def test_wrong_numbers(tank, wrong):
    with pytest.raises(QuantityError):
        mass(tank, 0.1, **wrong)
    with pytest.raises(FillError):
        mass(tank, 1.0, density=850.0)
