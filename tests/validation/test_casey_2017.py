"""B. Casey in Power & Motion, 4 April 2017: a pickup at least 2 d below the surface, at most 1.2 m/s.

Beside it, the velocity band of a distributor's note (flodraulic.com): 2 to 4 ft/s, and vacuums
given in inHg by the trade.
"""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.suction_line import DEFAULT_VACUUM
from tanksolve.pump.cover import cover_advice
from tanksolve.pump.suction_limits import VELOCITY_ADVICE
from tanksolve.units import INCH_OF_MERCURY, parse


def test_two_bores_below_the_surface() -> None:
    assert cover_advice(0.001, 0.0381).recommended == pytest.approx(0.0762, rel=1e-12)


def test_hydraulic_institute_asks_about_4_3_bores() -> None:
    for flow, bore in ((60.0, 0.0381), (120.0, 0.0500)):
        advice = cover_advice(flow / 60000.0, bore)
        assert advice.vortex_formula_m / bore == pytest.approx(4.3, abs=0.06)
        assert advice.difference_m == pytest.approx(advice.vortex_formula_m - 2 * bore, rel=1e-12)


def test_velocity_advice_is_the_upper_end_of_the_distributors_band() -> None:
    assert parse("2ft/s", "speed") == pytest.approx(0.6096, rel=1e-12)
    assert parse("4ft/s", "speed") == pytest.approx(1.2192, rel=1e-12)
    assert VELOCITY_ADVICE == 1.2


def test_vacuums() -> None:
    assert pytest.approx(16931.9, abs=0.051) == 5.0 * INCH_OF_MERCURY
    assert pytest.approx(33863.9, abs=0.11) == 10.0 * INCH_OF_MERCURY
    assert parse("5inHg", "pressure") == pytest.approx(DEFAULT_VACUUM, abs=0.051)


def beside() -> Iterator[Beside]:
    ours = 1000.0 * cover_advice(0.001, 0.0381).recommended
    yield Beside("cover over a bore of 38.1 mm: two bores", 76.2, ours, "mm", 3)
