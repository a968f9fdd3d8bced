"""What the screen says, as a user runs it. The commands as a user runs them: what they print, the JSON keys."""

import math
import re
from pathlib import Path

import pytest
import trimesh
import typer
from program import answer, run
from step_by_hand import write_cylinder
from tanksolve_cli.main import program

from tanksolve.geometry.repair import repair_mesh

ROOT = Path(__file__).resolve().parents[2]


BOX = ["--box", "900x300x300mm"]


SUCTION = ["--pickup", "suction=20,150,100mm"]


def documented(section):
    """Keys named in docs/json.md between one heading and the next."""
    text = (ROOT / "docs" / "json.md").read_text()
    return text.split(f"## `{section}`")[1].split("\n## ")[0]


def test_envelope_of_a_box_agrees_with_the_triangle_on_paper():
    found = answer("envelope", *BOX, "--fill", "42L", *SUCTION)
    depth = 0.042 / (0.9 * 0.3)
    nose_down = math.degrees(math.atan((depth - 0.1) / (0.45 - 0.02)))
    assert found["nose_down"] == pytest.approx(nose_down, abs=1e-9)
    assert found["nose_up"] is None
    assert found["ok_at_level"] is True
    assert found["fill"] == {
        "unit": "m3",
        "least": pytest.approx(0.042),
        "most": pytest.approx(0.042),
    }
    assert found["cautions"][0].startswith("edge of drawing air, no cover")
    worst = found["worst"]
    assert worst["port"] == "suction"
    assert worst["slope_deg"] - 0.05 <= worst["held_to_deg"] <= worst["slope_deg"]
    rows = {row["heading_deg"]: row for row in found["limits"]}
    assert len(rows) == 72
    assert rows[0]["limited"] is False
    assert rows[0]["slope_deg"] is None
    assert rows[180]["grade_percent"] == 12.8
    for name in [*found, *found["limits"][0]]:
        assert f"`{name}`" in (ROOT / "docs" / "json.md").read_text(), name


def test_help_has_an_example_for_every_command():
    for command in ("envelope", "level", "dip", "compare", "inspect", "new"):
        assert f"tanksolve {command}" in " ".join(run(command, "--help").stdout.split())


def test_no_help_text_is_cut_at_eighty_columns(monkeypatch):
    monkeypatch.setenv("COLUMNS", "80")
    commands = list(typer.main.get_command(program()).commands)
    assert "marks" in commands
    for command in commands:
        cut = [line for line in run(command, "--help").stdout.splitlines() if "…" in line]
        assert cut == [], command


def test_pictures_are_written_and_said(tmp_path):
    plan, chart = tmp_path / "limits.png", tmp_path / "margins.svg"
    done = run(
        "envelope",
        *BOX,
        "--fill",
        "42L",
        *SUCTION,
        "--picture",
        plan,
        "--view",
        "plan",
        "--picture",
        chart,
        "--view",
        "map",
    )
    assert done.returncode == 0
    assert f"wrote {plan}" in done.stdout
    assert plan.read_bytes().startswith(b"\x89PNG")
    assert "<svg" in chart.read_text()
    done = run("envelope", *BOX, "--fill", "42L", *SUCTION, "--picture", tmp_path / "limits.gif")
    assert done.returncode == 2
    assert ".gif" in done.stderr
    assert sorted(tmp_path.iterdir()) == [plan, chart]


MESH_WORDS = ["--unit", "mm", "--forward", "+x", "--up", "+z"]


MESHES = ROOT / "meshes"


def test_inspect_lists_the_faults_of_a_mesh_with_places():
    done = run("inspect", MESHES / "broken" / "leaking.stl", *MESH_WORDS)
    assert done.returncode == 3
    assert done.stdout.startswith("No: the mesh cannot be used as it is: ")
    full = run("inspect", MESHES / "broken" / "leaking.stl", *MESH_WORDS, "--full").stdout
    assert re.search(r"^ +at \(", full, flags=re.MULTILINE)
    found = answer("inspect", MESHES / "broken" / "self_crossing.stl", *MESH_WORDS, code=3)
    assert found["usable"] is False
    assert any(f["refused"] and f["places"] for f in found["mesh"]["findings"])


