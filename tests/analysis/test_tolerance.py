"""Tolerances against the derivatives of the paper formula tan(slope) = (depth - height) / distance."""

import math

import pytest

from tanksolve.analysis.tolerance import Tolerances, tolerances
from tanksolve.build.parts import box
from tanksolve.errors import FillError
from tanksolve.model.ports import breather, pickup

TANK = box(0.9, 0.3, 0.3)
PORTS = [pickup("p", (0.02, 0.15, 0.1))]
LEVER = 0.43
AREA = 0.27
SLOPE = math.atan((0.042 / AREA - 0.1) / LEVER)
STEEPER = math.degrees(math.cos(SLOPE) ** 2 / LEVER)  # degrees per metre of height


def nose_down(found):
    return next(limit for limit in found.limits if limit.side == "nose down")


def test_fill_error_takes_its_depth():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(fill=0.002)))
    assert row.nominal_deg == pytest.approx(math.degrees(SLOPE), abs=1e-9)
    exact = math.degrees(math.atan((0.040 / AREA - 0.1) / LEVER))
    assert row.adverse_deg == pytest.approx(exact, abs=1e-9)
    assert row.shares_deg == {"fill": pytest.approx(0.002 / AREA * STEEPER, rel=0.01)}
    assert row.port == "p"


def test_opening_moved_takes_its_height_along_up():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(position=0.004)))
    share = 0.004 / math.cos(SLOPE) * STEEPER
    assert row.shares_deg["position"] == pytest.approx(share, rel=0.01)
    assert row.adverse_deg < row.nominal_deg


def test_walls_out_lower_the_level_and_the_floor():
    row = nose_down(tolerances(TANK, PORTS, 0.042, Tolerances(walls=0.003)))
    wide = 0.042 / (0.906 * 0.306) - 0.003
    exact = math.degrees(math.atan((wide - 0.1) / LEVER))
    assert row.adverse_deg == pytest.approx(exact, abs=1e-9)


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
    lost = tolerances(TANK, PORTS, 0.042, Tolerances(position=0.2))
    assert all(limit.adverse_deg == 0.0 for limit in lost.limits)


def test_negative_figures_are_refused():
    with pytest.raises(FillError):
        Tolerances(walls=-0.001)
