"""The search over attitudes: what it solves is a maximum, what it bounds is never passed."""

import math

import numpy as np
import pytest

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.model.requirement import Requirement
from tanksolve.state.worst_case import worst_case

DEG = math.radians(1.0)
CONE = Requirement.every_heading(30 * DEG)
PEAK = up_from_slope_heading(17.3 * DEG, 201.7 * DEG)


def test_a_linear_function_is_greatest_on_the_rim_and_solved_to_rounding():
    along = up_from_slope_heading(50 * DEG, 77.7 * DEG)
    found = worst_case(
        CONE, lambda up: up @ along, lambda up, hulls: (hulls @ along).max(axis=1), 1e-4
    )
    assert found.value == pytest.approx(math.cos(20 * DEG), abs=1e-14)
    assert found.value <= found.bound <= found.value + 1e-4
    assert found.up == pytest.approx(tuple(up_from_slope_heading(30 * DEG, 77.7 * DEG)), abs=1e-7)


def hill(up):
    """A broad hill that is easily found, and a narrow peak that is a little higher."""
    near = np.linalg.norm(up - PEAK, axis=-1)
    return up[..., 0] + np.maximum(0.0, 1.0 - 25.0 * near)


def hill_bound(up, hulls):
    reach = np.linalg.norm(hulls - up[:, None], axis=-1).max(axis=1)
    return hill(up) + 26.0 * reach


def test_a_narrow_peak_is_found_through_its_bound_and_polished():
    found = worst_case(CONE, hill, hill_bound, 1e-3)
    assert found.value == pytest.approx(float(PEAK[0]) + 1.0, abs=1e-9)
    assert found.bound >= found.value


def test_the_bound_covers_what_no_sample_can_see():
    """A peak so narrow that no sample hits it: only the bound knows of it."""

    def hidden(up):
        return up[:, 0]

    def knowing(up, hulls):
        reach = np.linalg.norm(hulls - up[:, None], axis=-1).max(axis=1)
        close = np.linalg.norm(up - PEAK, axis=-1) <= reach
        return up[:, 0] + reach + np.where(close, 0.9, 0.0)

    found = worst_case(CONE, hidden, knowing, 1e-3)
    assert found.value == pytest.approx(0.5, abs=1e-12)
    assert found.bound >= float(PEAK[0]) + 0.9


def test_a_full_circle_of_headings_has_no_seam():
    """The maximum sits at heading 0, where the patch's range begins and ends."""
    along = up_from_slope_heading(60 * DEG, -0.3 * DEG)
    found = worst_case(CONE, lambda up: up @ along, lambda up, h: (h @ along).max(axis=1), 1e-4)
    assert found.value == pytest.approx(math.cos(30 * DEG), abs=1e-14)


def test_one_attitude_needs_one_look():
    from tanksolve.model.attitude import Attitude

    need = Requirement.single(Attitude.from_slope(20 * DEG, 40 * DEG))
    found = worst_case(need, lambda up: up[:, 0], lambda up, hulls: hulls[..., 0].max(axis=1), 1e-9)
    assert found.value == pytest.approx(math.sin(20 * DEG) * math.cos(40 * DEG))
    assert found.bound == pytest.approx(found.value, abs=1e-12)


def test_a_closer_look_closes_cells_and_is_never_passed():
    """A plateau: bounds by cell size leave all of it open, a closer look at what is left does not."""

    def flat(up):
        return 1.0 - 1e-6 * (1.0 - up[:, 2])

    def rough(up, hulls):
        return flat(up) + np.linalg.norm(hulls - up[:, None], axis=-1).max(axis=1)

    asked = []

    def closes(up, hulls, most):
        asked.append(most)
        return np.full(len(up), most >= 1.0)

    rough_alone = worst_case(CONE, flat, rough, 1e-3)
    found = worst_case(CONE, flat, rough, 1e-3, closes=closes)
    assert max(asked) <= found.bound == pytest.approx(found.value + 1e-3)
    assert found.evaluations < 0.02 * rough_alone.evaluations
    not_closed = worst_case(CONE, flat, rough, 1e-3, closes=lambda up, *_: np.zeros(len(up), bool))
    assert not_closed == rough_alone
