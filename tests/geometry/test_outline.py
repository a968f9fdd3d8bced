"""Outlines of openings as few corners: nothing of a rim lies outside of them, and little beside it."""

import numpy as np
import pytest

from tanksolve.geometry.outline import outline_corners


def rim_of(rng, sides, wide, bent=0.0):
    """A convex rim (N, 3), turned any way, and the direction square to it."""
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    rim = np.stack([wide * np.cos(turn), np.sin(turn), bent * np.cos(turn) ** 2], axis=1)
    axes, _ = np.linalg.qr(rng.normal(size=(3, 3)))
    return rim @ axes.T + rng.normal(size=3), axes[:, 2]


@pytest.mark.parametrize("bent", [0.0, 0.1])
@pytest.mark.parametrize("sides", [4, 7, 32, 33, 60, 400])
@pytest.mark.parametrize("wide", [0.2, 1.0, 4.0])
def test_corners_hold_the_rim_and_hardly_more(sides, wide, bent):
    rng = np.random.default_rng(sides)
    rim, normal = rim_of(rng, sides, wide, bent)
    corners = outline_corners(rim, normal)
    assert len(corners) <= (64 if bent else 32)
    up = rng.normal(size=(2000, 3))
    up /= np.linalg.norm(up, axis=1)[:, None]
    over = (up @ corners.T).max(axis=1) - (up @ rim.T).max(axis=1)
    assert over.min() > -1e-12
    assert over.max() < (1e-12 if sides <= 32 else 0.025 * max(wide, 1.0) + bent)


def test_corners_in_straight_sides_are_left_out():
    side = np.linspace(0.0, 1.0, 9)[:-1]
    rim = np.concatenate(
        [
            np.stack([side, 0 * side, 0 * side], axis=1),
            np.stack([1 + 0 * side, side, 0 * side], axis=1),
            np.stack([1 - side, 1 + 0 * side, 0 * side], axis=1),
            np.stack([0 * side, 1 - side, 0 * side], axis=1),
        ]
    )
    found = outline_corners(rim, np.array([0.0, 0.0, 1.0]))
    assert {tuple(np.round(corner, 9) + 0.0) for corner in found} == {
        (0, 0, 0), (1, 0, 0), (1, 1, 0), (0, 1, 0)
    }  # fmt: skip


def test_a_notch_in_a_rim_is_bridged():
    rim = np.array([(0, 0, 0), (2, 0, 0), (2, 1, 0), (1, 1, 0), (1, 2, 0), (0, 2, 0)], float)
    assert len(outline_corners(rim, np.array([0.0, 0.0, 1.0]))) == 5


@pytest.mark.parametrize("sides", [33, 48, 60])
def test_corners_of_a_round_rim_hang_on_no_last_bit(sides):
    """Which sides of a round hole were left out was settled by rounding: limits moved by 0.03 degrees."""
    rng = np.random.default_rng(sides)
    turn = np.linspace(0.0, 2.0 * np.pi, sides, endpoint=False)
    rim = np.stack([np.cos(turn), np.sin(turn), 0.05 * np.cos(turn) ** 2], axis=1)
    first = outline_corners(rim, np.array([0.0, 0.0, 1.0]))
    for _ in range(20):
        noise = rng.normal(size=rim.shape, scale=1e-8)
        normal = np.array([0.0, 0.0, 1.0]) + rng.normal(size=3, scale=1e-9)
        again = outline_corners(np.roll(rim + noise, rng.integers(sides), axis=0), normal)
        apart = np.linalg.norm(first[:, None] - again[None], axis=2)
        assert apart.min(axis=1).max() < 1e-5
