"""Tolerances against the derivatives of the paper formula tan(slope) = (depth - height) / distance."""

import math
from pathlib import Path

import pytest

from tanksolve.errors import FillError, TankError
from tanksolve.geometry.parts import box
from tanksolve.model.ports import breather, filler, pickup
from tanksolve.project.load import load
from tanksolve.questions.tolerance.tolerance import Tolerances, tolerances

TANK = box(0.9, 0.3, 0.3)
PORTS = [pickup("p", (0.02, 0.15, 0.1))]
LEVER = 0.43
AREA = 0.27
SLOPE = math.atan((0.042 / AREA - 0.1) / LEVER)
STEEPER = math.degrees(math.cos(SLOPE) ** 2 / LEVER)  # degrees per metre of height


def just_below(bound, exact, by=0.06):
    """A bound: never above what is exact, and little below it [°]."""
    return exact - by <= bound <= exact + 1e-9


def nose_down(found):
    return next(limit for limit in found.limits if limit.side == "nose down")


def test_fill_error_takes_its_depth():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(fill=0.002)))
    assert row.nominal_deg == pytest.approx(math.degrees(SLOPE), abs=1e-9)
    exact = math.degrees(math.atan((0.040 / AREA - 0.1) / LEVER))
    assert just_below(row.adverse_deg, exact)
    assert row.shares_deg == {"fill": pytest.approx(0.002 / AREA * STEEPER, rel=0.01)}
    assert row.port == "p"


def test_opening_moved_takes_its_height_along_up():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(position=0.004)))
    share = 0.004 / math.cos(SLOPE) * STEEPER
    assert row.shares_deg["position"] == pytest.approx(share, rel=0.01)


@pytest.mark.parametrize("off", [0.004, 0.02])
def test_opening_moved_in_closed_form(off):
    """The surface must stand e over the opening, square to itself: with k the level on level ground
    over the opening and l its distance behind the middle, k cos b - l sin b = e, which is
    hypot(k, l) cos(b + atan(l / k)) = e."""
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(position=off)))
    over = 0.042 / AREA - 0.1
    exact = math.acos(off / math.hypot(over, LEVER)) - math.atan(LEVER / over)
    assert just_below(row.adverse_deg, math.degrees(exact))


@pytest.mark.parametrize("gauge", [0.1, 0.5, 3.0])
def test_gauge_error_in_closed_form(gauge):
    """The slope is steeper than what is read by the whole error: tan(limit + error) = k / l."""
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(gauge=gauge)))
    exact = math.degrees(math.atan((0.042 / AREA - 0.1) / LEVER)) - gauge
    line = (exact + gauge) / 128.0  # to this the line between headings is proved
    assert just_below(row.adverse_deg, exact, by=0.05 + line + 0.02 * gauge)
    assert row.shares_deg == {"gauge": gauge}


def test_walls_out_lower_the_level_and_the_floor():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(walls=0.003)))
    wide = 0.042 / (0.906 * 0.306) - 0.003
    exact = math.degrees(math.atan((wide - 0.1) / LEVER))
    assert just_below(row.adverse_deg, exact)


def test_gauge_comes_off_whole_and_all_together_is_worse_than_each():
    off = Tolerances(fill=0.002, position=0.004, walls=0.003, gauge=0.5)
    row = nose_down(tolerances(TANK, PORTS, 0.042, off))
    assert row.shares_deg["gauge"] == pytest.approx(0.5)
    assert set(row.shares_deg) == {"fill", "position", "walls", "gauge"}
    taken = row.nominal_deg - row.adverse_deg
    assert taken > max(row.shares_deg.values())
    assert taken == pytest.approx(sum(row.shares_deg.values()), rel=0.15)


def test_a_breather_is_judged_with_more_fill_and_walls_in():
    ports = [breather("b", (0.1, 0.15, 0.3))]
    off = Tolerances(fill=0.002, walls=0.003)
    found = tolerances(TANK, ports, 0.042, off)
    row = next(limit for limit in found.limits if limit.side == "nose up")
    assert row.adverse_deg < row.nominal_deg
    assert all(share > 0.0 for share in row.shares_deg.values())


def test_none_where_nothing_gives_out_and_nought_where_not_held_level():
    found = tolerances(TANK, PORTS, 0.042, Tolerances(fill=0.001))
    up = next(limit for limit in found.limits if limit.side == "nose up")
    assert up.nominal_deg is None
    assert up.adverse_deg is None
    assert up.shares_deg == {"fill": None}
    lost = tolerances(TANK, PORTS, 0.042, Tolerances(position=0.2, gauge=0.5))
    assert all(limit.adverse_deg == 0.0 for limit in lost.limits)
    up = next(limit for limit in lost.limits if limit.side == "nose up")
    assert up.shares_deg == {"position": None, "gauge": None}


def test_no_share_of_a_limit_that_is_nought_already():
    found = tolerances(TANK, PORTS, 0.02, Tolerances(fill=0.001, gauge=0.5))
    for limit in found.limits:
        assert (limit.nominal_deg, limit.adverse_deg) == (0.0, 0.0)
        assert limit.shares_deg == {"fill": None, "gauge": None}


def test_the_share_of_a_gauge_is_whole_however_close_the_limit():
    """A limit of 0.06 degrees, a gauge off by 5: the limit ends at 0, the share is told whole."""
    fill = AREA * (0.1 + LEVER * math.tan(math.radians(0.06)))
    row = nose_down(tolerances(TANK, PORTS, fill, Tolerances(gauge=5.0)))
    assert row.nominal_deg == pytest.approx(0.06, abs=1e-9)
    assert row.adverse_deg == 0.0
    assert row.shares_deg["gauge"] == 5.0


@pytest.mark.parametrize("bad", [{"walls": -0.001}, {"fill": math.nan}, {"gauge": 90.0}])
def test_figures_that_cannot_be_are_refused(bad):
    with pytest.raises(FillError):
        Tolerances(**bad)


def test_more_off_than_there_is_is_refused():
    with pytest.raises(FillError, match="may be none"):
        tolerances(TANK, PORTS, 0.042, Tolerances(fill=0.042))
    with pytest.raises(TankError, match="leave nothing"):
        tolerances(TANK, PORTS, 0.042, Tolerances(walls=0.15))


def test_each_is_told_with_its_unit_and_a_slope_with_its_grade():
    words = Tolerances(fill=0.002, walls=0.003, gauge=0.5).words()
    assert words == ("fill 2.00 L", "each wall 3.0 mm", "inclinometer 0.5° (0.8 % grade)")


def test_what_a_wall_can_keep_from_the_pickup_is_not_counted_on():
    """Less than the wall holds may all stand in the rear bay: nothing is sure of the pickup in front."""
    tank = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
    ports = [
        pickup("p", (0.55, 0.2, 0.015), bore=0.02, cover=0.0),
        filler("neck", (0.2, 0.2, 0.29)),
    ]
    found = tolerances(tank, ports, 0.03, Tolerances(gauge=0.5), every_deg=45.0, search_to_deg=10.0)
    assert found.limits[0].nominal_deg == 0.0
