"""Headings in words, and one figure one rounding, in what the commands print."""

import re
from pathlib import Path

import pytest
from program import run

MESHES = Path(__file__).parents[2] / "meshes"
BOX = ["--box", "900x300x300mm"]
PORTS = [
    *("--pickup", "suction=100,120,50mm,bore=20mm"),
    *("--breather", "cap=450,150,300mm"),
]
HEADING = re.compile(r"heading +(\d+(?:\.\d)?)°(.{0,20})")
COMMANDS = {
    "place": ["place", *BOX, *PORTS, "--fill", "42L", "--require", "10deg"],
    "place at": ["place", *BOX, *PORTS, "--fill", "42L", "--require", "10deg", "--at", "200,150mm"],
}


@pytest.mark.parametrize("words", COMMANDS.values(), ids=COMMANDS)
def test_every_heading_stands_with_the_side_in_words(words):
    shown = " ".join(run(*words, "--full").stdout.split())
    told = HEADING.findall(shown)
    assert told, shown
    for heading, after in told:
        assert float(heading) < 360.0
        assert re.match(r" \((nose|left side|right side) (up|down)", after)


def test_an_opening_without_a_facing_is_told_to_be_taken_any_way():
    words = ("level", "--full", *BOX, "--fill", "42L", "--pickup")
    shown = " ".join(run(*words, "s=100,120,50mm,bore=20mm").stdout.split())
    assert "no facing given: any direction taken" in shown
    faces = run(*words, "s=100,120,50mm,bore=20mm,facing=down").stdout
    assert "no facing given" not in faces
    assert "no facing given" not in run(*words, "s=100,120,50mm").stdout, "a point has none"


def test_places_in_a_mesh_with_another_up_axis_are_told_along_the_turned_axes():
    mesh = Path(__file__).parents[2] / "meshes" / "twisted_saddle.obj"
    shown = run(
        *("level", mesh, "--unit", "mm", "--forward=+y", "--up=+x", "--fill", "20L"),
        *("--pickup", "s=250,150,450mm", "--full"),
    ).stdout
    shown = " ".join(shown.split())
    assert "own coordinates" not in shown
    assert "places are forward, left and up from the mesh file's origin" in shown
    assert "lies at 22, 35.3, 0 mm" in shown
    assert "enclosing box forward 22.0 to 493.2, left 35.3 to 323.0, up 0.0 to 900.0 mm" in shown


def test_a_plate_through_an_opening_is_told_with_the_port(tmp_path):
    text = (MESHES / "two_bays.toml").read_text()
    path = tmp_path / "tank.toml"
    path.write_text(
        text.replace('at = "550, 200, 15 mm"', 'at = "505, 200, 15 mm"\nfacing = "down"')
    )
    cut = run("level", path, "--attitude", "0deg")
    assert cut.told.count("a wall or plate goes through its opening") == 1
    assert "WARNING: see the caution" in cut.told
    assert "WARNING" not in run("level", MESHES / "two_bays.toml", "--attitude", "0deg").told
    assert (
        "WARNING" not in run("level", MESHES / "hillside_sprayer.toml", "--attitude", "0deg").told
    )


def test_an_opening_partly_outside_is_told_with_the_port():
    out = ("--pickup", "suction=0,150,50mm,bore=38mm,facing=down")
    shown = run("level", *BOX, "--fill", "42L", *out).told
    assert shown.count("part of its opening is outside the tank") == 1
    assert "WARNING: see the caution" in shown
