import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solids_by_hand import ball, box, turned
from strategies import directions

from tanksolve.kernel.capacity.wetted import face_areas, wet_shares


def soup(corners):
    return corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)


def wet_area(corners, up, height):
    vertices, faces = soup(corners)
    return float(face_areas(vertices, faces) @ wet_shares(vertices, faces, np.asarray(up), height))


def test_sphere_zone():
    """Area of a spherical zone is 2 pi R h (Archimedes); facets bring it down by a few permille."""
    whole = ball(60, 2.0)
    for height in (-1.5, 0.0, 0.3, 1.9):
        assert wet_area(whole, (0, 0, 1), height) == pytest.approx(
            2 * np.pi * 2.0 * (height + 2.0), rel=4e-3
        )


@pytest.mark.parametrize(
    ("height", "area"),
    [(-0.1, 0.0), (0.0, 6.0), (1.0, 16.0), (3.5, 41.0), (4.0, 52.0), (9.0, 52.0)],
)
def test_box(height, area):
    """Floor 2 x 3, sides 10 for each unit of height up to the roof at 4."""
    assert wet_area(box((2, 3, 4)), (0, 0, 1), height) == pytest.approx(area)


@given(up=directions(), height=st.floats(-2, 2), seed=st.integers(0, 999))
def test_above_and_below_make_the_whole(up, height, seed):
    corners = turned(box((1, 2, 1), (-0.4, -1, -0.3)), seed)
    vertices, faces = soup(corners)
    total = face_areas(vertices, faces).sum()
    below, above = wet_area(corners, up, height), wet_area(corners, -up, -height)
    assert below + above == pytest.approx(total)


@given(up=directions(), height=st.floats(-1, 1), seed=st.integers(0, 999))
def test_share_against_a_grid_of_points(up, height, seed):
    corners = np.random.default_rng(seed).normal(size=(1, 3, 3))
    n = 60
    i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    inside = i + j < n
    s, t = (i[inside] + 1 / 3) / n, (j[inside] + 1 / 3) / n
    points = corners[0, 0] + np.outer(s, corners[0, 1] - corners[0, 0])
    points = points + np.outer(t, corners[0, 2] - corners[0, 0])
    vertices, faces = soup(corners)
    share = wet_shares(vertices, faces, up, height)[0]
    assert share == pytest.approx((points @ up <= height).mean(), abs=0.05)
