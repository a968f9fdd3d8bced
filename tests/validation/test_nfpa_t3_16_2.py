"""Reservoir sizing as hydraulicspneumatics.com gives it, citing NFPA/T3.16.2: three minutes of flow."""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.pump.budget import sizing_advice


@pytest.mark.parametrize(
    ("litres", "minutes", "says"),
    [(180.0, 3.0, "at or above"), (60.0, 1.0, "as little as one"), (50.0, 5 / 6, "below even")],
)
def test_minutes_of_a_60_litre_pump(litres: float, minutes: float, says: str) -> None:
    advice = sizing_advice(litres / 1000.0, 60.0 / 60000.0)
    assert advice.minutes == pytest.approx(minutes, rel=1e-12)
    assert says in advice.words
    assert "advice, not law" in advice.words


def beside() -> Iterator[Beside]:
    ours = sizing_advice(0.18, 60.0 / 60000.0).minutes
    yield Beside("minutes of a pump of 60 L/min in 180 L", 3.0, ours, "min", 2)
