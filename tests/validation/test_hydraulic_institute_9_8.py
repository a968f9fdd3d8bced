"""ANSI/HI 9.8, submergence of a suction inlet: S/D = 1 + 2.3 F (read in a secondary page).

Imperial form S = D + 0.574 Q / D^1.5 (inches, US gpm).
"""

import math
from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.pump.cover import cover_advice, hydraulic_institute_submergence

GPM = 3.785411784e-3 / 60.0
INCH = 0.0254


@pytest.mark.parametrize(
    ("litres_per_minute", "bore", "velocity", "froude", "submergence"),
    [
        (60.0, 0.0381, 0.877122, 1.43495, 0.163845),
        (120.0, 0.0500, 1.01859, 1.45464, 0.217283),
        (200.0, 0.0635, 1.05255, 1.33381, 0.258303),
    ],
)
def test_three_lines(
    litres_per_minute: float, bore: float, velocity: float, froude: float, submergence: float
) -> None:
    advice = cover_advice(litres_per_minute / 60000.0, bore)
    assert advice.entry_velocity_m_s == pytest.approx(velocity, rel=5e-6)
    assert advice.froude == pytest.approx(froude, rel=5e-6)
    assert advice.vortex_formula_m == pytest.approx(submergence, abs=5.1e-7)


def test_imperial_form_and_its_constant() -> None:
    area = 0.25 * math.pi * (2.0 * INCH) ** 2
    inches = hydraulic_institute_submergence(30.0 * GPM / area, 2.0 * INCH) / INCH
    assert inches == pytest.approx(8.08599, abs=5e-6)
    assert (inches - 2.0) * 2.0**1.5 / 30.0 == pytest.approx(0.573793, abs=5e-7)
    assert pytest.approx(8.08819, abs=5e-6) == 2.0 + 0.574 * 30.0 / 2.0**1.5
    assert inches == pytest.approx(8.08819, rel=3e-4)


def beside() -> Iterator[Beside]:
    for flow, bore, theirs in ((60.0, 0.0381, 0.163845), (120.0, 0.05, 0.217283)):
        ours = cover_advice(flow / 60000.0, bore).vortex_formula_m
        yield Beside(f"submergence at {flow:g} L/min in {1000 * bore:g} mm", theirs, ours, "m")
