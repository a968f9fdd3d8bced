"""The commands as a user runs them: what they print, the JSON keys, exit codes, bad input."""

import math
import os
import subprocess
import sys
from pathlib import Path

import pytest
from program import answer, run

ROOT = Path(__file__).resolve().parents[2]


BOX = ["--box", "900x300x300mm"]


SUCTION = ["--pickup", "suction=20,150,100mm"]


def documented(section):
    """Keys named in docs/json.md between one heading and the next."""
    text = (ROOT / "docs" / "json.md").read_text()
    return text.split(f"## `{section}`")[1].split("\n## ")[0]


def test_not_held_on_level_ground_is_a_no():
    found = answer("envelope", *BOX, "--fill", "20L", *SUCTION, code=3)
    assert found["ok_at_level"] is False
    assert found["worst"]["slope_deg"] == 0.0


def test_level_keys_and_signs():
    words = ["level", *BOX, "--fill", "42L", *SUCTION, "--density", "870kg/m3"]
    found = answer(*words, "--attitude", "10deg,-5deg")
    assert found["up"][0] == pytest.approx(math.sin(math.radians(10)))
    assert found["up"][1] == pytest.approx(-math.sin(math.radians(5)))
    assert found["liquid_mass_kg"] == pytest.approx(36.54)
    port = found["ports"][0]
    assert port["wet"] is True
    x, y, z = found["up"]
    depth = 0.042 / (0.9 * 0.3)  # the plane turns about the middle of its level position
    level = z * depth + x * 0.45 + y * 0.15
    assert port["margin_m"] == pytest.approx(level - (x * 0.02 + y * 0.15 + z * 0.1), abs=1e-12)
    for name in [*found, *port]:
        assert (
            f"`{name}`"
            in documented("level")
            + documented("envelope")
            + "`format`version`inputs`cautions`answer`"
        ), name


def test_dip_is_linear_in_a_box_and_writes_csv(tmp_path):
    csv = tmp_path / "dip.csv"
    found = answer("dip", *BOX, "--step", "70mm", "--csv", csv)
    assert [row["depth_m"] for row in found["rows"]][-1] == pytest.approx(0.3)
    for row in found["rows"]:
        assert row["volume_m3"] == pytest.approx(0.27 * row["depth_m"], abs=1e-15)
    lines = csv.read_text().splitlines()
    assert lines[0] == "depth_mm,volume_L,of_full_percent"
    assert len(lines) == 1 + len(found["rows"])


def test_compare_ranks_the_better_pickup_first():
    found = answer(
        "compare", *BOX, "--fill", "42L",
        "--pickup", "rear=20,150,50mm", "--pickup", "middle=450,150,50mm",
    )  # fmt: skip
    assert [c["name"] for c in found["contenders"]] == ["middle", "rear"]
    first, second = found["contenders"]
    assert first["worst_held_to_deg"] > second["worst_held_to_deg"]


BAD = {
    "two ports of one name": (
        ["envelope", *BOX, "--fill", "42L", *SUCTION, "--breather", "suction=450,150,300mm"],
        "two ports",
    ),
    "wall without outside": (["dip", *BOX, "--wall", "3mm"], "go together"),
    "no tank": (["envelope", "--fill", "42L", *SUCTION], "no tank"),
    "missing file": (["envelope", "nowhere.toml", "--fill", "42L"], "nowhere.toml"),
    "missing mesh": (
        ["inspect", "nowhere.stl", "--unit", "mm", "--forward", "+x", "--up", "+z"],
        "nowhere.stl",
    ),
    "no fill": (["envelope", *BOX, *SUCTION], "no fill"),
    "no ports": (["envelope", *BOX, "--fill", "42L"], "no port"),
    "negative fill": (["envelope", *BOX, "--fill", "-4L", *SUCTION], "not positive"),
    "over-full": (["envelope", *BOX, "--fill", "82L", *SUCTION], "81.00 L"),
    "port outside": (
        ["envelope", *BOX, "--fill", "42L", "--pickup", "p=-5,150,100mm"],
        "by 5.0 mm",
    ),
    "unknown unit": (["envelope", *BOX, "--fill", "42firkinz", *SUCTION], "firkinz"),
    "decimal comma": (["envelope", *BOX, "--fill", "42,5L", *SUCTION], "42.5L"),
    "bare number": (["envelope", *BOX, "--fill", "42", *SUCTION], "no unit"),
    "bare angle": (["level", *BOX, "--fill", "42L", "--attitude", "10"], "degrees or grade"),
    "pitch at 90": (["level", *BOX, "--fill", "42L", "--attitude", "90deg"], "90°"),
    "search past 90": (
        ["envelope", *BOX, "--fill", "42L", *SUCTION, "--search-to", "95deg"],
        "90°",
    ),
    "unwritable": (
        ["dip", *BOX, "--csv", "/nowhere/at/all/dip.csv"],
        "there is no folder '/nowhere/at/all'",
    ),
    "two tanks": (["dip", *BOX, "--cylinder", "300x900mm"], "one tank"),
    "file and box": (["dip", str(ROOT / "meshes" / "two_bays.toml"), *BOX], "one tank"),
    "mesh option with a tank file": (
        ["dip", str(ROOT / "meshes" / "two_bays.toml"), "--unit", "in"],
        "--unit: of no use with a tank file",
    ),
    "mesh option with a box": (["dip", *BOX, "--forward", "-x"], "of no use with a box"),
    "a box does not lie": (["dip", *BOX, "--lies", "across"], "of no use with a box"),
    "wall with a mesh": (["dip", "tank.stl", "--wall", "3mm"], "of no use with a mesh"),
    "fill reversed": (["envelope", *BOX, "--fill", "42L..30L", *SUCTION], "smaller first"),
    "one pickup": (["compare", *BOX, "--fill", "42L", *SUCTION], "compare"),
    "same name": (
        ["envelope", *BOX, "--fill", "42L", "--pickup", "a=20,150,100mm,bore=0mm"],
        "positive",
    ),
}


