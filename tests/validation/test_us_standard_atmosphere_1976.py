"""U.S. Standard Atmosphere 1976 (the same as ISO 2533 here), lowest layer, geopotential heights.

p = 101325 (1 - 0.0065 H / 288.15)^5.255876, formula from memory, evaluated independently.
"""

from collections.abc import Iterator

import pytest
from beside import Beside
from fluids import ATMOSPHERE_1976

from tanksolve.pump.atmosphere import atmospheric_pressure


@pytest.mark.parametrize(
    ("height", "pressure"),
    [
        (0, 101325.0),
        (1000, 89874.6),
        (2000, 79495.2),
        (3000, 70108.5),
        (4000, 61640.2),
        (5000, 54019.9),
    ],
)
def test_table_of_geopotential_heights(height: float, pressure: float) -> None:
    assert atmospheric_pressure(height) == pytest.approx(pressure, abs=0.051)


def test_geometric_height_reads_higher() -> None:
    assert pytest.approx(70121.2, abs=0.05) == ATMOSPHERE_1976(3000.0).P
    assert atmospheric_pressure(3000.0) < ATMOSPHERE_1976(3000.0).P


def beside() -> Iterator[Beside]:
    for height, theirs in ((1000, 89874.6), (3000, 70108.5), (5000, 54019.9)):
        yield Beside(
            f"pressure of the air at {height} m", theirs, atmospheric_pressure(height), "Pa"
        )
