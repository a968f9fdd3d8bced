"""IAPWS-IF97, Table 35: saturation pressures of water (values from memory of the release)."""

import pytest

from tanksolve.model.fluid_laws import WaterVapour


@pytest.mark.parametrize(
    ("kelvin", "megapascal"),
    [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)],
)
def test_table_35(kelvin: float, megapascal: float) -> None:
    assert WaterVapour().at(kelvin) * 1e-6 == pytest.approx(megapascal, rel=2e-9)
