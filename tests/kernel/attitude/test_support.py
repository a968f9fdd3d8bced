"""How high an opening reaches: the formula against openings sampled by brute force."""

import math

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st
from strategies import directions, lengths

from tanksolve.kernel.attitude.support import reach, support_high, support_low

RIM_POINTS = 720
# a polygon of that many corners reaches less far than its circle by r (1 - cos(half a step))
POLYGON_GAP = 1.0 - math.cos(math.pi / RIM_POINTS)


def rim(centre, axis, radius):
    """Points (720, 3) on the edge of a disc, from any two directions square to its axis."""
    helper = np.eye(3)[np.argmin(np.abs(axis))]
    first = np.cross(axis, helper)
    first /= np.linalg.norm(first)
    second = np.cross(axis, first)
    turn = np.linspace(0.0, 2.0 * math.pi, RIM_POINTS, endpoint=False)[:, None]
    return centre + radius * (np.cos(turn) * first + np.sin(turn) * second)


def disc_row(centre, axis, radius, ball=0.0):
    return np.array([*centre, *axis, radius, ball])


points = st.tuples(*[st.floats(-1.0, 1.0)] * 3).map(np.array)


@given(points, directions(), lengths(), directions())
def test_disc_against_its_sampled_rim(centre, axis, radius, up):
    heights = rim(centre, axis, radius) @ up
    row = disc_row(centre, axis, radius)[None]
    high, low = support_high(row, up[None])[0], support_low(row, up[None])[0]
    slack = radius * POLYGON_GAP + 1e-12
    assert heights.max() - 1e-12 <= high <= heights.max() + slack
    assert heights.min() - slack <= low <= heights.min() + 1e-12


@given(points, directions(), lengths(), lengths(), directions())
def test_strainer_reaches_as_far_as_the_farther_end_disc(centre, axis, radius, length, up):
    ends = [centre, centre + length * axis]
    rows = np.stack([disc_row(end, axis, radius) for end in ends])
    heights = np.concatenate([rim(end, axis, radius) for end in ends]) @ up
    slack = radius * POLYGON_GAP + 1e-12
    assert heights.max() - 1e-12 <= support_high(rows, up[None])[0] <= heights.max() + slack
    assert heights.min() - slack <= support_low(rows, up[None])[0] <= heights.min() + 1e-12


@given(points, lengths(), directions(), directions())
def test_ball_holds_the_opening_at_any_facing(centre, radius, facing, up):
    ball = disc_row(centre, (0.0, 0.0, 1.0), 0.0, ball=radius)[None]
    known = disc_row(centre, facing, radius)[None]
    assert support_high(ball, up[None])[0] >= support_high(known, up[None])[0] - 1e-15
    assert support_low(ball, up[None])[0] <= support_low(known, up[None])[0] + 1e-15
    assert support_high(ball, up[None])[0] == pytest.approx(centre @ up + radius, abs=1e-14)


def test_digits_are_kept_where_up_is_nearly_the_axis():
    """A tilt of 1e-9 rad raises a disc's rim by r x 1e-9; sqrt(1 - (u.n)^2) would give nought."""
    up = np.array([[math.sin(1e-9), 0.0, math.cos(1e-9)]])
    high = support_high(disc_row((0.0, 0.0, 0.0), (0.0, 0.0, 1.0), 2.0)[None], up)
    assert high[0] == pytest.approx(2e-9, rel=1e-12)


def test_one_height_for_each_direction():
    up = np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0], [0.0, 0.0, -1.0]])
    rows = disc_row((1.0, 2.0, 3.0), (0.0, 0.0, 1.0), 0.5)[None]
    np.testing.assert_allclose(support_high(rows, up), [3.0, 1.5, 2.5, -3.0])
    np.testing.assert_allclose(support_low(rows, up), [3.0, 0.5, 1.5, -3.0])


@given(points, directions(), lengths(), st.floats(0.0, 0.5))
def test_reach_bounds_every_distance_from_mesh_to_opening(centre, axis, radius, ball):
    corners = np.array([[x, y, z] for x in (0.0, 1.2) for y in (0.0, 0.5) for z in (0.0, 0.8)])
    rows = disc_row(centre, axis, radius, ball)[None]
    on_rim = rim(centre, axis, radius)
    farthest = np.linalg.norm(corners[:, None] - on_rim[None], axis=-1).max() + ball
    assert reach(rows, corners) >= farthest - 1e-12
