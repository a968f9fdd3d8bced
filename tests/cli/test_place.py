"""``tanksolve place`` as a user runs it: keys that scripts rely on, files, limits, 'no'."""

import math
from pathlib import Path

import numpy as np
import pytest
from program import answer, run
from tanks import ASKEW

from tanksolve.geometry.mesh_file import read_mesh

KEYS = {"best_point_m", "best_margin_m", "recommended_point_m", "zone_volume_m3"}


BOX = ["place", "--box", "900x300x300mm", "--fill", "42L"]


def test_keys_and_figures():
    found = answer(*BOX, "--require", "pitch=10deg")
    assert set(found) >= KEYS | {"format", "version", "inputs", "cautions"}
    # straight pitch only: best is the middle of the floor, where nothing changes
    depth = 0.042 / 0.27
    assert found["best_point_m"][0] == pytest.approx(0.45, abs=1e-3)
    assert found["best_point_m"][2] == pytest.approx(0.0, abs=1e-9)
    margin = depth * math.cos(math.radians(10))  # cover counts along up
    assert margin - 1e-3 <= found["best_margin_m"] <= margin
    assert found["recommended_point_m"][2] == pytest.approx(0.0254, abs=1e-9)
    # the zone is a gable: both slopes through the middle at depth, down to the walls
    grade = math.tan(math.radians(10))
    gable = 0.3 * (0.9 * depth - 0.45**2 * grade)
    assert gable - 0.27 * 1.1e-3 <= found["zone_volume_m3"] <= gable
    documented = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()
    for key in found:
        assert f"`{key}`" in documented, key
    assert found["cautions"][0].startswith("edge of drawing air")


def test_a_spot_with_no_height_is_exit_code_3_and_one_outside_is_an_error():
    assert run(*BOX, "--require", "35deg", "--at", "20,150mm").returncode == 3
    outside = run(*BOX, "--require", "15deg", "--at", "2000,150mm")
    assert outside.returncode == 2
    assert "not in the tank" in outside.stderr


def test_limits_keep_the_place_and_propose_the_tube():
    found = answer(
        *BOX, "--require", "10deg", "--opening", "bore=38mm,facing=down,cover=20mm",
        "--tube", "rear,height=250mm,run=200mm,drop=200mm",
    )  # fmt: skip
    x, y, z = found["recommended_point_m"]
    assert x <= 0.2 + 1e-9
    assert 0.05 - 1e-9 <= z <= 0.25
    assert found["tube"] == {
        "wall": "rear",
        "leaves_m": [
            pytest.approx(0.0, abs=1e-12),
            pytest.approx(found["recommended_point_m"][1]),
            pytest.approx(0.25),
        ],
        "run_m": pytest.approx(x),
        "drop_m": pytest.approx(0.25 - z),
        "bend_m": [pytest.approx(x), pytest.approx(found["recommended_point_m"][1]), 0.25],
        "outside_m": pytest.approx(0.038 * 7.0 / 6.0),
        "clearance_m": pytest.approx(min(y, 0.3 - y, 0.05) - 0.038 * 7.0 / 12.0, abs=2e-3),
        "near": "a wall or plate",
        "clear": True,
    }
    boxed = answer(*BOX, "--require", "10deg", "--within", "600..800,0..300,0..100mm")
    assert 0.6 - 1e-9 <= boxed["best_point_m"][0] <= 0.8 + 1e-9
    assert boxed["zone_from_m"][0] >= 0.6 - 1e-9


def test_bore_keeps_off_floor_and_walls():
    found = answer(
        *BOX, "--require", "10deg", "--opening", "bore=100mm,facing=down,cover=0mm",
        "--within", "0..100,0..300,0..300mm",
    )  # fmt: skip
    assert found["recommended_point_m"][2] == pytest.approx(0.05)
    assert found["off_floor_m"] == pytest.approx(0.05)
    assert 0.05 - 1e-9 <= found["recommended_point_m"][1] <= 0.25 + 1e-9