@pytest.mark.parametrize("name", BAD)
def test_a_mistake_is_one_message_and_exit_code_2(name, tmp_path):
    words, part = BAD[name]
    done = run(*words, cwd=tmp_path)
    assert done.returncode == 2, done.stdout + done.stderr
    assert part in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""
    assert list(tmp_path.iterdir()) == []


def test_the_program_runs_as_a_process_and_ends_with_its_code():
    paths = os.pathsep.join([str(ROOT), str(ROOT / "cli")])
    done = subprocess.run(
        [sys.executable, "-m", "tanksolve_cli", "dip", "--box", "1x1mm"],
        capture_output=True,
        text=True,
        env={**os.environ, "PYTHONPATH": paths},
        check=False,
        timeout=300,
    )
    assert done.returncode == 2
    assert done.stderr.startswith("tanksolve: --box: ")
    assert "Traceback" not in done.stderr


def test_new_writes_files_that_run_and_never_over_another(tmp_path):
    for options in ([], ["--demo"]):
        file = tmp_path / f"tank{len(options)}.toml"
        assert run("new", file, *options).returncode == 0
        found = answer("envelope", file)
        assert found["ok_at_level"] is True
        before = file.read_text()
        again = run("new", file)
        assert again.returncode == 2
        assert "is there already" in again.stderr
        assert file.read_text() == before


def test_options_replace_ports_and_fill_of_a_tank_file(tmp_path):
    file = tmp_path / "tank.toml"
    run("new", file)
    found = answer("envelope", file, "--fill", "50L", "--pickup", "suction=450,150,60mm")
    assert found["fill"]["least"] == pytest.approx(0.05)
    assert found["cautions"][0].startswith("edge of drawing air")


MESH_WORDS = ["--unit", "mm", "--forward", "+x", "--up", "+z"]


MESHES = ROOT / "meshes"


def test_inspect_leaves_the_choice_between_liquid_and_metal():
    wall = MESHES / "broken" / "wall.stl"
    found = answer("inspect", wall, *MESH_WORDS, code=4)
    readings = {r["meaning"]: r["volumes_m3"] for r in found["mesh"]["readings"]}
    assert set(readings) == {"liquid", "metal"}
    chosen = answer("inspect", wall, *MESH_WORDS, "--meaning", "metal")
    assert chosen["capacity_m3"] == pytest.approx(readings["metal"][0])


def test_the_demo_as_file_and_as_mesh_has_the_same_limits():
    coarse = ["--every", "30deg", "--search-to", "40deg"]
    file = answer("envelope", MESHES / "hillside_sprayer.toml", *coarse)
    ports = [
        "--pickup=sump pickup=150,150,-10mm,bore=32mm,facing=down,cover=30mm",
        "--pickup=middle pickup=450,150,40mm,bore=32mm,facing=down,cover=30mm",
        "--breather=breather=450,230,300mm,bore=20mm,facing=down",
    ]
    mesh = answer(
        "envelope",
        MESHES / "hillside_sprayer.stl",
        *MESH_WORDS,
        "--fill",
        "34L..46L",
        *ports,
        *coarse,
    )
    for one, other in zip(file["limits"], mesh["limits"], strict=True):
        assert one["slope_deg"] == pytest.approx(other["slope_deg"], abs=2e-5)
        assert one["port"] == other["port"]


def test_a_no_without_a_table_writes_none_and_says_so(tmp_path):
    coarse = ["--every", "45deg", "--search-to", "10deg", "--csv", tmp_path / "t.csv"]
    done = run("envelope", MESHES / "two_bays.toml", *coarse)
    assert done.returncode == 3
    assert done.stdout.startswith("No: ")
    assert "t.csv is not written: this answer has no table" in done.stderr
    assert list(tmp_path.iterdir()) == []


