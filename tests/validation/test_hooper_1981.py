"""W. B. Hooper, "The 2-K Method Predicts Head Losses in Pipe Fittings", Chem. Eng., 24 Aug 1981.

K = K1 / Re + Kinf (1 + 1 in / bore). The worked figure, 6.09 for K1 = 900, Kinf = 4, 2 in at Re 10,000, as in
the docstring of ``fluids`` (at second hand); the table's coefficients below from memory.
"""

from collections.abc import Iterator

import pytest
from beside import Beside

from tanksolve.model.suction_line import Fitting, fitting
from tanksolve.pump.suction import loss_coefficient

FROM_MEMORY = {
    "elbow": (800.0, 0.40),
    "long elbow": (800.0, 0.20),
    "elbow 45": (500.0, 0.20),
    "tee run": (200.0, 0.10),
    "tee branch": (500.0, 0.70),
    "gate valve": (300.0, 0.10),
    "ball valve": (500.0, 0.15),
    "butterfly valve": (800.0, 0.25),
    "swing check": (1500.0, 1.50),
    "lift check": (2000.0, 10.0),
}


def test_worked_figure() -> None:
    globe = Fitting("globe valve", 4.0, 900.0, 0.0254)
    assert loss_coefficient(globe, 0.0508, 10_000.0) == pytest.approx(6.09, rel=1e-12)


@pytest.mark.parametrize("name", FROM_MEMORY)
def test_table(name: str) -> None:
    found = fitting(name)
    assert (found.laminar, found.turbulent) == FROM_MEMORY[name]
    assert "from memory" in found.source
    by_hand = found.laminar / 60.0 + found.turbulent * (1.0 + 25.4 / 38.1)
    assert loss_coefficient(found, 0.0381, 60.0) == pytest.approx(by_hand, rel=1e-12)


def beside() -> Iterator[Beside]:
    globe = Fitting("globe valve", 4.0, 900.0, 0.0254)
    ours = loss_coefficient(globe, 0.0508, 10_000.0)
    yield Beside("K of K1 = 900, Kinf = 4, 2 in bore, Re 10,000", 6.09, ours, "", 3)
