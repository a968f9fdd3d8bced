import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from solids_by_hand import ball, box, inverted

from tanksolve.kernel.topology.edges import edges_of, face_volumes, merge_equal, shells_of, winding


def indexed(corners):
    first, inverse = merge_equal(corners.reshape(-1, 3))
    return corners.reshape(-1, 3)[first], inverse.reshape(-1, 3)


@given(
    st.lists(st.tuples(*[st.sampled_from([0.0, -0.0, 1.0, 1.0 + 2**-52, -1e300])] * 3), max_size=60)
)
def test_points_merge_exactly_as_numpy_says(points):
    array = np.asarray(points, float).reshape(-1, 3)
    first, inverse = merge_equal(array)
    assert (array[first][inverse] == array).all()
    assert len(first) == len(np.unique(array, axis=0))


def test_minus_zero_is_zero():
    first, inverse = merge_equal(np.array([[0.0, 1.0, -0.0], [-0.0, 1.0, 0.0]]))
    assert first.tolist() == [0]
    assert inverse.tolist() == [0, 0]


def test_twins_run_back():
    _, faces = indexed(box(cells=3))
    edges = edges_of(faces)
    half = np.arange(len(edges.twin))
    assert (edges.twin[edges.twin] == half).all()
    start, end = faces.ravel(), np.roll(faces, -1, axis=1).ravel()
    assert (start[edges.twin] == end).all()
    assert not edges.same_way.any()


def test_open_flipped_and_crowded_edges():
    _, faces = indexed(box())
    assert (edges_of(np.delete(faces, 3, axis=0)).twin == -1).sum() == 3
    flipped = faces.copy()
    flipped[3] = flipped[3, ::-1]
    assert edges_of(flipped).same_way.sum() == 6  # three edges, told from both sides
    _, touching = indexed(np.concatenate([box(), box(low=(1, 1, 0))]))
    assert (edges_of(touching).twin == -2).sum() == 4


def test_shells_and_flipped_faces():
    corners = np.concatenate([box(), ball(centre=(5, 0, 0))])
    corners[4:9] = corners[4:9, ::-1].copy()
    _, faces = indexed(corners)
    shells = shells_of(edges_of(faces))
    assert shells.number == 2
    assert (shells.label[:12] == 0).all()
    assert (shells.label[12:] == 1).all()
    assert np.flatnonzero(shells.flipped).tolist() == [4, 5, 6, 7, 8]


def test_volumes_and_winding():
    vertices, faces = indexed(box((2, 3, 4), (-1, -1, -1)))
    for origin in ([0, 0, 0], [50.0, -3.0, 8.0]):
        total = face_volumes(vertices, faces, np.asarray(origin, float)).sum()
        assert total == pytest.approx(24.0, rel=1e-12)
    corners = vertices[faces]
    assert winding(corners, np.array([0.1, 0.2, 0.3])) == pytest.approx(1.0)
    assert winding(corners, np.array([9.0, 0.2, 0.3])) == pytest.approx(0.0, abs=1e-12)
    assert winding(inverted(corners), np.array([0.1, 0.2, 0.3])) == pytest.approx(-1.0)
