"""Crane TP-410 loss coefficients of entrances, as the docstrings of ``fluids`` give them (at second hand)."""

from collections.abc import Iterator

from beside import Beside

from tanksolve.model.suction_line import fitting


def test_entrances() -> None:
    assert fitting("wall entrance").turbulent == 0.5
    assert fitting("drop tube").turbulent == 0.78


def beside() -> Iterator[Beside]:
    yield Beside(
        "K of an entrance flush with the wall", 0.5, fitting("wall entrance").turbulent, "", 2
    )
    yield Beside("K of a pipe that stands in", 0.78, fitting("drop tube").turbulent, "", 2)
