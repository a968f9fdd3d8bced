"""ASTM D341, the viscosity-temperature line.

Published example (a note on D341 at ar.scribd.com/document/361017004, read in that copy only):
32 cSt at 40 °C and 5.4 cSt at 100 °C, T = t + 273, give A = 9.5259, B = 3.7449 and 8.5 cSt at 80 °C.
"""

import pytest
from beside import Beside

from tanksolve.model.fluid_laws import D341Line, d341_constants


def test_published_example_constants_to_its_own_rounding() -> None:
    a, b = d341_constants(40 + 273, 32.0, 100 + 273, 5.4)
    assert round(a, 4) == 9.5259
    assert round(b, 4) == 3.7449
    assert a == pytest.approx(9.52593, abs=5e-6)
    assert b == pytest.approx(3.74493, abs=5e-6)


def test_published_example_viscosity_at_80() -> None:
    line = D341Line((40 + 273.0, 32e-6), (100 + 273.0, 5.4e-6))
    viscosity = line.at(80 + 273.0) * 1e6
    assert round(viscosity, 1) == 8.5
    assert viscosity == pytest.approx(8.53310, abs=5e-6)


@pytest.mark.parametrize(
    ("celsius", "centistokes"),
    [(-20.0, 4517.84), (0.0, 577.321), (20.0, 133.838), (60.0, 20.6227), (80.0, 11.1026)],
)
def test_vg46_table_computed_independently(celsius: float, centistokes: float) -> None:
    """46 cSt at 40 °C, 6.8 at 100 °C assumed; T = t + 273.15."""
    line = D341Line((313.15, 46e-6), (373.15, 6.8e-6))
    assert float(f"{line.at(celsius + 273.15) * 1e6:.6g}") == centistokes


def beside():
    a, b = d341_constants(40 + 273, 32.0, 100 + 273, 5.4)
    yield Beside("constant A of 32 cSt at 40 °C and 5.4 cSt at 100 °C", 9.5259, a, "", 5)
    yield Beside("constant B of the same", 3.7449, b, "", 5)
    line = D341Line((40 + 273.0, 32e-6), (100 + 273.0, 5.4e-6))
    yield Beside("viscosity of the same at 80 °C", 8.5, line.at(80 + 273.0) * 1e6, "cSt", 2)