@pytest.mark.parametrize("suffix", ["stl", "obj"])
def test_zone_file_holds_the_zone_in_millimetres(tmp_path, suffix):
    path = tmp_path / f"zone.{suffix}"
    found = answer(*BOX, "--require", "15deg", "--zone", path)
    zone = read_mesh(path, "mm", "+x", "+z")
    assert zone.capacity == pytest.approx(found["zone_volume_m3"], rel=1e-4)
    assert zone.lower == pytest.approx(np.array(found["zone_from_m"]), abs=1e-6)


@pytest.mark.parametrize(("suffix", "unit"), [("3mf", "millimeter"), ("stl", None)])
def test_another_reader_finds_the_zone_closed_and_in_millimetres(tmp_path, suffix, unit):
    import trimesh

    path = tmp_path / f"zone.{suffix}"
    found = answer(*BOX, "--require", "15deg", "--tolerance", "1deg", "--zone", path)
    mesh = trimesh.load_mesh(path, file_type=suffix)
    if unit is not None:  # STL states none
        assert mesh.units == unit
    assert mesh.is_watertight
    assert mesh.volume == pytest.approx(1e9 * found["zone_volume_m3"], rel=1e-5)
    ends = [found["zone_from_m"], found["zone_to_m"]]
    assert mesh.bounds == pytest.approx(1000.0 * np.array(ends), abs=1e-3)


# which port is placed hangs neither on how finely nor on how many slopes are looked at
COARSE = (*BOX, "--require", "slope=10deg,heading=180deg", "--tolerance", "1deg")
CAP = ("--breather", "cap=20,150,300mm")


FILLER = ("--filler", "neck=450,150,300mm")


SUCTION = ("--pickup", "suction=20,150,50mm,bore=38mm")


@pytest.mark.parametrize(
    ("given", "placed"),
    [
        ((), "new pickup (pickup, must stay wet)"),
        (CAP, "cap (breather, must stay dry)"),
        ((*CAP, *SUCTION), "suction (pickup, must stay wet)"),
        ((*CAP, *SUCTION, "--kind", "breather"), "cap (breather, must stay dry)"),
        ((*CAP, "--opening", "bore=20mm"), "new pickup (pickup, must stay wet)"),
    ],
)
@pytest.mark.parametrize("how", [(), ("--at", "450,150mm")])
def test_the_port_that_is_meant_is_placed_and_named(given, placed, how):
    facts = {one["label"]: one["words"] for one in answer(*COARSE, *given, *how)["answer"]["facts"]}
    assert facts["placed"].startswith(placed)


def test_a_breather_is_never_told_to_sit_on_the_floor():
    """Placed as a pickup, its place would run from the floor up."""
    found = answer(*COARSE, *CAP, "--at", "450,150mm")
    assert found["highest_m"] == pytest.approx(0.3)
    assert found["lowest_m"] > 0.15


@pytest.mark.parametrize(
    ("words", "says"),
    [
        ((*CAP, *FILLER), "neck"),
        ((*SUCTION, "--pickup", "second=800,150,50mm"), "second"),
        ((*SUCTION, "--port", "suction", "--opening", "bore=20mm"), "has its kind"),
    ],
)
def test_a_port_is_not_guessed(words, says):
    shown = run(*BOX, "--require", "10deg", *words)
    assert shown.returncode == 2
    assert says in shown.stderr


def test_limits_and_spots_are_measured_from_the_floor_not_from_a_sump(tmp_path):
    path = tmp_path / "tank.toml"
    path.write_text(ASKEW)
    words = ["--require", "5deg", "--tolerance", "1deg"]
    boxed = answer("place", path, *words, "--within", "0..900,0..300,30..60mm")
    assert boxed["recommended_point_m"][2] == pytest.approx(0.03, abs=1e-9)
    tube = answer("place", path, *words, "--tube", "rear,height=250mm,run=300mm,drop=200mm")["tube"]
    assert tube["leaves_m"][2] == pytest.approx(0.25)
    assert answer("place", path, *words, "--at", "100,150mm")["lowest_m"] == pytest.approx(0.0)
