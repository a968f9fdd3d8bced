"""Where a route begins: what was poured in at the first filler stands in the filler's bay."""

from pathlib import Path

import pytest

from tanksolve.model.ports import breather, filler, pickup
from tanksolve.project.load import load
from tanksolve.state.start import Start

TWO = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
SUCTION = pickup("p", (0.7, 0.2, 0.02))


def test_it_is_filled_at_the_first_filler_moved_into_the_liquid_space():
    """A neck that ends in the roof: a hair below it, above the same place."""
    ports = [SUCTION, filler("neck", (0.2, 0.2, 0.3)), filler("other", (0.8, 0.2, 0.29))]
    (place,) = Start.of(TWO, ports).poured_at
    assert place == pytest.approx([0.2, 0.2, 0.3], abs=1e-3)
    assert TWO.winding(place)[0] > 0.5


def test_without_a_filler_all_bays_stand_at_one_level():
    assert Start.of(TWO, [SUCTION, breather("b", (0.2, 0.2, 0.29))]).poured_at == []
