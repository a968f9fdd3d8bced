"""Tanks, pickups and fills in one ranking, by the measure that the user names."""

import math

import pytest
from tanks import box_tank

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.compare import Entry, contest

LOW, HIGH = pickup("low", (0.3, 0.15, 0.02)), pickup("high", (0.45, 0.15, 0.09))
FLAT, TALL = box_tank((0.9, 0.3, 0.3)), box_tank((0.5, 0.3, 0.6))
ENTRIES = [
    Entry("flat low", FLAT, (LOW,), Fill.of(0.04)),
    Entry("flat high", FLAT, (HIGH,), Fill.of(0.04)),
    Entry("tall low", TALL, (LOW,), Fill.of(0.04)),
    Entry("flat low, less", FLAT, (LOW,), Fill.of(0.03)),
]
OPTIONS = {"every_deg": 30.0}


def values(measure):
    key = {"worst": "worst_held_to_deg", "area": "area_deg2", "unusable": "unusable_m3"}[measure]
    return [getattr(c, key) for c in contest(ENTRIES, rank_by=measure, **OPTIONS).contenders]


def test_the_named_measure_ranks():
    assert values("worst") == sorted(values("worst"), reverse=True)
    assert values("area") == sorted(values("area"), reverse=True)
    assert values("unusable") == sorted(values("unusable"))
    orders = {
        m: [c.name for c in contest(ENTRIES, rank_by=m, **OPTIONS).contenders]
        for m in ("worst", "unusable")
    }
    assert orders["worst"] != orders["unusable"]


def test_unusable_volume_is_at_the_requirement():
    level = {c.name: c.unusable_m3 for c in contest(ENTRIES, **OPTIONS).contenders}
    assert level["flat high"] == pytest.approx(0.27 * 0.09, abs=0.27 * 1.1e-4)
    need = Requirement.sides(nose_down=math.radians(5))
    tilted = {
        c.name: c.unusable_m3 for c in contest(ENTRIES, requirement=need, **OPTIONS).contenders
    }
    assert tilted["flat low"] > level["flat low"]


def test_area_of_an_envelope_that_nothing_limits_is_that_of_its_polygon():
    entry = Entry(
        "deep", box_tank((0.1, 0.1, 5.0)), (pickup("p", (0.05, 0.05, 0.01)),), Fill.of(0.04)
    )
    found = contest([entry], search_to_deg=20.0, **OPTIONS).contenders[0]
    twelve = 0.5 * 12 * math.sin(math.radians(30)) * 20.0**2
    assert found.area_deg2 == pytest.approx(twelve)
