"""The lowest wave in a box of whole bricks: k tanh(k h), and how far it leans, in closed form."""

import math

import numpy as np
import pytest
from solids_by_hand import box

from tanksolve.kernel.waves.cut_mesh import CutMesh
from tanksolve.kernel.waves.modes import wave_numbers


def bricks(counts, size):
    """A box of whole bricks, all wet, one corner at the origin."""
    places = np.stack(np.meshgrid(*map(np.arange, counts), indexing="ij"), axis=-1).reshape(-1, 3)
    sizes = np.broadcast_to(np.array(size) / counts, (len(places), 3)).copy()
    one = box((2.0, 2.0, 2.0), (-1.0, -1.0, -1.0))
    owner = np.repeat(np.arange(len(places)), len(one))
    return CutMesh(places, (places + 0.5) * sizes, sizes, np.tile(one, (len(places), 1, 1)), owner)


@pytest.mark.parametrize("axis", [0, 1])
def test_the_first_wave_along_a_box(axis):
    """phi = cos(pi x / a) cosh(k z), from memory (Lamb, chapter 9), depth 0.4 m, a = 1.2 m, 0.2 m wide.

    It leans by (int x cos)² / (int cos² int (x - mean)²) = (2 a²/pi²)² / (a/2 a³/12) = 96 / pi⁴.
    """
    a, depth = 1.2, 0.4
    counts, size = ((6, 1, 2), (a, 0.2, depth)) if axis == 0 else ((1, 6, 2), (0.2, a, depth))
    numbers, lean = wave_numbers(bricks(counts, size), 3)
    k = math.pi / a
    exact = k * math.tanh(k * depth)
    assert exact * (1.0 - 1e-6) <= numbers[0] == pytest.approx(exact, rel=1e-3)
    assert lean[0, axis] ** 2 == pytest.approx(96.0 / math.pi**4, rel=1e-3)
    assert lean[0, 1 - axis] == pytest.approx(0.0, abs=1e-6)
    assert lean[1] == pytest.approx((0.0, 0.0), abs=1e-6)  # both ends rise and fall alike
    second = 2.0 * k * math.tanh(2.0 * k * depth)
    assert numbers[1] == pytest.approx(second, rel=1e-2)


def test_two_boxes_that_share_no_brick_are_two_bodies_and_the_wider_surface_counts():
    whole = bricks((8, 1, 1), (1.6, 0.2, 0.2))
    kept = np.flatnonzero(whole.places[:, 0] != 2)  # 0.4 m and 1.0 m
    rows = np.isin(whole.owner, kept)
    owner = np.searchsorted(kept, whole.owner[rows])
    parted = CutMesh(
        whole.places[kept], whole.centres[kept], whole.sizes[kept], whole.corners[rows], owner
    )
    k = math.pi / 1.0
    numbers, _ = wave_numbers(parted, 1)
    assert numbers[0] == pytest.approx(k * math.tanh(0.2 * k), rel=2e-3)
