"""Crane TP-410 loss coefficients of entrances, as the docstrings of ``fluids`` give them (at second hand)."""

from tanksolve.model.suction_line import fitting


def test_entrances() -> None:
    assert fitting("wall entrance").turbulent == 0.5
    assert fitting("drop tube").turbulent == 0.78
