"""A long route carried stop by stop: it does not matter where its blocks end, and what one bay keeps, by hand."""

from dataclasses import astuple
from pathlib import Path

import numpy as np
import pytest

from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.kernel.attitude.stops import OPEN, SURE, UNKNOWN
from tanksolve.model.ports import filler, pickup
from tanksolve.project.load import load
from tanksolve.state.carried_route import BROKEN, KEPT, RESTS, Carrier, RouteRows
from tanksolve.state.conditions import Conditions

TWO = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
PICKUP = pickup("p", (0.95, 0.2, 0.02), cover=0.0)


def route(pitch_deg, way, answer, joined=None):
    count = len(pitch_deg)
    joined = np.ones(count, bool) if joined is None else joined
    return RouteRows(
        up_from_pitch_roll(np.radians(np.asarray(pitch_deg, float)), 0.0),
        np.asarray(way, np.int8), joined, np.arange(float(count)), np.asarray(answer, np.int8),
        np.arange(count), 10.0 * np.arange(count),
    )  # fmt: skip


def carried(rows, cuts, fill=0.03, ports=(PICKUP,)):
    carrier = Carrier(Conditions.of(TWO, ports, fill))
    for low, high in zip([0, *cuts], [*cuts, len(rows.up)], strict=True):
        carrier.take(RouteRows(*(part[low:high] for part in rows)))
    return carrier


@pytest.mark.parametrize("seed", range(3))
def test_blocks_may_end_anywhere(seed):
    rng = np.random.default_rng(seed)
    way = rng.choice([SURE, OPEN, OPEN, OPEN, UNKNOWN], 30, p=[0.2, 0.25, 0.25, 0.25, 0.05])
    answer = np.where(way == OPEN, RESTS, rng.choice([KEPT, BROKEN], 30))
    rows = route(np.cumsum(rng.normal(0.0, 1.0, 30)), way, answer, rng.random(30) > 0.05)
    whole = carried(rows, [])
    expected = astuple(whole.result())
    for cut in range(1, 30):
        found = carried(rows, [cut])
        assert found.led.tolist() == whole.led.tolist()
        for one, other in zip(found.stops, whole.stops, strict=True):
            assert one.tolist() == other.tolist()
    assert astuple(carried(rows, [3, 9, 10, 21]).result()) == expected


def test_what_the_filler_poured_into_one_bay_stays_there_till_the_machine_tips():
    """30 L in the rear bay, the front one dry. Nose down by 20 degrees 8.2 L run over the wall, and stay.

    The rear bay then holds a wedge to the wall's crest, 0.4 (0.2 x 0.497 - tan 20 x 0.497² / 2) m³ = 21.8 L;
    level again the front one stands 41 mm deep, twice what the pickup wants.
    """
    ports = (PICKUP, filler("neck", (0.2, 0.2, 0.29)))
    rows = route([0.0, 0.0, -20.0, -20.0, 0.0], [OPEN] * 5, [RESTS] * 5)
    for cuts in ([], [2]):
        found = carried(rows, cuts, ports=ports).result()
        assert (found.broken_rows, found.kept_rows) == (2, 3)
        assert found.broken_s == 1.0 + 2.0  # a row's answer counts till the next row
        assert found.kept_s == 3.0 + 4.0
        assert found.ended_s is None


def test_after_a_sure_row_what_one_surface_left_behind_the_wall_stays_there():
    """Nose down by 20 degrees 30 L are one wedge, L long from the front end, its crest over the wall of 6 mm.

    0.4 tan 20 / 2 (L² - (L - 0.497)² + (L - 0.503)²) = 0.03 m³; what lies behind the wall is missing in front.
    """
    half = 0.2 * np.tan(np.radians(20.0))
    long = 0.006 + np.sqrt(0.006**2 - 0.006 + 0.03 / half)
    behind = half * (long - 0.503) ** 2
    found = carried(route([-20.0, 0.0], [SURE, OPEN], [KEPT, RESTS]), []).result()
    (least,) = found.least
    assert least.line == 1
    assert least.margin_m == pytest.approx((0.03 - behind) / (0.4 * 0.497) - 0.02, abs=1e-6)
