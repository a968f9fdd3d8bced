import math

import pytest

from tanksolve.errors import FillError
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.cells import INCLINOMETER
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Patch, Requirement
from tanksolve.questions.sheet import commissioning_sheet

TANK = box(1.0, 0.4, 0.5)
PORTS = (
    pickup("suction", (0.3, 0.2, 0.04), bore=0.03, facing="down"),
    breather("vent", (0.5, 0.2, 0.49)),
)
SHEET = commissioning_sheet(TANK, PORTS, Fill(0.06, 0.093))


def test_dips_after_each_pour_up_to_the_most() -> None:
    assert [row.poured_m3 for row in SHEET.pours[:2]] == pytest.approx([0.005, 0.010])
    assert SHEET.pours[-1].poured_m3 == pytest.approx(0.093)
    assert len(SHEET.pours) == 19
    for row in SHEET.pours:
        assert row.dip_m == pytest.approx(row.poured_m3 / 0.4, abs=1e-12)
        assert row.differs_m == pytest.approx(0.003 + 0.01 * row.poured_m3 / 0.4, rel=1e-9)


def test_tilts_are_well_inside_the_limit_and_their_readings_are_the_closed_form() -> None:
    assert {row.side for row in SHEET.tilts} == {
        *("nose up", "nose down", "left side down", "right side down")
    }
    for row in SHEET.tilts:
        assert row.slope_deg <= 15.0
        assert row.limit_deg is None or row.slope_deg <= 0.5 * row.limit_deg
        assert row.margin_m > 0.0
    nose_down = next(r for r in SHEET.tilts if (r.side, r.port) == ("nose down", "suction"))
    slope = math.radians(nose_down.slope_deg)
    over = (0.15 - 0.04) * math.cos(slope) - 0.2 * math.sin(slope)
    assert nose_down.over_centre_m == pytest.approx(over, abs=1e-12)
    assert nose_down.margin_m == pytest.approx(over - 0.06 - 0.015 * math.sin(slope), abs=1e-12)
    half_degree = math.radians(0.5)
    lever = 0.2 * math.cos(slope) + 0.11 * math.sin(slope) + 0.015 * math.cos(slope)
    assert nose_down.differs_m == pytest.approx(0.003 + half_degree * lever, rel=0.02)


def test_the_least_margin_comes_first_and_ports_of_a_side_stay_together() -> None:
    sides = [row.side for row in SHEET.tilts[::2]]
    assert sides == [row.side for row in SHEET.tilts[1::2]]
    assert len(set(sides)) == 4
    firsts = [row.margin_m for row in SHEET.tilts[::2]]
    assert firsts == sorted(firsts)
    assert firsts[0] == min(row.margin_m for row in SHEET.tilts)
    assert firsts[0] < firsts[-1]
    assert all(
        a.margin_m <= b.margin_m for a, b in zip(SHEET.tilts[::2], SHEET.tilts[1::2], strict=True)
    )


def test_the_steps_tell_the_amounts_of_the_fill_given() -> None:
    assert SHEET.fill_dip_m == pytest.approx((0.06 / 0.4, 0.093 / 0.4), abs=1e-12)
    told = " ".join(SHEET.instructions)
    assert "fill with 60.00 L of water (dip 150.0 mm)" in told
    assert "fill to 93.00 L (dip 232.5 mm)" in told
    assert SHEET.below_floor_m == 0.0
    assert "below the floor" not in told


def test_breather_is_predicted_at_the_most_fill() -> None:
    vent = next(r for r in SHEET.tilts if (r.side, r.port) == ("nose up", "vent"))
    slope = math.radians(vent.slope_deg)
    assert vent.margin_m == pytest.approx((0.49 - 0.093 / 0.4) * math.cos(slope), abs=1e-12)


def test_a_side_is_tilted_as_far_as_is_required_where_two_degrees_are_left() -> None:
    limits = {row.side: row.limit_deg for row in SHEET.tilts}
    plain = {row.side: row.slope_deg for row in SHEET.tilts}
    assert 12.5 < limits["nose down"] < 14.0
    assert plain["nose down"] == pytest.approx(6.0)

    def tilted(requirement: Requirement) -> dict[str, float]:
        sheet = commissioning_sheet(TANK, PORTS, Fill(0.06, 0.093), requirement=requirement)
        return {row.side: row.slope_deg for row in sheet.tilts}

    every = tilted(Requirement.every_heading(math.radians(10.3)))
    assert every["nose down"] == pytest.approx(10.0)
    # a figure that leaves no room, and one past 15 degrees, change nothing or stop there
    close = math.radians(limits["nose down"] - 1.5)
    assert tilted(Requirement.every_heading(close))["nose down"] == pytest.approx(
        plain["nose down"]
    )
    pitch, roll = (math.radians(-10.0), 0.0), (math.radians(-3.0), math.radians(5.0))
    down = tilted(Requirement((Patch(INCLINOMETER, pitch, roll, "nose down"),)))
    assert down["nose down"] == pytest.approx(10.0)
    assert [down[side] for side in ("nose up", "left side down", "right side down")] == [
        plain[side] for side in ("nose up", "left side down", "right side down")
    ]


def test_a_tank_that_does_not_hold_on_level_ground_says_so() -> None:
    sheet = commissioning_sheet(TANK, PORTS, 0.03)
    assert not sheet.holds_on_level_ground
    assert {row.slope_deg for row in sheet.tilts} == {0.0}


def test_a_step_that_makes_no_table_is_refused() -> None:
    for step in (0.0, -0.005, 1e-6):
        with pytest.raises(FillError, match="make no table"):
            commissioning_sheet(TANK, PORTS, 0.06, step)
