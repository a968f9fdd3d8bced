"""Envelopes with pools: against the wedge behind a wall, and never above the bound they claim."""

import math

import numpy as np
import pytest
from tanks import block, from_manifold

from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.envelope.envelope import Envelope, envelope
from tanksolve.questions.envelope.pooled_envelope import PooledEnvelope, pooled_envelope
from tanksolve.state.ways import ROLL_FIRST, STRAIGHT, TURNS, WAYS

L, W, H = 1.0, 0.4, 0.5
LIP, REAR, THICK = 0.2, 0.497, 0.006  # a wall across, LIP high, its rear face at REAR
VOLUME = 0.04  # half below the lip on each side


def walled_tank():
    wall = block((THICK, W, LIP), (REAR, 0.0, 0.0))
    return from_manifold("walled", block((L, W, H)) - wall)


def front_depth(slope: float) -> float:
    """Depth at the front wall, along z, nose down: the rear bay keeps the wedge below the lip."""
    t = math.tan(slope)
    kept = LIP**2 / (2 * t) if LIP / t <= REAR else REAR * (LIP - REAR * t / 2)
    area = VOLUME / W - kept
    assert area < (L - REAR - THICK) ** 2 * t / 2, "a triangle in the front bay"
    return math.sqrt(2 * t * area)


def root(function, low, high):
    for _ in range(100):
        middle = (low + high) / 2
        low, high = (middle, high) if function(low) * function(middle) > 0 else (low, middle)
    return low


def test_trapped_liquid_lowers_the_limit_of_a_pickup_downhill():
    """The single plane says held, the pools say lost: the dangerous side."""
    at = (L - 0.45, 0.2, 0.015)
    found = pooled_envelope(walled_tank(), [pickup("p", at)], VOLUME, paths=(STRAIGHT,))
    expected = root(lambda b: front_depth(b) - 0.45 * math.tan(b) - at[2], 0.46, 0.7)
    assert math.radians(found.nose_down) == pytest.approx(expected, abs=1e-4)
    plain = envelope(walled_tank(), [pickup("p", at)], VOLUME)
    assert plain.nose_down > found.nose_down + 3.0
    assert isinstance(found, PooledEnvelope)
    assert found.too_hopeful_deg > 3.0


def test_trapped_liquid_keeps_a_pickup_uphill_covered():
    """The single plane says lost, the pools say held: the other way round."""
    at = (REAR - 0.05, 0.2, 0.01)
    found = pooled_envelope(walled_tank(), [pickup("p", at)], VOLUME, paths=(STRAIGHT,))
    assert math.atan((LIP - at[2]) / 0.05) > math.radians(60.0)  # where the lip's plane passes it
    assert found.nose_down is None
    assert envelope(walled_tank(), [pickup("p", at)], VOLUME).nose_down < 40.0
    assert found.too_careful_deg > 20.0


def test_a_convex_tank_is_the_plain_envelope():
    for tank in (box(0.9, 0.3, 0.3), cylinder(0.4, 1.0)):
        assert tank.is_convex
        ports = [pickup("p", (0.2, 0.15, 0.02))]
        one = pooled_envelope(tank, ports, 0.4 * tank.capacity)
        assert type(one) is Envelope
        assert one.limits == envelope(tank, ports, 0.4 * tank.capacity).limits
    assert not walled_tank().is_convex


def test_where_one_surface_is_certain_the_plain_limits_stand():
    tank = walled_tank()
    ports = [pickup("p", (0.9, 0.2, 0.28)), breather("b", (0.5, 0.2, H))]
    full = 0.7 * tank.capacity
    found, plain = pooled_envelope(tank, ports, full), envelope(tank, ports, full)
    assert type(found) is Envelope
    assert found.limits == plain.limits


def test_a_bound_is_claimed_only_where_one_surface_is_certain():
    found = pooled_envelope(walled_tank(), [pickup("p", (0.65, 0.2, 0.02))], 0.09, every_deg=30.0)
    for row in found.limits:
        assert row.held_to_deg <= row.one_surface_to_deg + 1e-9
        assert row.slope_deg is None or row.held_to_deg <= row.slope_deg
    assert found.worst.held_to_deg <= min(row.held_to_deg for row in found.limits) + 1e-9


def test_the_way_matters_and_the_worst_is_named():
    """Turned on the slope, liquid stays on the wrong side of the wall that it had crossed."""
    tank = walled_tank()
    ports = [pickup("p", (0.3, 0.2, 0.03))]
    straight = pooled_envelope(tank, ports, VOLUME, every_deg=45.0, paths=(STRAIGHT,))
    all_ways = pooled_envelope(tank, ports, VOLUME, every_deg=45.0, paths=WAYS)
    for one, other in zip(straight.limits, all_ways.limits, strict=True):
        top = 60.0 if one.slope_deg is None else one.slope_deg
        assert other.slope_deg is None or other.slope_deg <= top + 1e-9
    assert straight.nose_down > all_ways.nose_down + 5.0
    rows = {row.heading_deg: row for row in all_ways.limits}
    assert rows[180.0].path in TURNS


def test_an_unknown_way_is_a_programmers_mistake():
    tank = walled_tank()
    with pytest.raises(ValueError, match="zigzag"):
        pooled_envelope(tank, [pickup("p", (0.9, 0.2, 0.01))], VOLUME, paths=("zigzag",))
    assert ROLL_FIRST in WAYS
    assert np.all([isinstance(way, str) for way in WAYS])
