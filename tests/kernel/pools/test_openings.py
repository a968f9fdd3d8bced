"""Flow through openings: the orifice and the weir as the two ends of one integral, and its inverse."""

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools import openings
from tanksolve.kernel.pools.openings import levels_before, passed

LEVEL = np.array([[0.0, 0.0, 1.0]])
angles = st.tuples(st.floats(0.0, 1.2), st.floats(0.0, 6.28))


def rectangle(low, high, width=0.3):
    """An upright rectangle across x = 0 as two triangles."""
    a, b = (0.0, 0.0, low), (0.0, width, low)
    c, d = (0.0, width, high), (0.0, 0.0, high)
    return np.array([[a, b, c], [a, c, d]])


def in_grains(up, corners, upper, lower, parts=200):
    """The same integral by a plain sum over many small pieces of each triangle."""
    k = (np.arange(parts) + 0.5) / parts
    s, t = np.meshgrid(k, k, indexing="ij")
    s, t = np.where(s + t > 1.0, 1.0 - s, s), np.where(s + t > 1.0, 1.0 - t, t)
    total = 0.0
    for a, b, c in corners:
        z = (a + s[..., None] * (b - a) + t[..., None] * (c - a)) @ up
        head = np.where(z < upper, upper - np.maximum(z, lower), 0.0)
        area = 0.5 * np.linalg.norm(np.cross(b - a, c - a))
        total += area * np.sqrt(np.maximum(head, 0.0)).mean()
    return total


def test_gauss_legendre_as_numpy_has_it():
    nodes, weights = np.polynomial.legendre.leggauss(5)
    assert pytest.approx(0.5 + 0.5 * nodes, abs=1e-15) == openings._NODES
    assert pytest.approx(0.5 * weights, abs=1e-15) == openings._WEIGHTS


def test_wholly_under_liquid_it_is_an_orifice():
    corners = rectangle(0.0, 0.05)
    assert passed(LEVEL, corners, 0.2, 0.1)[0] == pytest.approx(0.015 * 0.1**0.5, rel=1e-13)


def test_free_fall_over_a_sill_is_a_weir():
    corners = rectangle(0.04, 0.3)
    want = 2.0 / 3.0 * 0.3 * 0.02**1.5  # of (2 g)^0.5 Cd: the rectangular weir
    assert passed(LEVEL, corners, 0.06, -1.0)[0] == pytest.approx(want, rel=1e-12)
    assert passed(LEVEL, corners, 0.06, 0.0399)[0] == pytest.approx(want, rel=1e-12)


def test_partly_under_it_is_the_sum_of_both():
    want = 0.3 * 0.03 * 0.17**0.5 + 0.2 * (0.17**1.5 - 0.15**1.5)
    assert passed(LEVEL, rectangle(0.0, 0.05), 0.2, 0.03)[0] == pytest.approx(want, rel=1e-12)


def test_nothing_flows_backwards_or_above_the_level():
    corners = rectangle(0.1, 0.2)
    assert passed(LEVEL, corners, 0.15, 0.15)[0] == passed(LEVEL, corners, 0.15, 0.16)[0] == 0.0
    assert passed(LEVEL, corners, 0.1, -1.0)[0] == 0.0


def test_a_level_plate_passes_under_the_head_over_it():
    a, b, c = (0.0, 0.0, 0.1), (0.1, 0.0, 0.1), (0.0, 0.1, 0.1)
    assert passed(LEVEL, np.array([[a, b, c]]), 0.3, -1.0)[0] == pytest.approx(0.005 * 0.2**0.5)


@settings(deadline=None, max_examples=25, derandomize=True)
@given(angles, st.floats(-0.1, 0.35), st.floats(-0.1, 0.35), st.integers(0, 2**31))
def test_any_triangle_at_any_attitude_is_the_sum_of_its_grains(at, upper, lower, seed):
    corners = np.random.default_rng(seed).uniform(0.0, 0.2, (2, 3, 3))
    up = up_from_slope_heading(*at)
    want = in_grains(up, corners, upper, lower)
    assert passed(up, corners, upper, lower)[0] == pytest.approx(want, rel=5e-3, abs=2e-6)


@settings(deadline=None, max_examples=25, derandomize=True)
@given(angles, st.floats(-0.3, 0.4), st.floats(1e-6, 3e-3), st.integers(0, 2**31))
def test_the_level_before_drives_the_demand_and_moves_with_everything(at, lower, demand, seed):
    corners = np.random.default_rng(seed).uniform(0.0, 0.2, (3, 3, 3))
    up = up_from_slope_heading(*at)
    level = levels_before(up, corners, lower, demand)[0]
    assert passed(up, corners, level, lower)[0] >= demand * (1.0 - 1e-12)
    assert passed(up, corners, level - 2e-9, lower)[0] < demand
    # raised alike: the same; a lower tail or a lower opening alone: never a higher level
    lifted = levels_before(up, corners + 0.05 * up, lower + 0.05, demand)[0]
    assert lifted == pytest.approx(level + 0.05, abs=3e-9)
    assert levels_before(up, corners, lower - 0.01, demand)[0] <= level + 2e-9
    assert levels_before(up, corners - 0.01 * up, lower, demand)[0] <= level + 2e-9
    assert levels_before(up, corners, lower, 0.9 * demand)[0] <= level + 2e-9


def test_no_demand_asks_for_the_sill_or_the_level_behind():
    corners = rectangle(0.1, 0.2)
    assert levels_before(LEVEL, corners, 0.0, 0.0)[0] == pytest.approx(0.1)
    assert levels_before(LEVEL, corners, 0.15, 0.0)[0] == 0.15
