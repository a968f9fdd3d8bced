"""Friction factors at Re = 1e5, relative roughness 1e-4, as in the docstrings of ``fluids``.

Colebrook 1939: 0.0185139; Churchill 1977: 0.0184626; laminar flow 64/Re.
"""

from collections.abc import Iterator

import pytest
from beside import Beside
from fluids import friction_factor as fluids_friction_factor

from tanksolve.pump.suction import Regime, friction_factor


def test_turbulent_factor_is_colebrooks() -> None:
    factor, regime = friction_factor(1e5, 1e-4)
    assert factor == pytest.approx(0.0185139, abs=5e-8)
    assert regime is Regime.TURBULENT


def test_churchill_1977_differs_by_a_third_of_a_percent() -> None:
    churchill = fluids_friction_factor(Re=1e5, eD=1e-4, Method="Churchill_1977")
    assert churchill == pytest.approx(0.0184626, abs=5e-8)
    assert friction_factor(1e5, 1e-4)[0] == pytest.approx(churchill, rel=0.003)


def test_laminar_factor() -> None:
    assert friction_factor(640.0, 1e-4) == (pytest.approx(0.1), Regime.LAMINAR)


def beside() -> Iterator[Beside]:
    ours = friction_factor(1e5, 1e-4)[0]
    yield Beside("friction factor at Re 100,000, roughness 0.0001 (Colebrook)", 0.0185139, ours, "")
    yield Beside("friction factor at Re 640 (64 / Re)", 0.1, friction_factor(640.0, 1e-4)[0], "")