def test_repair_mends_a_copy_and_leaves_the_file(tmp_path):
    flipped = MESHES / "broken" / "flipped.stl"
    before = flipped.read_bytes()
    done = run("repair", flipped, tmp_path / "mended.stl")
    assert done.returncode == 0, done.stderr
    assert flipped.read_bytes() == before
    found = answer("inspect", tmp_path / "mended.stl", *MESH_WORDS)
    assert found["capacity_m3"] == pytest.approx(0.6 * 0.3 * 0.2)
    crossing = run("repair", MESHES / "broken" / "self_crossing.stl", tmp_path / "no.stl")
    assert crossing.returncode == 2
    assert not (tmp_path / "no.stl").exists()


@pytest.mark.parametrize(
    ("words", "part"),
    [
        (["--hole", "8"], "unit"),
        (["--hole", "8mm"], "does not state its length unit"),
        (["--hole", "-8mm", "--unit", "mm"], "below nought"),
        (["--gap", "8mm", "--unit", "MM"], "did you mean mm?"),
    ],
)
def test_a_width_without_a_unit_is_refused(tmp_path, words, part):
    done = run("repair", MESHES / "broken" / "flipped.stl", tmp_path / "mended.stl", *words)
    assert done.returncode == 2
    assert part in " ".join(done.stderr.split())
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize(
    "name",
    ["empty", "no_faces", "truncated", "truncated_ascii", "nan", "leaking", "flipped",
     "inside_out", "flat", "doubled", "self_crossing", "folded"],
)  # fmt: skip
def test_a_mesh_that_bounds_no_liquid_is_refused(name):
    file = MESHES / "broken" / f"{name}.stl"
    done = run("envelope", file, *MESH_WORDS, "--fill", "9L", "--pickup", "p=10,10,10mm")
    assert done.returncode == 2
    assert f"{name}.stl" in done.stderr
    assert "Traceback" not in done.stderr
    assert done.stdout == ""


def test_schema_is_a_json_schema():
    import json

    schema = json.loads(run("schema").stdout)
    assert "$schema" in schema


def walled(tmp_path):
    """A tank file with a wall across that parts the liquid, pickup downhill of it."""
    file = tmp_path / "walled.toml"
    file.write_text(
        'tanksolve_file = 1\nname = "walled"\nfill = "40 L"\n'
        '[tank]\nshape = "box"\nlength = "1000 mm"\nwidth = "400 mm"\nheight = "500 mm"\n'
        '[[baffle]]\nname = "wall"\nstands = "across"\nat = "497 mm"\nthickness = "6 mm"\n'
        'top_gap = "300 mm"\n'
        '[[port]]\nname = "suction"\nkind = "pickup"\nat = "550, 200, 15 mm"\n'
    )
    return file


def test_level_tells_the_pools_and_what_is_trapped(tmp_path):
    file = walled(tmp_path)
    found = answer("level", file, "--attitude", "-35deg")
    assert len(found["pools"]) == 2
    assert sum(p["volume_m3"] for p in found["pools"]) == pytest.approx(found["volume_m3"])
    behind = 0.4 * 0.2**2 / (2 * math.tan(math.radians(35)))
    assert min(p["volume_m3"] for p in found["pools"]) == pytest.approx(behind, rel=1e-9)
    port = found["ports"][0]
    assert port["pool"] == 0
    assert port["wet"] is False
    assert found["trapped_m3"] == pytest.approx(found["volume_m3"])  # the pickup is dry
    box = answer("level", *BOX, "--fill", "42L", *SUCTION, "--attitude", "10deg")
    assert len(box["pools"]) == 1
    assert box["trapped_m3"] == 0.0


def test_a_size_given_as_a_file_is_pointed_to_its_option():
    done = run("envelope", "400x250x300mm", "--fill", "18L")
    assert done.returncode == 2
    assert "--box 400x250x300mm" in done.stderr


def test_envelope_says_whether_a_requirement_is_met(tmp_path):
    case = ["envelope", "--box", "900x300x300mm", "--fill", "42L", "--pickup", "s=100,150,20mm"]
    plan, margins = tmp_path / "plan.svg", tmp_path / "map.svg"
    drawn = ("--picture", plan, "--view", "plan", "--picture", margins, "--view", "map")
    found = answer(*case, "--require", "15deg", *drawn)
    (one,) = found["requirements"]
    slope = math.radians(15.0)
    paper = (0.042 / 0.27 - 0.02) * math.cos(slope) - 0.35 * math.sin(slope)
    assert one["met"] is True
    assert one["margin_m"] == pytest.approx(paper, abs=1e-9)
    documented = (Path(__file__).resolve().parents[2] / "docs" / "json.md").read_text()
    for key in [*found, *one]:
        assert f"`{key}`" in documented, key
    assert all("required" in path.read_text() for path in (plan, margins))
