"""Logs through a tank whose wall may part the liquid: what one level tells is not taken for an answer."""

import math
from pathlib import Path

import numpy as np
import pytest

from tanksolve.geometry.parts import box, extrusion
from tanksolve.kernel.attitude.direction import up_from_pitch_roll
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import pickup
from tanksolve.questions.replay.replay import Replay, replay
from tanksolve.state.one_surface import CertainAttitudes

# a box 0.8 x 0.3 x 0.4 m with a wall 100 mm high in its middle; the pickup in front of it
WALLED = extrusion(
    [(0, 0), (0.39, 0), (0.39, 0.1), (0.41, 0.1), (0.41, 0), (0.8, 0), (0.8, 0.4), (0, 0.4)],
    0.3, "across",
)  # fmt: skip
FRONT = (pickup("front", (0.6, 0.15, 0.02), bore=0.01, cover=0.0, facing="down"),)
OVER, UNDER = 0.8 * 0.3 * 0.2, 0.8 * 0.3 * 0.07  # 200 mm and about 70 mm deep


def run(folder: Path, fill: float, *rows: str, header: str = "time_s,pitch_deg,roll_deg") -> Replay:
    path = folder / "day.csv"
    path.write_text("\n".join((header, *rows)) + "\n")
    return replay(WALLED, FRONT, fill, path)


def test_what_stands_over_the_wall_is_known(tmp_path: Path) -> None:
    result = run(tmp_path, OVER, *(f"{t},{t % 5},0" for t in range(20)))
    assert result.verdict == "kept"
    assert result.outcome.kept_s == 19.0
    assert result.why_not_known == ()


def test_what_the_wall_may_part_is_not_known_and_says_why(tmp_path: Path) -> None:
    """By one level the pickup is 50 mm deep all day; had the machine stood on its tail, it is dry."""
    result = run(tmp_path, UNDER, *(f"{t},0,0" for t in range(20)))
    assert result.ports[0].worst.margin_m > 0.04
    assert result.verdict == "not known"
    assert result.outcome.not_known_s == 19.0
    assert "at 20 rows walls may part the liquid" in result.why_not_known[0]


@pytest.mark.parametrize(("litres", "right"), [(48, "kept"), (17, "not known"), (0, "broken")])
def test_a_fill_column_is_looked_at_row_by_row(tmp_path: Path, litres: float, right: str) -> None:
    rows = [f"{t},0,0,{litres if t == 3 else 50}" for t in range(9)]
    result = run(tmp_path, OVER, *rows, header="time_s,pitch_deg,roll_deg,fill_L")
    assert result.verdict == right


def test_attitudes_called_certain_have_the_wall_under_the_surface() -> None:
    """The wall's crest lies under the level at every attitude called certain; in a box all are."""
    rng = np.random.default_rng(3)
    up = up_from_pitch_roll(*np.radians(rng.uniform(-55, 55, (2, 3000))))
    crest = np.array([[x, y, 0.1] for x in (0.39, 0.41) for y in (0.0, 0.3)])
    for volume in (UNDER, OVER):
        table = CertainAttitudes(WALLED, volume)
        level = levels(WALLED.tree, up, volume)[0]
        covered = (up @ crest.T).min(axis=1) <= level
        for certain in (table.at(up), table.at(up), table.at(up, np.full(len(up), volume))):
            assert not (certain & ~covered).any()
            assert np.count_nonzero(certain) > (0.001 if volume == UNDER else 0.1) * len(up)
            assert volume == OVER or np.count_nonzero(~covered) > 100
    assert CertainAttitudes(box(0.8, 0.3, 0.4), 0.01).at(up).all()
    assert not CertainAttitudes(WALLED, OVER).at(np.array([[0.0, math.sqrt(0.75), -0.5]])).any()
