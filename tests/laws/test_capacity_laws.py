"""What must hold of any volume below any plane, whatever the tank."""

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import directions
from tanks import LIBRARY, random_rotation, random_up, tank, turned

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import moments, volumes
from tanksolve.model.tank import Tank

NAMES = st.sampled_from(list(LIBRARY))
shares = st.floats(0.0, 1.0)


def at(mesh, up, share):
    """Height at a share of the tank's extent along ``up``."""
    low, high = mesh.height_range(up)
    return float(low[0] + share * (high[0] - low[0]))


@given(NAMES, directions(), shares, shares)
def test_volume_rises_with_height(name, up, a, b):
    mesh = tank(name)
    low, high = (at(mesh, up, s) for s in sorted((a, b)))
    v = volumes(mesh.tree, [up, up], [low, high])[0]
    assert v[0] <= v[1] + 1e-14
    assert v[0] >= -1e-15
    assert v[1] <= mesh.capacity * (1.0 + 1e-13)


@given(NAMES, directions(), shares)
def test_below_and_above_make_the_whole(name, up, share):
    mesh = tank(name)
    height = at(mesh, up, share)
    below, above = volumes(mesh.tree, [up, -up], [height, -height])[0]
    assert below + above == pytest.approx(mesh.capacity, rel=1e-13)


@given(NAMES, directions(), st.floats(0.05, 0.95))
def test_the_area_is_how_fast_volume_rises(name, up, share):
    """S = dV/dh; a jump of S within the step shows only by its share of the step."""
    mesh = tank(name)
    height, e = at(mesh, up, share), 1e-6
    v, s = volumes(mesh.tree, [up] * 3, [height - e, height, height + e])
    rise = (v[2] - v[0]) / (2 * e)
    assert min(s) - 1e-8 <= rise <= max(s) + 1e-8


@pytest.mark.parametrize("name", LIBRARY)
def test_volume_is_the_integral_of_the_area(name):
    mesh = tank(name)
    up = random_up(np.random.default_rng(1), 1)
    low, high = mesh.height_range(up)
    cuts = np.unique(np.concatenate([mesh.vertices @ up[0], low, high]))
    a, b = cuts[:-1], cuts[1:]  # S is a quadratic between vertex heights: two points are exact
    total = 0.0
    for x in (-1.0, 1.0):
        middle = 0.5 * (a + b) + x / np.sqrt(3.0) * 0.5 * (b - a)
        total += (0.5 * (b - a) * volumes(mesh.tree, np.tile(up, (len(a), 1)), middle)[1]).sum()
    assert total == pytest.approx(mesh.capacity, rel=1e-12)


@pytest.mark.parametrize("name", LIBRARY)
def test_turning_tank_and_gravity_together_changes_nothing(name):
    mesh = tank(name)
    rng = np.random.default_rng(2)
    rotation, shift = random_rotation(rng), rng.normal(size=3)
    other = turned(mesh, rotation, shift)
    up = random_up(rng, 60)
    height = np.array([at(mesh, u, s) for u, s in zip(up, rng.uniform(size=60), strict=True)])
    moved_up = up @ rotation.T
    moved_height = height + moved_up @ shift
    here, there = (
        moments(t.tree, t.tensors, u, h)
        for t, u, h in ((mesh, up, height), (other, moved_up, moved_height))
    )
    np.testing.assert_allclose(there.volume, here.volume, atol=2e-14)
    np.testing.assert_allclose(there.area, here.area, atol=1e-12)
    wet = here.volume > 1e-6
    centroid = here.liquid_centroid[wet] @ rotation.T + shift
    np.testing.assert_allclose(there.liquid_centroid[wet], centroid, atol=1e-9)
    second = rotation @ here.surface_second @ rotation.T
    np.testing.assert_allclose(there.surface_second, second, atol=1e-11)


@given(NAMES, directions(), shares, st.floats(-3.0, 3.0).map(lambda e: 10.0**e))
def test_scaling_a_tank_scales_volume_by_the_cube(name, up, share, factor):
    mesh = tank(name)
    height = at(mesh, up, max(share, 1e-6))  # less, and the height has too few digits for an area
    big = Tank("scaled", mesh.vertices * factor, mesh.faces)
    v, s = volumes(mesh.tree, [up], [height])
    big_v, big_s = volumes(big.tree, [up], [height * factor])
    assert big_v[0] == pytest.approx(v[0] * factor**3, rel=1e-11, abs=1e-14 * factor**3)
    assert big_s[0] == pytest.approx(s[0] * factor**2, rel=1e-8, abs=1e-11 * factor**2)


@pytest.mark.parametrize("name", ["L", "baffled with sump", "twisted star"])
def test_mirrored_tank_holds_the_same_under_a_mirrored_plane(name):
    mesh = tank(name)
    flip = np.array([1.0, -1.0, 1.0])
    mirrored = Tank("mirrored", mesh.vertices * flip, mesh.faces[:, ::-1])
    up = random_up(np.random.default_rng(3), 60)
    height = np.linspace(-0.3, 0.8, 60)
    here = volumes(mesh.tree, up, height)[0]
    np.testing.assert_allclose(volumes(mirrored.tree, up * flip, height)[0], here, atol=1e-14)


@pytest.mark.parametrize("name", LIBRARY)
def test_the_level_turns_about_the_surface_centroid(name):
    """dh*/du = c for tangential du: the law behind warm starts and behind every margin's slope."""
    mesh = tank(name)
    rng = np.random.default_rng(4)
    up = random_up(rng, 12)
    volume = 0.43 * mesh.capacity
    height = levels(mesh.tree, up, volume)[0]
    centroid = moments(mesh.tree, mesh.tensors, up, height).surface_centroid
    side = np.cross(up, random_up(rng, 12))
    side /= np.linalg.norm(side, axis=1, keepdims=True)
    e = 1e-5
    moved = [
        levels(mesh.tree, up * np.cos(s * e) + side * np.sin(s * e), volume)[0] for s in (-1, 1)
    ]
    slope = (moved[1] - moved[0]) / (2 * e)
    np.testing.assert_allclose(slope, np.einsum("dk,dk->d", centroid, side), atol=2e-6)


@given(NAMES, directions(), st.floats(0.01, 0.99))
def test_the_level_of_a_volume_holds_the_volume(name, up, share):
    mesh = tank(name)
    wanted = share * mesh.capacity
    height = levels(mesh.tree, up, wanted)[0]
    assert volumes(mesh.tree, [up], height)[0][0] == pytest.approx(wanted, rel=2e-12)


@given(NAMES, directions(), st.floats(0.01, 0.98), st.floats(0.0, 0.01))
def test_more_liquid_stands_no_lower(name, up, share, more):
    mesh = tank(name)
    low, high = levels(mesh.tree, [up, up], np.array([share, share + more]) * mesh.capacity)[0]
    assert low <= high + 1e-11
