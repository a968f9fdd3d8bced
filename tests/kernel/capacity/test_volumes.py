"""Capacity: the compiled kernel against plain numpy, manifold3d's trim, and finite differences."""

import numpy as np
import pytest
from closed_forms import box_below
from tanks import (
    LIBRARY,
    ball_tank,
    box_tank,
    random_rotation,
    random_up,
    tank,
    to_manifold,
    turned,
)

from tanksolve.kernel.capacity.tree import build_tree, patch_tensors
from tanksolve.kernel.capacity.volumes import moments, visited, volumes
from tanksolve.kernel.capacity.volumes_plain import moments_plain, volumes_plain


def planes(mesh, seed, count):
    """Random directions, heights from just below the tank to just above it."""
    rng = np.random.default_rng(seed)
    up = random_up(rng, count)
    low, high = mesh.height_range(up)
    return up, low + rng.uniform(-0.02, 1.02, count) * (high - low)


@pytest.mark.parametrize("name", LIBRARY)
def test_tree_and_plain_sum_agree(name):
    mesh = tank(name)
    up, height = planes(mesh, 1, 200)
    volume, area = volumes(mesh.tree, up, height)
    plain_volume, plain_area = volumes_plain(mesh.vertices, mesh.faces, up, height)
    np.testing.assert_allclose(volume, plain_volume, atol=1e-13 * mesh.capacity)
    np.testing.assert_allclose(area, plain_area, atol=1e-12 * plain_area.max())


@pytest.mark.parametrize("name", LIBRARY)
def test_volume_is_that_of_manifold3d_trim(name):
    mesh = tank(name)
    solid = to_manifold(mesh)
    up, height = planes(mesh, 2, 25)
    trimmed = [solid.trim_by_plane(tuple(-u), -h).volume() for u, h in zip(up, height, strict=True)]
    np.testing.assert_allclose(
        volumes(mesh.tree, up, height)[0], trimmed, atol=1e-12 * mesh.capacity
    )


@pytest.mark.parametrize("name", ["box", "L", "U"])
def test_level_faces_and_planes_along_the_axes(name):
    """Planes on a level face, through vertices, and square to edge-on faces lose nothing."""
    mesh = tank(name)
    axes = np.concatenate([np.eye(3), -np.eye(3)])
    for up in axes:
        heights = np.unique(mesh.vertices @ up)
        heights = np.concatenate([heights, 0.5 * (heights[1:] + heights[:-1])])
        directions = np.tile(up, (len(heights), 1))
        volume, area = volumes(mesh.tree, directions, heights)
        solid = to_manifold(mesh)
        trimmed = [solid.trim_by_plane(tuple(-up), -float(h)).volume() for h in heights]
        np.testing.assert_allclose(volume, trimmed, atol=1e-14)
        slightly_below = volumes(mesh.tree, directions, heights - 1e-7)[0]
        np.testing.assert_allclose(area, (volume - slightly_below) / 1e-7, atol=1e-7)


def test_area_at_a_level_face_is_the_one_just_below():
    mesh = tank("L")
    up = np.tile([0.0, 0.0, 1.0], (4, 1))
    area = volumes(mesh.tree, up, np.array([0.3, np.nextafter(0.3, 1), 0.9, 1.0]))[1]
    np.testing.assert_allclose(area, [0.4, 0.12, 0.12, 0.0], atol=1e-15)


@pytest.mark.parametrize("name", LIBRARY)
def test_planes_through_vertices_are_no_special_case(name):
    mesh = tank(name)
    rng = np.random.default_rng(3)
    up = random_up(rng, 100)
    at = mesh.vertices[rng.integers(len(mesh.vertices), size=100)]
    height = np.einsum("dk,dk->d", up, at)
    here = volumes(mesh.tree, up, height)[0]
    around = [volumes(mesh.tree, up, height + e)[0] for e in (-1e-9, 1e-9)]
    assert np.all(around[0] <= here + 1e-15)
    assert np.all(here <= around[1] + 1e-15)
    np.testing.assert_allclose(
        here, volumes_plain(mesh.vertices, mesh.faces, up, height)[0], atol=1e-14
    )


