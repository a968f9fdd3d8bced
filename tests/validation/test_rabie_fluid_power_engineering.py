"""M. G. Rabie, Fluid Power Engineering, equation 2.81 (author from memory): dV = alpha V dT.

Mineral oil, alpha = 0.0007 per K: 200 L over 100 K grow by 14 L.
"""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.fluid_catalogue import LIQUIDS


def test_200_litres_over_100_kelvin() -> None:
    oil = LIQUIDS["ISO VG 46"]
    growth = 0.200 * (oil.volume_ratio(388.15, 288.15) - 1.0)
    assert growth * 1000.0 == pytest.approx(14.0, abs=5e-5)


def beside() -> Iterator[Beside]:
    ours = 200.0 * (LIQUIDS["ISO VG 46"].volume_ratio(388.15, 288.15) - 1.0)
    yield Beside("growth of 200 L of mineral oil over 100 K", 14.0, ours, "L", 3)
