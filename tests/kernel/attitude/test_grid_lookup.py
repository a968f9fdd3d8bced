import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tanksolve.kernel.attitude.grid_lookup import look_up, low_pass, mark_cells, node_directions

STEP, HALF = 0.1, 12
SIZE = 2 * HALF + 1
EVERY = np.nonzero(np.ones((SIZE, SIZE), bool))


def table_of(values) -> np.ndarray:
    return values(node_directions(*EVERY, HALF, STEP)).reshape(SIZE, SIZE, -1)


def at(x: float, y: float) -> np.ndarray:
    """Up vector of stereographic coordinates (x, y)."""
    size = 1 + x * x + y * y
    return np.array([[2 * x / size, 2 * y / size, (2 - size) / size]])


places = st.tuples(*[st.floats(-0.65, 0.65)] * 2)


def test_nodes_are_unit_vectors_with_level_in_the_middle():
    up = node_directions(*EVERY, HALF, STEP)
    np.testing.assert_allclose(np.linalg.norm(up, axis=1), 1.0, atol=1e-15)
    np.testing.assert_array_equal(
        node_directions(np.array([HALF]), np.array([HALF]), HALF, STEP), [[0, 0, 1]]
    )


@given(places)
def test_known_exactly_at_nodes_and_near_between(place):
    up = at(*place)
    values, _ = look_up(table_of(lambda u: u[:, :2]), up, STEP, HALF, np.zeros(2))
    np.testing.assert_allclose(values, up[:, :2], atol=STEP**2)
    node = at(*(np.round(np.array(place) / STEP) * STEP))
    values, _ = look_up(table_of(lambda u: u[:, :2]), node, STEP, HALF, np.zeros(2))
    np.testing.assert_allclose(values, node[:, :2], atol=1e-12)


@given(places, places, st.floats(1e-3, 0.3), st.sampled_from([-1.0, 1.0]))
def test_a_sign_that_is_not_certain_is_solved_anew(tip, place, depth, way):
    """The sharpest that a margin can be: a cone of slope R about a tip between the nodes."""
    reach, centre = 1.7, at(*tip)

    def cone(u):
        return way * (reach * np.linalg.norm(u - centre, axis=1, keepdims=True) - depth)

    for up in (at(*place), centre):
        values, anew = look_up(table_of(cone), up, STEP, HALF, np.array([reach]))
        assert anew[0] or np.sign(values[0, 0]) == np.sign(cone(up)[0, 0])


def test_far_from_zero_nothing_is_solved_anew():
    flat = table_of(lambda u: np.full((len(u), 1), 0.5))
    _, anew = look_up(flat, at(0.123, -0.456), STEP, HALF, np.array([1.0]))
    assert not anew[0]


def test_missing_nodes_and_overturned_rows_are_solved_anew():
    table = table_of(lambda u: np.ones((len(u), 1)))
    table[HALF + 1, HALF] = np.nan
    up = np.vstack([at(0.05, 0.05), at(0.25, 0.05), [[0.6, 0.0, -0.8]]])
    _, anew = look_up(table, up, STEP, HALF, np.array([0.1]))
    assert anew.tolist() == [True, False, True]


def test_cells_are_marked_once():
    known, wanted = np.zeros((2, SIZE, SIZE), bool)
    known[HALF, HALF] = True
    up = np.vstack([at(0.05, 0.05), at(0.06, 0.04), [[0.0, 0.6, -0.8]]])
    assert mark_cells(up, STEP, HALF, known, wanted) == (3, 2)
    assert np.argwhere(wanted).tolist() == [[12, 13], [13, 12], [13, 13]]


def test_low_pass_reaches_63_percent_in_a_time_constant_and_starts_afresh():
    state = np.full(3, np.nan)
    steps = np.array([[0.0, 0, 1], *[[1.0, 0, 1]] * 100, [5.0, 0, 1]])
    interval = np.array([np.nan, *[0.02] * 100, np.nan])
    out = low_pass(steps, interval, 2.0, state)
    assert out[100, 0] == pytest.approx(1 - np.exp(-1.0), rel=1e-12)
    assert out[101, 0] == 5.0
    assert state.tolist() == [5.0, 0.0, 1.0]
