"""Bays and the openings between each two of them, cut out of an assembled tank."""

import numpy as np
import pytest

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, hole, notch, slot
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.parts import box
from tanksolve.geometry.sumps import box_sump

SHELL = box(0.9, 0.3, 0.3)


def across(name, at, *cuts, **options):
    return Baffle(name, "across", at, 0.003, cuts=cuts, **options)


def test_bays_and_openings_of_two_plates():
    parts = Parts(
        SHELL, (), (across("b", 0.6, hole(0.04, (0.1, 0.1))), across("a", 0.3, gaps={"top": 0.02}))
    )
    found = bays_of(parts)
    assert [bay.capacity for bay in found.bays] == pytest.approx([0.027, 0.02673, 0.02673])
    by_name = {gap.name: gap for gap in found.gaps}
    round_ = by_name["hole 40 mm in 'b'"]
    assert round_.joins == (1, 2)
    assert round_.area_m2 == pytest.approx(np.pi * 0.02**2, rel=1e-9)
    assert round_.volume_m3 == pytest.approx(round_.area_m2 * 0.003, rel=1e-9)
    assert np.ptp(round_.corners[..., 0]) == pytest.approx(0.0, abs=1e-12)
    assert by_name["top gap 20 mm in 'a'"].joins == (0, 1)
    whole = sum(bay.capacity for bay in found.bays) + sum(gap.volume_m3 for gap in found.gaps)
    assert whole == pytest.approx(build(parts).capacity, rel=1e-9)


def test_where_plates_cross_an_opening_is_cut_up_between_each_two_bays():
    keel = Baffle("keel", "along", 0.15, 0.003, cuts=(hole(0.04, (0.6, 0.1)),))
    found = bays_of(Parts(SHELL, (), (across("a", 0.3, gaps={"top": 0.02}), keel)))
    tops = {gap.joins: gap.area_m2 for gap in found.gaps if gap.name.startswith("top gap")}
    assert tops == {(0, 2): pytest.approx(0.15 * 0.02), (1, 3): pytest.approx(0.147 * 0.02)}


def test_a_plate_that_ends_at_another_parts_the_opening_too():
    half = Baffle("keel", "along", 0.1, 0.003, gaps={"rear": 0.303})
    with_half = bays_of(Parts(SHELL, (), (across("a", 0.3, slot(0.1, 0.02, (0.1, 0.05))), half)))
    slots = [gap for gap in with_half.gaps if gap.name.startswith("slot")]
    joined = {gap.joins for gap in slots}
    assert len(slots) == len(joined) == 2
    # 50 mm and 47 mm of the slot's 100 mm: the plate's edge stands before the other 3 mm
    assert sum(gap.area_m2 for gap in slots) == pytest.approx(0.097 * 0.02, rel=1e-6)


def test_a_notch_begins_at_the_edge_that_a_gap_leaves():
    cut = notch("top", 0.15, 0.1, 0.05)
    found = bays_of(Parts(SHELL, (), (across("a", 0.3, cut, gaps={"top": 0.02}),)))
    assert sum(gap.area_m2 for gap in found.gaps) == pytest.approx(0.3 * 0.02 + 0.1 * 0.05)


def test_a_tank_without_plates_is_one_bay():
    pot = box_sump("pot", (0.1, 0.15), 0.1, 0.1, 0.05)
    (bay,) = bays_of(Parts(SHELL, (pot,))).bays
    assert bay.capacity == pytest.approx(0.081 + 0.0005)
    assert bays_of(Parts(SHELL)).gaps == ()


def test_a_point_is_in_the_bay_that_holds_it():
    found = bays_of(Parts(SHELL, (), (across("a", 0.3, hole(0.04, (0.1, 0.1))),)))
    assert found.bay_of((0.1, 0.1, 0.1)) == 0
    assert found.bay_of((0.303 + 1e-9, 0.1, 0.05)) == 1
    assert found.bay_of((0.9, 0.1, 0.1)) == 1


def test_bays_turn_with_the_tank():
    found = bays_of(Parts(SHELL, (), (across("a", 0.3, hole(0.04, (0.1, 0.1))),)))
    quarter = np.array([[0.0, -1.0, 0.0], [1.0, 0.0, 0.0], [0.0, 0.0, 1.0]])
    turned = found.turned(quarter)
    assert turned.bays[0].capacity == pytest.approx(0.027)
    assert turned.bay_of((-0.1, 0.1, 0.1)) == 0
    assert turned.gaps[0].corners[..., 1].mean() == pytest.approx(0.3, abs=0.004)
