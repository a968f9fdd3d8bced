import importlib.util
import math
from pathlib import Path

import numpy as np
import pytest

from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.project.load import load

MESHES = Path(__file__).resolve().parents[2] / "meshes"


@pytest.fixture(scope="module")
def make_demo():
    spec = importlib.util.spec_from_file_location("make_demo", MESHES / "make_demo.py")
    module = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(module)
    return module


@pytest.fixture(scope="module")
def remade(make_demo, tmp_path_factory):
    folder = tmp_path_factory.mktemp("meshes")
    make_demo.sprayer(folder)
    make_demo.write_saddle(folder)
    return folder


def sprayer_volume():
    """The formula of meshes/README.md, mm³."""
    plate = 300 * 275 - 9 * math.pi / 4 * 45**2 - 2 * 25**2 / 2
    frustum = math.pi * 45 / 12 * (110**2 + 110 * 80 + 80**2)
    return 900 * 300 * 300 + frustum - math.pi / 4 * 38**2 * (310 + 260) - 2 * 3 * plate


@pytest.mark.parametrize("name", ["hillside_sprayer.toml", "twisted_saddle.obj"])
def test_the_script_writes_what_is_kept(remade, name):
    assert (remade / name).read_bytes() == (MESHES / name).read_bytes()


def test_the_sprayer_holds_what_its_drawing_says(remade):
    tank = load(MESHES / "hillside_sprayer.toml").tank
    assert tank.capacity == pytest.approx(1e-9 * sprayer_volume(), rel=1e-12)
    assert f"{1e-6 * sprayer_volume():.6f} L" in (MESHES / "README.md").read_text(encoding="utf-8")
    assert tank.volume_error == 0.0
    assert 2700 <= len(tank.faces) <= 3400


@pytest.mark.parametrize("remake", [False, True])
def test_the_sprayer_as_stl_is_the_same_tank(remade, remake):
    folder = remade if remake else MESHES
    tank = read_mesh(folder / "hillside_sprayer.stl", "mm", "+x", "+z")
    drawn = load(MESHES / "hillside_sprayer.toml").tank
    assert tank.capacity == pytest.approx(drawn.capacity, rel=1e-8)
    assert np.allclose([tank.lower, tank.upper], [drawn.lower, drawn.upper], atol=1e-7)
    assert 2700 <= len(tank.faces) <= 3400


def test_the_saddle_has_its_exact_volume(make_demo):
    vertices, faces = make_demo.saddle()
    exact = make_demo.six_volumes(vertices, faces)
    readme = (MESHES / "README.md").read_text(encoding="utf-8")
    assert f"{exact} / 6 µm³" in readme
    assert f"{exact / 6e15:.13f} L" in readme
    tank = read_mesh(MESHES / "twisted_saddle.obj", "mm", "+x", "+z")
    assert tank.capacity == pytest.approx(exact / 6e18, rel=1e-13)
    assert f"{len(tank.faces):,}" in readme
