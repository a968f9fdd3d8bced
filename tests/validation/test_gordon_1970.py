"""J. L. Gordon, "Vortices at Intakes", Water Power, April 1970: S = C V sqrt(D) (from memory)."""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.pump.cover import gordon_submergence


def test_coefficients_in_si() -> None:
    assert gordon_submergence(1.0, 1.0) == pytest.approx(0.543393, abs=5e-7)
    assert gordon_submergence(1.0, 1.0, lateral=True) == pytest.approx(0.724524, abs=5e-7)


def test_120_litres_per_minute_in_50_mm() -> None:
    assert gordon_submergence(1.01859, 0.050) == pytest.approx(0.123765, abs=5e-7)
    assert gordon_submergence(1.01859, 0.050, lateral=True) == pytest.approx(0.165020, abs=5e-7)


def beside() -> Iterator[Beside]:
    what = "submergence at 1.01859 m/s in 50 mm"
    yield Beside(f"{what}, straight", 0.123765, gordon_submergence(1.01859, 0.050), "m")
    ours = gordon_submergence(1.01859, 0.050, lateral=True)
    yield Beside(f"{what}, from the side", 0.165020, ours, "m")