@pytest.mark.parametrize("tilt", [0.0, 1e-15, 1e-12, 1e-9, 1e-6, 1e-3])
def test_faces_nearly_edge_on_and_nearly_level(tilt):
    size = (1.2, 0.5, 0.8)
    up = np.array([[tilt, 2.0 * tilt, 1.0]]) / np.sqrt(1.0 + 5.0 * tilt * tilt)
    for height in (1e-9, 0.3, 0.8 - 1e-9):
        volume = volumes(box_tank(size, cells=3).tree, up, [height])[0][0]
        assert volume == pytest.approx(box_below(size, up[0], height), rel=1e-9, abs=1e-16)
    middle = volumes(box_tank(size, cells=3).tree, up, [0.3])[0][0]
    assert middle == pytest.approx(box_below(size, up[0], 0.3), rel=1e-13)


def test_far_from_the_origin_no_digits_are_lost_in_the_tank():
    """Coordinates of 1,000 m on a 1 m tank: the rounding of the input, 1e-13, is all that shows."""
    shift = np.array([1024.0, -2048.0, 512.0])  # exact in binary, so the tank itself is the same
    near = box_tank((1.25, 0.5, 0.75))
    far = turned(near, np.eye(3), shift)
    up, height = planes(near, 4, 50)
    volume = volumes(near.tree, up, height)[0]
    far_volume = volumes(far.tree, up, height + up @ shift)[0]
    np.testing.assert_allclose(far_volume, volume, atol=3e-12)  # height itself has 5e-13 there
    level = volumes(far.tree, [[0.0, 0.0, 1.0]], [512.25])[0][0]
    assert level == 1.25 * 0.5 * 0.25
    below = moments(far.tree, far.tensors, [[0.0, 0.0, 1.0]], [512.25])
    np.testing.assert_allclose(below.liquid_centroid[0] - shift, [0.625, 0.25, 0.125], atol=2e-13)
    np.testing.assert_allclose(
        np.diag(below.surface_second[0]),
        [0.5 * 1.25**3 / 12, 1.25 * 0.5**3 / 12, 0.0],
        atol=1e-14,
    )


def test_empty_full_and_one_drop():
    mesh = ball_tank(16)
    up = random_up(np.random.default_rng(5), 20)
    low, high = mesh.height_range(up)
    assert np.all(volumes(mesh.tree, up, low - 1e-12)[0] == 0.0)
    full = volumes(mesh.tree, up, high + 1e-9)[0]
    np.testing.assert_allclose(full, mesh.capacity, rtol=1e-14)
    # a corner of a box: the drop is a tetrahedron, h³ / (6 m1 m2 m3), small as it is
    corner = np.array([[1.0, 2.0, 3.0]]) / np.sqrt(14.0)
    for height in (1e-3, 1e-6, 1e-9):
        drop = volumes(
            box_tank((1.0, 1.0, 1.0), (-0.5, -0.5, -0.5)).tree,
            corner,
            height + corner @ [-0.5, -0.5, -0.5],
        )[0][0]
        exact = height**3 * 14.0**1.5 / 36.0
        assert drop == pytest.approx(exact, rel=1e-9 + 4e-16 / height * 3)


@pytest.mark.parametrize("name", ["L", "baffled with sump", "saddle", "ring", "solid afloat"])
def test_moments_against_the_plain_integrals(name):
    mesh = tank(name)
    count = 4 if len(mesh.faces) < 1000 else 2
    up = random_up(np.random.default_rng(6), count)
    low, high = mesh.height_range(up)
    height = low + np.linspace(0.2, 0.8, count) * (high - low)
    got = moments(mesh.tree, mesh.tensors, up, height)
    for d in range(len(up)):
        plain = moments_plain(mesh.vertices, mesh.faces, up[d], height[d])
        volume, area = float(plain["volume"]), float(plain["area"])
        assert got.volume[d] == pytest.approx(volume, abs=1e-13 * mesh.capacity)
        assert got.area[d] == pytest.approx(area, abs=1e-12)
        np.testing.assert_allclose(got.liquid_centroid[d] * volume, plain["liquid"], atol=1e-13)
        np.testing.assert_allclose(got.surface_centroid[d] * area, plain["surface"], atol=1e-12)
        centred = plain["second"] - np.outer(plain["surface"], plain["surface"]) / area
        np.testing.assert_allclose(got.surface_second[d], centred, atol=1e-12)


def test_moments_hold_what_volumes_hold():
    mesh = tank("baffled, skewed")
    up, height = planes(mesh, 7, 300)
    volume, area = volumes(mesh.tree, up, height)
    got = moments(mesh.tree, mesh.tensors, up, height)
    np.testing.assert_allclose(got.volume, volume, atol=1e-13 * mesh.capacity)
    np.testing.assert_allclose(got.area, area, atol=1e-12)


