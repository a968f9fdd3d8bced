"""The Pareto set against its definition, point by point."""

import numpy as np
import pytest

from tanksolve.study.results import nondominated


@pytest.mark.parametrize("aims", [1, 2, 3])
@pytest.mark.parametrize("steps", [3, 1000])
def test_the_pareto_set_is_what_none_betters(aims, steps):
    random = np.random.default_rng(aims * steps)
    for _ in range(20):
        costs = random.integers(0, steps, (60, aims)).astype(float)
        bettered = [
            any((other <= one).all() and (other < one).any() for other in costs) for one in costs
        ]
        assert nondominated(costs).tolist() == np.flatnonzero(np.logical_not(bettered)).tolist()
