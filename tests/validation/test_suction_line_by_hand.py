"""A suction line worked by hand. None published: each figure computed independently of tanksolve.

VG 46 by D341, 870 kg/m³ at every temperature, 60 L/min, bore 38.1 mm, 1.5 m, K = 0.78 + 2 x 0.75 (the
elbows' K assumed), surface 0.3 m above the pump, vapour pressure 0.
"""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.fluid import Liquid
from tanksolve.model.fluid_laws import D341Line, LinearExpansion
from tanksolve.model.suction_line import Fitting, LineSection, PumpLimits, SuctionLine
from tanksolve.pump.suction import Duty, InletState, Regime, inlet_state
from tanksolve.units import INCH_OF_MERCURY

OIL = Liquid(
    "VG 46, constant density",
    D341Line((313.15, 46e-6), (373.15, 6.8e-6)),
    LinearExpansion(870.0, expansion=0.0),
    None,
    243.15,
    393.15,
    (),
)


def worked(celsius: float, altitude: float = 0.0) -> InletState:
    fittings = (Fitting("drop tube", 0.78), Fitting("elbow", 0.75), Fitting("elbow", 0.75))
    line = SuctionLine((LineSection(0.0381, 1.5, fittings),))
    duty = Duty(OIL, 60.0 / 60000.0, 0.3, altitude)
    return inlet_state(line, duty, PumpLimits.common_practice(), celsius + 273.15)


def test_worked_line_at_20_celsius() -> None:
    state = worked(20.0)
    (flow,) = state.sections
    assert flow.reynolds == pytest.approx(249.692, abs=5e-4)
    assert flow.friction_factor == pytest.approx(0.256315, abs=5e-7)
    assert flow.friction_drop_pa == pytest.approx(3377.15, abs=5e-3)
    assert flow.fittings_drop_pa == pytest.approx(763.035, abs=5e-4)
    assert flow.regime is Regime.LAMINAR
    assert state.npsh_available_m == pytest.approx(11.6909, abs=5.1e-5)
    assert worked(20.0, 3000.0).npsh_available_m == pytest.approx(8.03206, abs=1e-5)


def test_worked_line_at_0_celsius() -> None:
    state = worked(0.0)
    assert state.sections[0].reynolds == pytest.approx(57.8852, abs=5e-5)
    assert state.sections[0].friction_drop_pa == pytest.approx(14567.6, abs=0.05)
    assert state.npsh_available_m == pytest.approx(10.3793, abs=5e-5)
    assert worked(0.0, 3000.0).npsh_available_m == pytest.approx(6.72045, abs=5e-6)
    assert state.inlet_pressure_pa == pytest.approx(88219.2, abs=0.05)
    assert state.vacuum_pa / INCH_OF_MERCURY == pytest.approx(3.87014, abs=5e-6)


def beside() -> Iterator[Beside]:
    cold, warm = worked(0.0), worked(20.0)
    yield Beside("Reynolds number of VG 46 at 20 °C", 249.692, warm.sections[0].reynolds, "")
    yield Beside("friction of 1.5 m at 0 °C", 14567.6, cold.sections[0].friction_drop_pa, "Pa")
    yield Beside("pressure at the pump's inlet at 0 °C", 88219.2, cold.inlet_pressure_pa, "Pa")
    yield Beside("NPSH at 20 °C", 11.6909, warm.npsh_available_m, "m")
