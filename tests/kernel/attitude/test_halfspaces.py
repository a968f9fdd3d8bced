"""Margins in half-spaces: the middle of a box, of a triangle's face, and corners, by hand."""

import numpy as np
import pytest

from tanksolve.kernel.attitude.halfspaces import (
    box_half_spaces,
    corners_of,
    greatest_margin,
    on_faces,
)


def test_the_middle_of_a_box_is_found_among_many_rows_that_do_not_bind():
    """A box of 2 x 1 x 1 m: half of its least side. Ten of these rows taken at random bound nothing."""
    normals, offsets = box_half_spaces(np.zeros(3), np.array([2.0, 1.0, 1.0]))
    far = np.tile([1.0, 0.0, 0.0], (300, 1))
    found = greatest_margin(np.vstack([normals, far]), np.append(offsets, np.full(300, 10.0)))
    assert found.margin == pytest.approx(0.5)
    assert found.place[1:] == pytest.approx([0.5, 0.5])


def test_rows_left_out_at_first_are_taken_in_where_they_are_broken():
    """The unit ball's circumscribed body of 800 planes, moved: the best place is its middle."""
    rng = np.random.default_rng(4)
    middle = np.array([0.3, -0.2, 0.7])
    normals = rng.normal(size=(800, 3))
    normals /= np.linalg.norm(normals, axis=1)[:, None]
    found = greatest_margin(normals, 1.0 + normals @ middle)
    assert found.margin == pytest.approx(1.0, abs=1e-9)
    assert found.place == pytest.approx(middle, abs=1e-9)


def test_in_a_triangle_the_place_keeps_to_it():
    """The nearest that the triangle (0,0,0), (1,0,0), (0,1,0) comes to the far side of x + y <= 4."""
    edges = np.array([[1.0, 0.0, 0.0], [0.0, 1.0, 0.0]])
    normals, offsets = np.array([[-1.0, -0.5, 0.0]]), np.array([0.0])
    found = greatest_margin(normals, offsets, np.zeros(3), edges)
    assert found.place == pytest.approx([1.0, 0.0, 0.0])
    assert found.margin == pytest.approx(1.0)
    face = np.array([[[0.0, 0.0, 0.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]])
    assert on_faces(normals, offsets, face).margin == pytest.approx(1.0)


def test_corners_of_a_box_cut_by_a_plane():
    """A unit cube without the corner beyond x + y + z = 2.5: three corners for one."""
    normals, offsets = box_half_spaces(np.zeros(3), np.ones(3))
    corners = corners_of(np.vstack([normals, [1.0, 1.0, 1.0]]), np.append(offsets, 2.5))
    assert corners is not None
    found = {tuple(np.round(corner, 9)) for corner in corners}
    cube = {(x, y, z) for x in (0.0, 1.0) for y in (0.0, 1.0) for z in (0.0, 1.0)} - {
        (1.0, 1.0, 1.0)
    }
    assert found == cube | {(0.5, 1.0, 1.0), (1.0, 0.5, 1.0), (1.0, 1.0, 0.5)}
    assert corners_of(normals, np.append(offsets[:3], [0.0, 0.0, -1.0])) is None
