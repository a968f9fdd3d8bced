"""Levels: the residual, the cost in passes, and the places where one volume has many levels."""

import numpy as np
import pytest
from closed_forms import box_level
from tanks import LIBRARY, ball_tank, box_tank, random_up, tank, upright_cylinder

from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.kernel.capacity.level import height_bounds, levels, levels_along
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.capacity.volumes_plain import volumes_plain

LEVEL = np.array([[0.0, 0.0, 1.0]])


def sweep(step_deg=1.0, most_deg=45.0):
    """Pitch from end to end at each of eleven rolls: paths of neighbouring attitudes."""
    pitch = np.radians(np.arange(-most_deg, most_deg + 0.5 * step_deg, step_deg))
    roll = np.radians(np.linspace(-30.0, 30.0, 11))
    return up_from_pitch_roll(pitch[None, :], roll[:, None])


@pytest.mark.parametrize("share", [1e-6, 0.01, 0.3, 0.5, 0.9, 1.0 - 1e-6])
@pytest.mark.parametrize("name", LIBRARY)
def test_residual_is_1e_12_of_the_volume_or_the_height_has_no_more_digits(name, share):
    mesh = tank(name)
    up = random_up(np.random.default_rng(1), 40)
    wanted = share * mesh.capacity
    height, _ = levels(mesh.tree, up, wanted)
    volume, area = volumes_plain(mesh.vertices, mesh.faces, up, height)
    digit = 4e-16 * (1.0 + np.abs(height))  # a step of the height moves V by this times the area
    allowed = 1e-12 * wanted + 4.0 * digit * area + 4e-15 * mesh.capacity
    assert np.all(np.abs(volume - wanted) <= allowed)


@pytest.mark.parametrize("share", [1e-9, 1e-3, 0.2, 0.5, 0.77, 0.999])
def test_box_level_is_the_inverse_of_the_closed_form(share):
    size = (1.2, 0.5, 0.8)
    up = random_up(np.random.default_rng(2), 12)
    height, _ = levels(box_tank(size).tree, up, share * 0.48)
    exact = [box_level(size, u, share * 0.48) for u in up]
    np.testing.assert_allclose(height, exact, atol=1e-14)


@pytest.mark.parametrize("name", LIBRARY)
def test_cold_start_at_one_percent_takes_at_most_six_passes_on_average(name):
    mesh = tank(name)
    up = sweep().reshape(-1, 3)
    passes = levels(mesh.tree, up, 0.01 * mesh.capacity)[1]
    assert passes.mean() <= 6.0
    assert passes.max() <= 40


@pytest.mark.parametrize("name", LIBRARY)
def test_warm_sweep_of_one_degree_takes_at_most_2_2_passes_on_average(name):
    mesh = tank(name)
    passes = levels_along(mesh.tree, sweep(), 0.4 * mesh.capacity)[1]
    assert passes.min() >= 1
    assert passes[:, 1:].mean() <= 2.2


def test_warm_and_cold_find_the_same_level():
    mesh = tank("baffled with sump")
    paths = sweep(3.0)
    warm = levels_along(mesh.tree, paths, 0.2 * mesh.capacity)[0]
    cold = levels(mesh.tree, paths.reshape(-1, 3), 0.2 * mesh.capacity)[0]
    np.testing.assert_allclose(warm.ravel(), cold, atol=1e-12)


def test_each_path_may_have_its_own_volume():
    mesh = tank("U")
    wanted = np.linspace(0.02, 0.2, 11)
    found = levels_along(mesh.tree, sweep(10.0), wanted)[0]
    for k in range(11):
        volume = volumes(mesh.tree, sweep(10.0)[k], found[k])[0]
        np.testing.assert_allclose(volume, wanted[k], rtol=1e-11)


@pytest.mark.parametrize("lowest", [True, False])
def test_empty_and_brim_full_are_the_ends_of_the_tank(lowest):
    mesh = tank("twisted star")
    up = random_up(np.random.default_rng(3), 30)
    low, high = mesh.height_range(up)
    empty, passes = levels(mesh.tree, up, 0.0, lowest=lowest)
    np.testing.assert_allclose(empty, low, atol=1e-14)
    full = levels(mesh.tree, up, mesh.tree.flux[0, 5], lowest=lowest)[0]
    np.testing.assert_allclose(full, high, atol=1e-14)
    assert np.all(passes == 0)


