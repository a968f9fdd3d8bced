"""Directions written as the centre and what is square to it: angles and heights by hand."""

import numpy as np
import pytest

from tanksolve.kernel.attitude.tangent import on_tangent, swings

UP = np.array([[0.0, 0.0, 1.0]])


def test_the_swing_is_the_tangent_of_the_greatest_angle():
    angle = np.radians([10.0, 25.0, 5.0])
    points = np.array([[np.sin(a), 0.0, np.cos(a)] for a in angle])[None]
    points[0, 1] = points[0, 1, [1, 0, 2]]  # the greatest of them to the side
    assert swings(UP, points) == pytest.approx(np.tan(angle[1]))
    assert swings(UP, 3.0 * points) == pytest.approx(np.tan(angle[1]))


def test_the_same_directions_one_high_along_the_centre():
    rng = np.random.default_rng(2)
    up = rng.normal(size=(4, 3))
    up /= np.linalg.norm(up, axis=1)[:, None]
    points = up[:, None] + 0.3 * rng.normal(size=(4, 5, 3))
    found = on_tangent(up, points)
    assert np.einsum("cjk,ck->cj", found, up) == pytest.approx(1.0)
    assert np.cross(found, points) == pytest.approx(0.0, abs=1e-12)
