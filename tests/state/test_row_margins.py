"""Margins row by row: by hand in two bays, and what is solved for each row and what for cells of them."""

from pathlib import Path

import numpy as np
import pytest

from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.model.ports import breather, pickup
from tanksolve.project.load import load
from tanksolve.state.conditions import Conditions
from tanksolve.state.row_margins import RowMargins

TWO = load(Path(__file__).parents[2] / "meshes" / "two_bays.toml").tank
AREA, WALL = 0.4 * 0.497, 0.2  # of either bay [m²], of the wall between them [m]
LEVEL = np.array([[0.0, 0.0, 1.0]])
PORTS = (pickup("p", (0.55, 0.2, 0.02), cover=0.0), breather("b", (0.25, 0.2, 0.29)))


def rows(count, most_deg, seed=1):
    pitch, roll = np.radians(np.random.default_rng(seed).uniform(-most_deg, most_deg, (2, count)))
    return up_from_pitch_roll(pitch, roll)


def test_by_hand_either_bay_may_hold_all_that_it_can():
    """60 L level: at least what the other bay's brim leaves, at most the brim."""
    found = RowMargins(Conditions.of(TWO, PORTS, 0.06)).at(LEVEL)
    assert not found.certain[0]
    assert found.margins[0] == pytest.approx([0.06 / AREA - WALL - 0.02, 0.29 - WALL], abs=1e-9)
    over = RowMargins(Conditions.of(TWO, PORTS, 0.1)).at(LEVEL)
    surface = (0.1 + 0.4 * 0.006 * WALL) / 0.4
    assert over.certain[0]
    assert over.margins[0] == pytest.approx([surface - 0.02, 0.29 - surface], abs=1e-6)


def test_each_row_with_its_own_fill():
    held = np.array([0.05, 0.06, 0.1])
    found = RowMargins(Conditions.of(TWO, PORTS, 0.06)).at(np.repeat(LEVEL, 3, axis=0), held)
    assert found.certain.tolist() == [False, False, True]
    low = [*(held[:2] / AREA - WALL - 0.02), (0.1 + 0.4 * 0.006 * WALL) / 0.4 - 0.02]
    assert found.margins[:, 0] == pytest.approx(low, abs=1e-6)


def test_rows_of_a_cell_that_is_sure_are_not_solved_one_by_one():
    """600 rows in a few cells, the ports held all over these: the bounds tell so, and none is above the truth."""
    conditions, up = Conditions.of(TWO, PORTS, 0.07), rows(600, 0.5)
    each = RowMargins(conditions)
    found = each.at(up)
    assert not found.certain.any()
    assert each.solved_rows == 0 < each.solved_cells
    exact = conditions.margins(up[:, None])[:, 0]
    assert (found.margins >= 0.0).all()
    assert (found.margins <= exact + 1e-9).all()
    assert (found.margins > exact - 0.02).all()


def test_rows_of_a_cell_that_is_not_sure_are_solved_and_each_attitude_once():
    """Nose down by up to 6 degrees and back the pickup runs dry; every row is told as solved by itself."""
    conditions, up = Conditions.of(TWO, PORTS, 0.042), rows(40, 6.0)
    each = RowMargins(conditions)
    found = each.at(np.vstack([up, up]))
    exact = conditions.margins(up[:, None])[:, 0]
    assert (exact[:, 0] < 0.0).any()
    assert found.margins == pytest.approx(np.vstack([exact, exact]), abs=1e-9)
    solved = each.solved_rows
    assert 0 < solved <= 40
    again = each.at(up[::-1])
    assert again.margins == pytest.approx(exact[::-1], abs=1e-9)
    assert each.solved_rows == solved
