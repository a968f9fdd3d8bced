"""Sheets of surface that touch: liquid that meets along an edge or at a corner only stays apart."""

import numpy as np
import pytest
from solids_by_hand import box

from tanksolve.kernel.topology.edges import merge_equal
from tanksolve.kernel.topology.face_sheets import faces_across, split_sheets

CUBE = box()


def merged(*bodies):
    corners = np.concatenate(bodies)
    first, inverse = merge_equal(corners.reshape(-1, 3))
    return corners.reshape(-1, 3)[first], inverse.reshape(-1, 3).astype(np.int32)


@pytest.mark.parametrize("low", [(1, 1, 0), (0, 1, 1), (1, 0, 1), (-1, 1, 0), (1, 1, 1)], ids=str)
def test_cubes_that_touch_along_an_edge_or_at_a_corner_are_apart(low):
    vertices, faces = merged(CUBE, box(low=low))
    assert len(vertices) < 16
    across = faces_across(vertices, faces)
    half = len(CUBE)
    assert ((across < half) == (np.arange(len(faces)) < half)[:, None]).all()
    new, source = split_sheets(faces, across)
    assert len(source) == 16
    assert (source[new] == faces).all()
    assert not set(new[:half].ravel()) & set(new[half:].ravel())


@pytest.mark.parametrize("turn", [(0, 1, 2), (1, 2, 0), (2, 0, 1)])
def test_walls_that_touch_along_an_edge_leave_the_liquid_in_one(turn):
    """Two blocks in a box that touch along an upright edge: seen from the liquid, two wedges of 90 degrees."""
    blocks = [box((2, 2, 2), low) for low in ((1, 1, 1), (3, 3, 1))]
    bodies = [box((6, 6, 4)), *(block[:, ::-1] for block in blocks)]
    vertices, faces = merged(*(body[..., list(turn)] for body in bodies))
    across = faces_across(vertices, faces)
    for f, row in enumerate(across):
        for k, other in enumerate(row):
            edge = {int(faces[f, k]), int(faces[f, (k + 1) % 3])}
            assert edge <= set(faces[other].tolist())
            assert f in across[other]
    new, source = split_sheets(faces, across)
    assert len(vertices) == 8 + 8 + 8 - 2
    assert len(source) >= len(vertices)
    first = [set(new[12:24].ravel()), set(new[24:].ravel())]
    assert first[0] & first[1]  # through either wedge both blocks are one wall
