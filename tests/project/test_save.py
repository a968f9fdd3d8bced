import tomllib
from importlib.resources import files
from pathlib import Path

import numpy as np
import pytest

from tanksolve.errors import FileFormatError, OutputError, PortError, TankError, TanksolveError
from tanksolve.geometry.mesh_out import stl_bytes
from tanksolve.project.load import load, loads
from tanksolve.project.save import save, starter_text, write_new, written

MESHES = Path(__file__).resolve().parents[2] / "meshes"


def test_an_unchanged_project_is_saved_to_the_letter(tmp_path):
    project = load(MESHES / "hillside_sprayer.toml")
    copy = save(project, tmp_path / "copy.toml")
    assert copy.read_bytes() == (MESHES / "hillside_sprayer.toml").read_bytes()
    again = load(copy)
    assert (again.ports, again.fill, again.notes, again.density) == (
        project.ports,
        project.fill,
        project.notes,
        project.density,
    )
    assert np.array_equal(again.tank.vertices, project.tank.vertices)
    assert [path.name for path in tmp_path.iterdir()] == ["copy.toml"]


def test_a_change_keeps_every_comment(tmp_path):
    project = load(MESHES / "hillside_sprayer.toml")
    changes = {
        ("fill",): "40 L",
        ("port", 1, "at"): "500, 150, 50 mm",
        ("port", 0, "cover"): None,
        ("mounting", "pitch"): "2 deg",
    }
    changed = load(save(project, tmp_path / "changed.toml", changes))
    assert changed.fill.least == changed.fill.most == pytest.approx(0.040)
    assert changed.ports[1].position == pytest.approx((0.5, 0.15, 0.05))
    assert changed.ports[0].cover is None
    assert changed.mounting[1] == pytest.approx(np.radians(2.0))
    before = [line for line in project.text.splitlines() if "#" in line and "cover" not in line]
    comments = [line.partition("#")[2] for line in before]
    kept = [line.partition("#")[2] for line in changed.text.splitlines() if "#" in line]
    assert set(comments) <= set(kept)


def test_a_change_that_would_not_load_is_not_saved(tmp_path):
    project = load(MESHES / "hillside_sprayer.toml")
    with pytest.raises(PortError, match="outside"):
        save(project, tmp_path / "no.toml", {("port", 1, "at"): "440, 150, 5000 mm"})
    with pytest.raises(FileFormatError, match="did you mean 'fill'"):
        written(project, {("fil",): "40 L"})
    assert list(tmp_path.iterdir()) == []


def test_nothing_is_overwritten_unless_told(tmp_path):
    target = write_new(tmp_path / "tank.toml")
    with pytest.raises(OutputError, match=r"tank\.toml.*not overwritten"):
        write_new(target, "demo")
    assert "my tank" in target.read_text(encoding="utf-8")
    write_new(target, "demo", overwrite=True)
    assert "sprayer" in target.read_text(encoding="utf-8")
    with pytest.raises(OutputError, match="cannot write"):
        write_new(tmp_path / "nowhere" / "tank.toml")


def test_starter_and_demo_load_and_are_packaged():
    assert loads(starter_text()).name == "my tank"
    demo = starter_text("demo")
    assert demo == (MESHES / "hillside_sprayer.toml").read_text(encoding="utf-8")
    templates = {path.name for path in (files("tanksolve.project") / "templates").iterdir()}
    assert {"starter.toml", "demo.toml"} <= templates
    root = Path(__file__).resolve().parents[2]
    settings = tomllib.loads((root / "pyproject.toml").read_text(encoding="utf-8"))
    data = settings["tool"]["setuptools"]["package-data"]
    assert "templates/*.toml" in data["tanksolve.project"]


def test_the_starter_holds_when_its_comments_are_opened():
    opened = "\n".join(
        line[2:] if line.startswith("# ") and ("=" in line or line.startswith("# [")) else line
        for line in starter_text().splitlines()
    )
    with pytest.raises(TankError, match="takes nothing off"):  # what the line above says of it
        loads(opened)
    project = loads(opened.replace('\nwall = "3 mm"', ""))
    assert project.density == pytest.approx(870.0)
    assert any("baffle" in note for note in project.tank.notes)


MESH_FILE = """\
tanksolve_file = 1
name = "from a mesh"
[tank]
shape = "mesh"
file = "sub/tank.stl"   # beside this file
unit = "mm"
forward = "+x"
up = "+z"
"""


@pytest.fixture
def mesh_project(tmp_path):
    (tmp_path / "sub").mkdir()
    tank = load(MESHES / "hillside_sprayer.toml").tank
    (tmp_path / "sub" / "tank.stl").write_bytes(stl_bytes(tank))
    (tmp_path / "tank.toml").write_text(MESH_FILE, encoding="utf-8")
    return tmp_path / "tank.toml"


def test_a_mesh_is_found_by_its_relative_path_and_stays_found(mesh_project):
    project = load(mesh_project)
    assert project.tank.name == "from a mesh"
    other = mesh_project.parent / "other"
    other.mkdir()
    moved = save(project, other / "tank.toml")
    assert 'file = "../sub/tank.stl"' in moved.read_text(encoding="utf-8")
    assert load(moved).tank.capacity == project.tank.capacity


def test_measuring_a_mesh_from_its_corner(mesh_project):
    text = mesh_project.read_text(encoding="utf-8")
    baffle = '[[baffle]]\nname = "b"\nstands = "across"\nat = "100 mm"\nthickness = "3 mm"\ntop_gap = "30 mm"\n'
    mesh_project.write_text(text + baffle, encoding="utf-8")
    with pytest.raises(TankError, match="measured_from"):
        load(mesh_project)
    mesh_project.write_text(text + 'measured_from = "corner"\n' + baffle, encoding="utf-8")
    project = load(mesh_project)
    assert project.tank.lower == pytest.approx([0, 0, 0], abs=1e-12)
    assert any("origin is at 0, 0, 45 mm" in note for note in project.tank.notes)
    assert any("baffle 'b'" in note for note in project.tank.notes)


def test_a_missing_mesh_names_the_tank_file_and_line(mesh_project):
    (mesh_project.parent / "sub" / "tank.stl").unlink()
    with pytest.raises(TanksolveError, match=r"tank\.toml, line 3, tank.*tank\.stl"):
        load(mesh_project)
