"""A STEP file, its re-exports in five formats, and the same faces shuffled, reversed and in inches: one answer.

Capacity, plugs, their places and the limits of a pickup in one of them; all within single precision.
"""

from pathlib import Path

import numpy as np
import pytest
from reexports import FORMATS, answers, corners_of_step, export

STEP = Path(__file__).parents[2] / "meshes" / "plate_tank.step"

pytest.importorskip("cascadio")


@pytest.fixture(scope="module")
def first():
    return answers(STEP, None)


def _same(found, first, facets=2e-6, bores=1e-4):
    assert found[0] == pytest.approx(first[0], rel=facets)
    assert found[1] == pytest.approx(first[1], rel=bores)
    assert found[2] == pytest.approx(first[2], abs=1e-3)  # mm
    assert found[3] == pytest.approx(first[3], abs=max(1e-3, 20.0 * bores))  # degrees
    assert max(first[3]) > 10.0


@pytest.mark.parametrize("kind", FORMATS)
def test_every_format_is_read_as_the_same_tank(tmp_path, first, kind):
    unit, scale = FORMATS[kind]
    export(tmp_path / f"t.{kind}", corners_of_step(STEP), scale)
    _same(answers(tmp_path / f"t.{kind}", unit), first)


@pytest.mark.parametrize("chord", [5e-5, 2e-4])
def test_finer_and_coarser_facets_of_the_step_file(first, chord):
    # a bore is that of the facets' area, within about a chord either side
    _same(answers(STEP, None, chord=chord), first, facets=1e-5, bores=5e-3)


@pytest.mark.parametrize("way", ["shuffled", "reversed", "inches"])
def test_how_the_faces_are_written(tmp_path, first, way):
    corners = corners_of_step(STEP)
    if way == "shuffled":
        corners = np.random.default_rng(4).permutation(corners)
    elif way == "reversed":
        corners = corners[:, ::-1]
    export(tmp_path / "t.obj", corners, 1.0 / 25.4 if way == "inches" else 1.0)
    _same(answers(tmp_path / "t.obj", "in" if way == "inches" else "mm"), first)
