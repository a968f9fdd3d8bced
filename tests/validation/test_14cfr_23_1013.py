"""14 CFR 23.1013 (superseded Part 23), oil tanks: expansion space of 10 %, or half a gallon if more.

Beside it the other published air spaces: 14 CFR 23.969 and 46 CFR 58.50-1(c), 2 %; 49 CFR 393.67,
filled to no more than 95 %.
"""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.pump.budget import AIR_SPACE_RULES


def test_ten_percent_or_half_a_gallon() -> None:
    assert AIR_SPACE_RULES["oil tank 10 %"].required(0.2) == pytest.approx(0.020)
    reciprocating = AIR_SPACE_RULES["oil tank 10 % or half a gallon"]
    assert reciprocating.required(0.2) == pytest.approx(0.020)
    assert reciprocating.required(0.010) == pytest.approx(0.5 * 3.785411784e-3)


def test_fuel() -> None:
    assert AIR_SPACE_RULES["fuel tank 2 %"].required(0.1) == pytest.approx(0.002)
    assert AIR_SPACE_RULES["fuel outage 2 %"].required(0.1) == pytest.approx(0.002)
    assert AIR_SPACE_RULES["truck fuel tank 5 %"].required(0.1) == pytest.approx(0.005)


def beside() -> Iterator[Beside]:
    for rule, volume, litres in (
        ("oil tank 10 %", 0.2, 20.0),
        ("oil tank 10 % or half a gallon", 0.010, 1.892705892),
        ("fuel tank 2 %", 0.1, 2.0),
        ("truck fuel tank 5 %", 0.1, 5.0),
    ):
        ours = 1000.0 * AIR_SPACE_RULES[rule].required(volume)
        yield Beside(f"air over {1000 * volume:g} L by {rule}", litres, ours, "L", 4)
