import math

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from tanksolve.errors import FillError
from tanksolve.model.fluid_catalogue import LIQUIDS
from tanksolve.pump.budget import (
    AIR_SPACE_RULES,
    Action,
    Cylinder,
    Hose,
    Temperatures,
    work_out_budget,
)

OIL = LIQUIDS["ISO VG 46"]
DAY = Temperatures(288.15, 253.15, 353.15)


def test_lines_add_up_by_hand() -> None:
    """40 L at 15 °C, +65 K and -35 K at 0.0007/K; two rods of 40 mm over 0.5 m; 2 m of 25.4 mm hose."""
    budget = work_out_budget(
        0.060,
        0.040,
        OIL,
        DAY,
        (Cylinder(0.08, 0.04, 0.5, 2),),
        (Hose(0.0254, 2.0),),
        leakage=0.0005,
    )
    assert budget.most_m3 * 1000 == pytest.approx(40.0 * (1 + 0.0007 * 65), rel=1e-12)
    rods = 2 * math.pi / 4 * 0.04**2 * 0.5 * 1000
    hose = math.pi / 4 * 0.0254**2 * 2.0 * 1000
    expected = 40.0 * (1 - 0.0007 * 35) - rods - hose - 0.5
    assert budget.least_m3 * 1000 == pytest.approx(expected, rel=1e-12)
    assert budget.passes
    assert budget.fill.least == budget.least_m3
    assert sum(step.to_most_m3 for step in budget.steps) == pytest.approx(budget.most_m3)


def test_single_acting_takes_its_bore() -> None:
    double, single = (Cylinder(0.08, 0.04, 0.5, action=a) for a in Action)
    assert single.drawn == pytest.approx(4.0 * double.drawn)


def test_circuit_growth_comes_back() -> None:
    alone, with_circuit = (work_out_budget(0.06, 0.04, OIL, DAY, circuit=c) for c in (0.0, 0.020))
    assert with_circuit.most_m3 - alone.most_m3 == pytest.approx(0.020 * 0.0007 * 65, rel=1e-9)
    assert alone.least_m3 - with_circuit.least_m3 == pytest.approx(0.020 * 0.0007 * 35, rel=1e-9)


@given(
    capacity=st.floats(0.01, 1.0),
    circuit=st.floats(0.0, 0.2),
    rule=st.sampled_from(sorted(AIR_SPACE_RULES)),
)
@settings(deadline=None, max_examples=50)
def test_greatest_cold_fill_just_keeps_the_air_space(
    capacity: float, circuit: float, rule: str
) -> None:
    asked = AIR_SPACE_RULES[rule]
    first = work_out_budget(capacity, 0.3 * capacity, OIL, DAY, circuit=circuit, rule=asked)
    at = work_out_budget(
        capacity, first.greatest_cold_fill_m3, OIL, DAY, circuit=circuit, rule=asked
    )
    assert at.air_space_m3 == pytest.approx(
        at.air_space_required_m3, abs=1e-9 * capacity + 1e-12
    ) or (at.cold_fill_m3 == 0.0)


def test_overflow_and_empty_are_said() -> None:
    hot = work_out_budget(0.041, 0.040, OIL, DAY)
    assert not hot.passes
    assert any("runs over" in c for c in hot.cautions)
    dry = work_out_budget(0.06, 0.002, OIL, DAY, (Cylinder(0.08, 0.05, 2.0, 2),))
    assert not dry.passes
    assert dry.least_m3 < 0.0
    assert any("nothing is left" in c for c in dry.cautions)
    with pytest.raises(FillError, match="not positive"):
        _ = dry.fill


def test_nonsense_is_refused() -> None:
    with pytest.raises(FillError, match="thinner than the bore"):
        Cylinder(0.04, 0.08, 0.5)
    with pytest.raises(FillError, match="more than the tank holds"):
        work_out_budget(0.06, 0.07, OIL, DAY)
    with pytest.raises(FillError, match="in order"):
        Temperatures(288.15, 300.0, 353.15)
    with pytest.raises(FillError, match="leakage"):
        work_out_budget(0.06, 0.04, OIL, DAY, leakage=-0.001)
    with pytest.raises(FillError, match="hose"):
        Hose(-0.02, 1.0)
