"""IAPWS-IF97, Table 35: saturation pressures of water (values from memory of the release)."""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.fluid_laws import WaterVapour


@pytest.mark.parametrize(
    ("kelvin", "megapascal"),
    [(300.0, 0.353658941e-2), (500.0, 0.263889776e1), (600.0, 0.123443146e2)],
)
def test_table_35(kelvin: float, megapascal: float) -> None:
    assert WaterVapour().at(kelvin) * 1e-6 == pytest.approx(megapascal, rel=2e-9)


def beside() -> Iterator[Beside]:
    for kelvin, theirs in ((300.0, 3.53658941e-3), (500.0, 2.63889776), (600.0, 12.3443146)):
        what = f"vapour pressure of water at {kelvin:g} K"
        yield Beside(what, theirs, WaterVapour().at(kelvin) * 1e-6, "MPa", 9)