def test_inspect_shows_an_assembly_before_a_body_is_chosen(tmp_path):
    """It ended in a refusal that listed the bodies and nothing else."""
    scene = trimesh.Scene()
    for name, at in (("tank", 0.0), ("lid", 0.5)):
        body = trimesh.creation.box((0.3, 0.2, 0.1)).apply_translation((at, 0.0, 0.0))
        scene.add_geometry(body, node_name=name)
    scene.export(tmp_path / "t.glb")
    done = run("inspect", tmp_path / "t.glb", "--full")
    assert done.returncode == 4, done.stderr
    told = " ".join(done.stdout.split())
    for words in (
        "which of its bodies is meant",
        "--body all",
        "all bodies taken together",
        "2 bodies, shown together",
        "100.0 mm long, 800.0 mm wide, 200.0 mm high",
    ):
        assert words in told
    assert answer("inspect", tmp_path / "t.glb", code=4)["mesh"]["missing"] == ["body"]
    assert run("inspect", tmp_path / "t.glb", "--body", "all").returncode == 0


def test_inspect_tells_what_facets_do_or_why_it_is_not_known(tmp_path):
    """Of a STEP file it was null, though its note told a figure."""
    pytest.importorskip("cascadio")
    write_cylinder(tmp_path / "t.step", 100.0, 500.0)
    axes = ["--forward", "+x", "--up", "+z"]
    step = answer("inspect", tmp_path / "t.step", *axes)
    off = step["capacity_m3"] - math.pi * 0.1**2 * 0.5
    assert off < 0.0
    assert step["volume_error_m3"] == pytest.approx(off, rel=0.6)
    assert step["volume_error_words"].endswith(" less than the curved tank")
    drawn = trimesh.creation.cylinder(0.1, 0.5)
    drawn.export(tmp_path / "t.stl")
    mesh = answer("inspect", tmp_path / "t.stl", "--unit", "m", *axes)
    assert mesh["volume_error_m3"] is None
    assert mesh["volume_error_words"].startswith("not known: ")
    flat = answer("inspect", *BOX)
    assert flat["volume_error_m3"] == 0.0
    assert flat["volume_error_words"].startswith("none: ")


@pytest.mark.parametrize(
    ("words", "gap", "hole"),
    [
        (["--hole", "8mm", "--unit", "mm"], None, 8.0),
        (["--hole", "1in", "--gap", "2mm", "--unit", "cm"], 0.2, 2.54),
        ([], None, None),
    ],
)
def test_widths_of_a_repair_are_lengths_told_in_the_files_unit(
    tmp_path, monkeypatch, words, gap, hole
):
    told = []

    def watched(*paths, **widths):
        told.append(widths)
        return repair_mesh(*paths, **widths)

    monkeypatch.setattr("tanksolve.geometry.repair.repair_mesh", watched)
    done = run("repair", MESHES / "broken" / "flipped.stl", tmp_path / "mended.stl", *words)
    assert done.returncode == 0, done.stderr
    assert told == [{"gap": pytest.approx(gap), "hole": pytest.approx(hole)}]


def test_inspect_tells_the_bays_of_a_tank_file():
    done = run("inspect", MESHES / "hillside_sprayer.toml")
    assert done.returncode == 0, done.stderr
    assert re.search(r"^1 +behind 'rear baffle' +26.97 L$", done.stdout, flags=re.MULTILINE)
    opening = r"^front baffle, hole 45 mm +2 and 3 +15.9 cm² .* 4$"
    assert re.search(opening, done.stdout, flags=re.MULTILINE)
    division = answer("inspect", MESHES / "hillside_sprayer.toml")["division"]
    assert division["compartments"][0]["name"] == "behind 'rear baffle'"
    assert len(division["passages"]) == 24
    assert division["warnings"] == []
    keys = documented("inspect")
    for table in (division, division["compartments"][0], division["passages"][0]):
        assert all(f"`{key}`" in keys for key in table)
    assert answer("inspect", *BOX)["division"] is None


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


