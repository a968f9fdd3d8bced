"""How much liquid: what is taken and what is refused."""

import math

import pytest

from tanksolve.errors import FillError
from tanksolve.model.liquid import Fill


def test_a_number_is_both_least_and_most():
    assert Fill.of(0.042) == Fill(0.042, 0.042)
    both = Fill(0.03, 0.042)
    assert Fill.of(both) is both


@pytest.mark.parametrize(
    ("least", "most", "message"),
    [
        (0.0, 0.1, "not positive"),
        (-0.01, 0.1, r"-10 L is not positive"),
        (0.2, 0.1, "is above the most"),
        (math.nan, 0.1, "not a finite"),
        (0.1, math.inf, "not a finite"),
    ],
)
def test_fills_that_are_refused(least, most, message):
    with pytest.raises(FillError, match=message):
        Fill(least, most)


def test_more_than_the_tank_holds():
    Fill.of(0.081).check(0.081)
    with pytest.raises(FillError, match=r"82 L is more") as caught:
        Fill(0.03, 0.082).check(0.081)
    assert "81.00 L" in caught.value.allowed
