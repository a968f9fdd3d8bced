"""Openings that a wall or plate goes through."""

from pathlib import Path

import pytest
from program import run

from tanksolve.analysis.sight import is_cut
from tanksolve.build.parts import box
from tanksolve.model.ports import pickup

MESHES = Path(__file__).parents[2] / "meshes"
TANK = box(0.9, 0.3, 0.3)


@pytest.mark.parametrize(
    ("place", "facing", "cut"),
    [
        ((0.45, 0.15, 0.05), "down", False),
        ((0.01, 0.15, 0.05), "down", True),  # reaches through the rear wall
        ((0.019, 0.15, 0.05), "down", False),  # touches it
        ((0.0, 0.15, 0.05), "forward", False),  # lies flat in it
        ((0.0, 0.15, 0.01), "forward", True),  # reaches through the floor
        ((0.45, 0.15, 0.3), "down", False),  # flat in the roof
    ],
)
def test_an_opening_is_cut_where_it_reaches_through_a_wall(place, facing, cut):
    port = pickup("p", place, bore=0.038, facing=facing)
    assert is_cut(TANK, port) is cut


def test_a_point_has_nothing_to_cut():
    assert not is_cut(TANK, pickup("p", (0.0, 0.15, 0.05)))


def test_a_plate_through_an_opening_is_told_with_the_port(tmp_path):
    text = (MESHES / "two_bays.toml").read_text()
    path = tmp_path / "tank.toml"
    path.write_text(
        text.replace('at = "550, 200, 15 mm"', 'at = "505, 200, 15 mm"\nfacing = "down"')
    )
    cut = run("level", path, "--pitch", "0deg")
    assert cut.stdout.count("WARNING: a wall or plate goes through its opening") == 1
    assert "WARNING" not in run("level", MESHES / "two_bays.toml", "--pitch", "0deg").stdout
    assert "WARNING" not in run("level", MESHES / "hillside_sprayer.toml", "--pitch", "0deg").stdout