def test_behind_a_wall_limits_are_bounds_whatever_came_before(tmp_path):
    """The rear bay, 497 mm long, can keep 39.8 L behind its wall: only what is beyond counts."""
    file = walled(tmp_path)
    found = answer("envelope", file, "--fill", "60L", "--every", "45deg")
    assert found["walls_may_part"] is True
    assert any(caution.startswith("walls part the liquid") for caution in found["cautions"])
    row = next(r for r in found["limits"] if r["heading_deg"] == 180.0)
    assert row["bounded"] is True
    assert row["slope_deg"] - 0.05 <= row["held_to_deg"] <= row["slope_deg"]
    text = (ROOT / "docs" / "json.md").read_text()
    for name in {*found, *row}:
        assert f"`{name}`" in text, name


def test_a_fill_in_cubic_metres_is_said_in_cubic_metres():
    assert "0.04200 m³" in run("level", *BOX, "--fill", "0.042m3").stdout


def test_a_breather_is_judged_at_the_most_of_a_fill_range():
    """`level` shows the least fill; a breather that only the most would flood must not look safe."""
    words = [
        "level",
        "--box",
        "900x300x300mm",
        "--breather",
        "b=880,150,290mm",
        "--attitude=-10deg",
    ]
    found = answer(*words, "--fill", "30L..65L")
    assert found["ports"][0]["holds"] is True
    assert found["ports_at_most"][0]["holds"] is False
    alone = answer(*words, "--fill", "65L")
    assert found["ports_at_most"][0]["margin_m"] == pytest.approx(alone["ports"][0]["margin_m"])
    assert alone["ports_at_most"] == []
    shown = run(*words, "--fill", "30L..65L").stdout
    assert "at the most, 65.00 L:" in shown
    assert "rule broken" in shown


def test_why_walls_alone_make_a_no_stands_in_the_first_lines():
    """With one level through the whole tank the pickup is covered on level ground."""
    coarse = ("--every", "45deg", "--search-to", "10deg")
    done = run("envelope", ROOT / "meshes" / "two_bays.toml", *coarse)
    assert done.told.startswith(
        "No: not kept on level ground: pickup may be short by 43.8 mm: walls can hold"
    )
    assert (
        answer("envelope", ROOT / "meshes" / "two_bays.toml", *coarse, code=3)["walls_alone"]
        is True
    )
    low = answer("envelope", ROOT / "meshes" / "two_bays.toml", *coarse, "--fill", "5L", code=3)
    assert low["walls_alone"] is False


def test_a_bore_that_no_tube_has_is_pointed_out():
    words = ("level", "--box", "900x300x300mm", "--fill", "42L", "--pickup")
    assert "a bore of 1.5 mm is less than" in run(*words, "s=450,150,40mm,bore=1.5mm").told
    assert "is less than tubes" not in run(*words, "s=450,150,40mm,bore=15mm").told


def test_the_order_typed_decides_without_a_tank():
    line = (
        "--line",
        "1.5in,1.5m",
        "--liquid",
        "water",
        "--from",
        "5C",
        "--to",
        "40C",
        "--level",
        "1m",
    )
    assert " °C" in run("suction", "--flow", "60L/min", *line).told
    assert " °F" in run("suction", *line, "--flow", "60L/min").told
    tank = (ROOT / "meshes" / "two_bays.toml", "--fill", "70L", "--pump", "500,200,-300mm")
    held = run("suction", *tank, *line[:-2], "--flow", "60L/min", "--require", "pitch=1deg")
    assert " °C" in held.told


def test_suction_says_what_would_growl():
    line = ("--flow", "60L/min", "--line", "38.1mm,1.5m,2 elbows", "--level", "300mm")
    cold = run("suction", *line, "--liquid", "ISO VG 46", "--from", "-10C").told
    assert "why it may growl cavitation, cold, at -10.0 °C: the inlet is" in cold
    assert "NPSH: what pressure is left over the liquid's vapour pressure" in cold
    box = ("--box", "900x300x300mm", "--pickup", "suction=450,150,40mm,bore=38mm", "--fill", "60L")
    words = ("--liquid", "water", "--from", "5C", "--to", "40C", "--require", "1deg")
    assert "a vortex that draws air" in run("suction", *box, *line, *words).told
    bare = (*box[:-1], "10L")
    assert "air drawn in: suction" in run("suction", *bare, *line, *words).told