@pytest.mark.parametrize("name", ["L", "saddle", "ring", "twisted star"])
def test_moments_are_derivatives_of_the_volume(name):
    """V(u, h) need not know of centroids, and yet its derivatives are they.

    With u not kept to unit length, {x : u·x < h} has dV = S (dh - c·du) / |u| with c the surface's
    centroid, and d(V liquid centroid) = integral over the surface of x (dh - x·du), which brings in the
    second moments.
    """
    mesh = tank(name)
    up, height = planes(mesh, 8, 20)
    keep = (volumes(mesh.tree, up, height)[0] > 0.05 * mesh.capacity) & (
        volumes(mesh.tree, up, height)[0] < 0.95 * mesh.capacity
    )
    up, height = up[keep], height[keep]
    got = moments(mesh.tree, mesh.tensors, up, height)
    assert len(up) > 8
    raw_second = got.surface_second + got.area[:, None, None] * np.einsum(
        "di,dj->dij", got.surface_centroid, got.surface_centroid
    )
    e = 1e-5

    def plane(du, dh):
        size = np.linalg.norm(up + du, axis=1)
        m = moments(mesh.tree, mesh.tensors, (up + du) / size[:, None], (height + dh) / size)
        return m.volume, m.volume[:, None] * m.liquid_centroid

    size = float(np.ptp(mesh.vertices, axis=0).max())
    for k in range(3):
        du = e * np.eye(3)[k]
        (v1, m1), (v0, m0) = plane(du, 0.0), plane(-du, 0.0)
        np.testing.assert_allclose(
            (v1 - v0) / (2 * e), -got.area * got.surface_centroid[:, k], atol=3e-6 * size**3
        )
        np.testing.assert_allclose((m1 - m0) / (2 * e), -raw_second[:, k], atol=3e-6 * size**4)
    (v1, m1), (v0, m0) = plane(0.0, e), plane(0.0, -e)
    np.testing.assert_allclose((v1 - v0) / (2 * e), got.area, atol=1e-5 * size**2)
    np.testing.assert_allclose(
        (m1 - m0) / (2 * e), got.area[:, None] * got.surface_centroid, atol=1e-5 * size**3
    )


def test_no_liquid_has_no_centroid():
    mesh = tank("box")
    below = moments(mesh.tree, mesh.tensors, [[0.0, 0.0, 1.0]], [-0.1])
    assert below.volume[0] == 0.0
    assert np.isnan(below.liquid_centroid).all()
    assert np.isnan(below.surface_centroid).all()
    full = moments(mesh.tree, mesh.tensors, [[0.0, 0.0, 1.0]], [0.9])
    np.testing.assert_allclose(full.liquid_centroid[0], [0.6, 0.25, 0.4], atol=1e-15)


def test_nodes_visited_grow_far_slower_than_faces():
    """A deterministic count: from 6 thousand to 57 thousand faces, exponent at most 0.52."""
    faces, nodes = [], []
    for rings in (40, 120):
        mesh = turned(ball_tank(rings), random_rotation(np.random.default_rng(9)))
        tree = build_tree(mesh.vertices, mesh.faces)
        up = random_up(np.random.default_rng(10), 100)
        faces.append(len(mesh.faces))
        nodes.append(visited(tree, up, np.linspace(-0.9, 0.9, 100)).mean())
    assert np.log(nodes[1] / nodes[0]) / np.log(faces[1] / faces[0]) <= 0.52


def test_batch_of_any_size_gives_the_same_digits():
    """Threads share planes, never sums: one plane alone and in a crowd give equal bits.

    The ring lies about the origin; elsewhere the origin's own height may round either way.
    """
    mesh = tank("ring")
    assert not mesh.tree.origin.any()
    up, height = planes(mesh, 11, 700)
    together = volumes(mesh.tree, up, height)[0]
    alone = [volumes(mesh.tree, up[k : k + 1], height[k : k + 1])[0][0] for k in range(0, 700, 50)]
    assert together[::50].tolist() == alone


def test_a_wrong_shape_is_refused():
    with pytest.raises(ValueError, match="must be"):
        volumes(tank("box").tree, [[0.0, 1.0]], [0.1])


def test_tensors_are_made_from_the_tree_they_go_with():
    mesh = tank("box")
    np.testing.assert_array_equal(mesh.tensors, patch_tensors(mesh.tree))