def test_one_drop_lies_at_the_lowest_point():
    """1e-15 of the tank in a corner: h³ = 6 V m1 m2 m3."""
    up = np.array([[1.0, 2.0, 3.0]]) / np.sqrt(14.0)
    drop = 1e-15
    height = levels(box_tank((1.0, 1.0, 1.0)).tree, up, drop)[0][0]
    assert height == pytest.approx((6.0 * drop * 6.0 / 14.0**1.5) ** (1 / 3), rel=1e-9)


def test_one_drop_on_a_level_floor():
    height = levels(box_tank((1.0, 1.0, 1.0)).tree, LEVEL, 1e-12)[0][0]
    assert height == pytest.approx(1e-12, rel=1e-3)  # the height is held to 1e-16 m


def test_one_drop_short_of_full():
    size = (1.0, 1.0, 1.0)
    up = np.array([[1.0, 2.0, 3.0]]) / np.sqrt(14.0)
    air = 1e-9  # a thousand times the residual
    height = levels(box_tank(size).tree, up, 1.0 - air)[0][0]
    ullage = (6.0 * air * 6.0 / 14.0**1.5) ** (1 / 3)
    assert 6.0 / np.sqrt(14.0) - height == pytest.approx(ullage, rel=1e-3)


def test_between_two_bodies_the_caller_chooses_the_end():
    """Body 1 is full at 0.3 m, body 2 begins at 0.5 m: at its volume every level between is one."""
    mesh = tank("two bodies")
    first = 0.4 * 0.4 * 0.3
    low = levels(mesh.tree, LEVEL, first, lowest=True)[0][0]
    high = levels(mesh.tree, LEVEL, first, lowest=False)[0][0]
    assert low == pytest.approx(0.3, abs=1e-9)
    assert high == pytest.approx(0.5, abs=1e-9)
    for lowest in (True, False):
        more = levels(mesh.tree, LEVEL, first + 0.002, lowest=lowest)[0][0]
        assert more == pytest.approx(0.51, abs=1e-12)
        less = levels(mesh.tree, LEVEL, first - 0.0016, lowest=lowest)[0][0]
        assert less == pytest.approx(0.29, abs=1e-12)


@pytest.mark.parametrize("name", ["box", "U", "ring", "baffled, skewed"])
def test_where_the_level_is_one_both_ends_are_it(name):
    mesh = tank(name)
    up = random_up(np.random.default_rng(4), 50)
    low, high = (levels(mesh.tree, up, 0.37 * mesh.capacity, lowest=e)[0] for e in (True, False))
    np.testing.assert_allclose(low, high, atol=1e-11)


def test_a_level_face_does_not_stop_the_solve():
    """The area jumps at a step; volumes at, just below and just above it are all found."""
    mesh = tank("L")
    at_step = 1.0 * 0.4 * 0.3
    for extra in (-1e-9, 0.0, 1e-9):
        height = levels(mesh.tree, LEVEL, at_step + extra)[0][0]
        area = 0.4 if extra <= 0.0 else 0.12
        assert height == pytest.approx(0.3 + extra / area, abs=1e-13)


@pytest.mark.parametrize("name", LIBRARY)
def test_height_bounds_are_the_lowest_and_highest_vertex(name):
    mesh = tank(name)
    up = random_up(np.random.default_rng(5), 60)
    low, high = height_bounds(mesh.tree, up)
    heights = mesh.vertices @ up.T
    np.testing.assert_allclose(low, heights.min(axis=0), atol=1e-15)
    np.testing.assert_allclose(high, heights.max(axis=0), atol=1e-15)


def test_upright_cylinder_level_over_the_axis_is_the_mean_depth():
    mesh = upright_cylinder(0.3, 1.0, 64)
    slope = np.radians(20.0)
    up = np.array([[np.sin(slope), 0.0, np.cos(slope)]])
    height = levels(mesh.tree, up, 0.4 * np.pi * 0.09)[0][0]
    assert height / np.cos(slope) == pytest.approx(0.4, rel=1e-13)


@pytest.mark.parametrize("share", [-1e-9, 1.0 + 1e-9, np.nan])
def test_a_volume_that_does_not_fit_is_refused(share):
    mesh = ball_tank(4)
    with pytest.raises(ValueError, match="between 0 and the capacity"):
        levels(mesh.tree, LEVEL, share * mesh.capacity)


def test_paths_of_a_wrong_shape_are_refused():
    with pytest.raises(ValueError, match="paths must be"):
        levels_along(tank("box").tree, LEVEL, 0.1)
