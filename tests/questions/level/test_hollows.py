"""The least liquid that can stand at a height, however it is spread."""

import pytest

from tanksolve.model.tank import Tank
from tanksolve.questions.level.hollows import least_to_reach
from tests.pool_tanks import arrays, box


def walled(low, high):
    """1000 x 400 x 300 mm with a wall 6 mm thick at mid-length between two heights, off the floor by 20 mm."""
    solid = box((0, 0, 0.02), (1, 0.4, 0.32)) - box(
        (0.497, -1, 0.02 + low), (0.503, 1, 0.02 + high)
    )
    return Tank("walled", *arrays(solid))


def test_below_a_hung_wall_one_pool_reaches_its_edge():
    assert least_to_reach(walled(0.06, 1.0), 0.02 + 0.06) == pytest.approx(0.4 * 0.06)
    higher = 0.4 * (0.1 - 0.006 * (0.1 - 0.06))
    assert least_to_reach(walled(0.06, 1.0), 0.02 + 0.1) == pytest.approx(higher)


def test_where_hollows_do_not_join_nothing_is_sure():
    assert least_to_reach(walled(-1.0, 0.1), 0.02 + 0.08) == 0.0
    over = 0.4 * (0.15 - 0.006 * 0.1)
    assert least_to_reach(walled(-1.0, 0.1), 0.02 + 0.15) == pytest.approx(over)
