"""A route thinned to stops: rows one by one, worked by hand."""

import numpy as np

from tanksolve.kernel.attitude.stops import LOST, OPEN, SURE, UNKNOWN, thinned, thinner


def ups(*degrees):
    angle = np.radians(np.array(degrees, float))
    return np.column_stack([np.sin(angle), np.zeros(len(angle)), np.cos(angle)])


def started():
    return np.array([0.0, 0.0, 1.0, 0.0, 0.0, 1.0, -1.0, 0.0])


CHORD = 2.0 * np.sin(np.radians(2.0) / 2.0) + 1e-9  # rows within 2 degrees share a stop


def test_open_rows_share_a_stop_until_one_is_too_far_from_it():
    """Sure at 5 degrees; then 6, 6.9, 8 (one stop, two from 6), 8.1 (a new one: 2.1 from 6)."""
    way = np.array([SURE, OPEN, OPEN, OPEN, OPEN, SURE], np.int8)
    up = ups(5.0, 6.0, 6.9, 8.0, 8.1, 8.2)
    rows, fresh, stop_of = thinned(up, way, np.ones(6, bool), CHORD, started())
    assert rows.tolist() == [0, 1, 4]  # it starts from the sure row
    assert fresh.tolist() == [True, False, False]
    assert stop_of.tolist() == [-1, 1, 1, 1, 2, -1]


def test_what_is_unknown_loses_the_liquid_until_a_sure_row():
    way = np.array([SURE, OPEN, UNKNOWN, OPEN, SURE, OPEN, OPEN], np.int8)
    joined = np.array([True, True, True, True, True, True, False])
    rows, fresh, stop_of = thinned(ups(*range(7)), way, joined, CHORD, started())
    assert rows.tolist() == [0, 1, 4, 5]
    assert fresh.tolist() == [True, False, True, False]
    assert stop_of.tolist() == [-1, 1, LOST, LOST, -1, 3, LOST]


def test_blocks_give_what_the_whole_gives():
    """A block may end anywhere: -1 stands for the last row of the block before."""
    rng = np.random.default_rng(7)
    up = ups(*np.cumsum(rng.normal(0.0, 1.5, 60)))
    way = rng.choice(np.array([SURE, OPEN, OPEN, OPEN, OPEN, UNKNOWN], np.int8), 60)
    joined = rng.random(60) > 0.05
    rows, fresh, stop_of = thinned(up, way, joined, CHORD, started())
    for cut in range(1, 60):
        state = started()
        first = thinned(up[:cut], way[:cut], joined[:cut], CHORD, state)
        then = thinned(up[cut:], way[cut:], joined[cut:], CHORD, state)
        assert np.concatenate([first[0], then[0] + cut]).tolist() == rows.tolist()
        assert np.concatenate([first[1], then[1]]).tolist() == fresh.tolist()
        assert np.concatenate([first[2], then[2]]).tolist() == stop_of.tolist()


def test_a_log_that_begins_open_starts_from_the_attitude_of_filling():
    """Filled at 30 degrees, first row there too: it is within no chord of level, and still a stop."""
    filled = np.array([*ups(30.0)[0], *ups(30.0)[0], -1.0, 0.0])
    way = np.full(3, OPEN, np.int8)
    rows, fresh, stop_of = thinned(ups(30.5, 31.0, 33.0), way, np.ones(3, bool), CHORD, filled)
    assert rows.tolist() == [-1, 0, 2]
    assert fresh.tolist() == [True, False, False]
    assert stop_of.tolist() == [1, 1, 2]
    assert filled.tolist() == [*ups(33.0)[0], *ups(33.0)[0], 2.0, 3.0]


def test_stops_are_thinned_further_but_for_starts_and_what_follows_them():
    up = ups(0.0, 0.5, 1.0, 1.9, 2.1, 2.2, 2.3, 2.4)
    fresh = np.array([True, False, False, False, False, True, False, False])
    assert thinner(up, fresh, CHORD).tolist() == [0, 1, 1, 1, 1, 2, 3, 3]
    assert thinner(up, np.zeros(8, bool), CHORD).tolist() == [0, 0, 0, 0, 1, 1, 1, 1]
