"""The space round a surface on a grid: distances to a 3-4-5 triangle by hand, and balls one by one."""

import numpy as np
import pytest
from solids_by_hand import box, inverted

from tanksolve.kernel.topology.edges import winding
from tanksolve.kernel.topology.free_space import (
    first_hits,
    in_balls,
    near_surface,
    winding_numbers,
)

TRIANGLE = np.array([[0.0, 0.0, 0.0], [3.0, 0.0, 0.0], [0.0, 4.0, 0.0]])
# a place, the nearest point of the triangle, and whether that is within it: one of each of its seven regions
REGIONS = [
    ((1, 1, 2), (1, 1, 0), True),
    ((-3, -4, 0), (0, 0, 0), False),
    ((6, -4, 12), (3, 0, 0), False),
    ((-3, 8, 0), (0, 4, 0), False),
    ((1, -2, 0), (1, 0, 0), False),
    ((-2, 1, 1), (0, 1, 0), False),
    ((5.5, 5, 0), (1.5, 2, 0), False),
]


@pytest.mark.parametrize(("place", "nearest", "within"), REGIONS)
@pytest.mark.parametrize("turned", [False, True])
def test_nearest_point_of_a_triangle(place, nearest, within, turned):
    turn = np.linalg.qr(np.random.default_rng(3).normal(size=(3, 3)))[0] if turned else np.eye(3)
    low, expected = turn @ np.array(place, float), turn @ np.array(nearest, float)
    shape = np.ones(3, np.int64)
    for k in range(3):  # whichever corner comes first
        corners = np.roll(TRIANGLE @ turn.T, k, axis=0)[None]
        distance, face, inner, found = near_surface(corners, low, 1.0, shape, 20.0)
        assert distance[0, 0, 0] == pytest.approx(np.linalg.norm(low - expected), rel=1e-12)
        assert found[0, 0, 0] == pytest.approx(expected, abs=1e-12)
        assert face[0, 0, 0] == 0
        assert inner[0, 0, 0] == within
        assert near_surface(corners, low, 1.0, shape, 0.9)[1][0, 0, 0] == -1


def test_distances_of_cells_from_the_walls_of_a_box():
    """Inside a box of 6 x 5 x 4 the nearest wall is the nearest of six planes."""
    corners = box((6.0, 5.0, 4.0))
    low, shape = np.array([0.4, 0.4, 0.4]), np.array([14, 11, 9])
    distance, face, inner, nearest = near_surface(corners, low, 0.4, shape, 1.5)
    places = low + 0.4 * np.stack(np.indices(shape), axis=-1)
    true = np.minimum(places, np.array([6.0, 5.0, 4.0]) - places).min(axis=-1)
    near = true <= 1.5
    assert distance[near] == pytest.approx(true[near])
    assert np.isinf(distance[true > 1.5 + 1e-9]).all()
    assert (face[near] >= 0).all()
    assert inner[near].mean() > 0.8
    assert np.linalg.norm(places - nearest, axis=-1)[near] == pytest.approx(true[near])


@pytest.mark.parametrize("seed", range(4))
def test_cells_in_balls_one_by_one(seed):
    rng = np.random.default_rng(seed)
    shape = (9, 7, 11)
    radius = np.where(rng.random(shape) < 0.02, rng.uniform(0.3, 3.7, shape), 0.0)
    at = np.stack(np.indices(shape), axis=-1)
    expected = np.zeros(shape, bool)
    for middle in np.argwhere(radius > 0.0):
        expected |= ((at - middle) ** 2).sum(axis=-1) < radius[tuple(middle)] ** 2
    assert expected.any()
    assert (in_balls(radius) == expected).all()
    assert not in_balls(np.zeros(shape)).any()


def test_winding_numbers_are_those_of_one_point_after_the_other():
    rng = np.random.default_rng(5)
    corners = np.concatenate(
        [box((2.0, 3.0, 4.0)), inverted(box((0.5, 0.5, 0.5), (0.7, 0.7, 0.7)))]
    )
    points = rng.uniform(-1.0, 4.0, (40, 3))
    expected = ((points > 0.0) & (points < [2.0, 3.0, 4.0])).all(axis=1).astype(float)
    expected -= ((points > 0.7) & (points < 1.2)).all(axis=1)
    assert winding_numbers(corners, points) == pytest.approx(expected, abs=1e-9)
    assert [winding(corners, p) for p in points] == pytest.approx(expected, abs=1e-9)


def test_what_a_face_looks_at_first():
    """Two plates above a small face, the nearer one first; the nearer one looks away, and hits the other."""
    plate = np.array([[-5.0, -5.0, 0.0], [9.0, -5.0, 0.0], [-5.0, 9.0, 0.0]])
    small = np.array([[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    moved = [plate + np.array(by) for by in ((0, 0, 7.0), (0, 0, 3.0), (50.0, 0, 1.0))]
    corners = np.array([small, *moved])
    assert first_hits(corners, np.array([0, 2, 1])).tolist() == [2, 1, -1]
    turned = small[::-1]
    assert first_hits(np.array([turned, *corners[1:]]), np.array([0])).tolist() == [-1]
