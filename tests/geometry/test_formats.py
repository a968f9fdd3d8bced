"""Formats with scenes, units and axes of their own."""

import importlib.util
import re

import numpy as np
import pytest
import trimesh
from solids_by_hand import box, turned
from step_by_hand import write_box, write_cylinder

from tanksolve.errors import MeshError
from tanksolve.geometry.formats import read_raw
from tanksolve.geometry.mesh_file import _with_faceting, read_mesh
from tanksolve.geometry.parts import box as box_shape

SIZE, LOW = (900, 300, 200), (10, 20, 30)


def as_trimesh(corners) -> trimesh.Trimesh:
    return trimesh.Trimesh(
        corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False
    )


def gltf_frame(corners):
    """From x forward, y left, z up in mm to glTF's x left, y up, z forward in m."""
    return corners[:, :, [1, 2, 0]] / 1000.0


def save(path, *parts, **nodes):
    scene = trimesh.Scene()
    for k, part in enumerate(parts):
        scene.add_geometry(as_trimesh(part), node_name=f"part{k}", geom_name=f"part{k}")
    for name, part in nodes.items():
        scene.add_geometry(as_trimesh(part), node_name=name, geom_name=name)
    if path.suffix == ".gltf":
        for name, data in scene.export(file_type="gltf").items():
            (path if name == "model.gltf" else path.parent / name).write_bytes(data)
    elif path.suffix == ".off":
        next(iter(scene.geometry.values())).export(path)
    else:
        scene.export(path)
    return path


def matches(tank):
    return (
        tank.capacity == pytest.approx(0.054, rel=1e-6)
        and tank.lower == pytest.approx([0.01, 0.02, 0.03], abs=1e-7)
        and tank.upper == pytest.approx([0.91, 0.32, 0.23], abs=1e-7)
    )


@pytest.mark.parametrize("suffix", [".glb", ".gltf"])
def test_gltf_says_metres_and_axes(tmp_path, suffix):
    file = save(tmp_path / f"t{suffix}", gltf_frame(box(SIZE, LOW, cells=3)))
    tank = read_mesh(file)
    assert matches(tank)
    assert "mesh +z is forward, mesh +y is up, so mesh +x is left" in tank.notes[0]
    assert "lengths in m" in tank.notes[0]


def test_what_the_user_says_goes_before_what_the_format_says(tmp_path):
    file = save(tmp_path / "t.glb", box(SIZE, LOW))
    tank = read_mesh(file, "mm", "+x", "+z")
    assert matches(tank)
    assert any("unit mm as stated by the user; the format says m" in n for n in tank.notes)


def test_3mf_says_its_unit_and_up_but_not_forward(tmp_path):
    file = save(tmp_path / "t.3mf", box(SIZE, LOW))
    with pytest.raises(MeshError, match="does not say its forward"):
        read_mesh(file)
    assert matches(read_mesh(file, forward="+x"))


@pytest.mark.parametrize(("unit", "factor"), [("inch", 0.0254), ("meter", 1.0), ("micron", 1e-6)])
def test_3mf_units(tmp_path, unit, factor):
    import zipfile

    source = save(tmp_path / "s.3mf", box((2, 2, 2)))
    with zipfile.ZipFile(source) as old, zipfile.ZipFile(tmp_path / "t.3mf", "w") as new:
        for name in old.namelist():
            data = old.read(name)
            if name.lower().endswith(".model"):
                assert b'unit="millimeter"' in data
                data = data.replace(b'unit="millimeter"', f'unit="{unit}"'.encode())
            new.writestr(name, data)
    tank = read_mesh(tmp_path / "t.3mf", forward="+x")
    assert tank.capacity == pytest.approx(8 * factor**3, rel=1e-9)


def test_off_says_nothing(tmp_path):
    file = save(tmp_path / "t.off", box(SIZE, LOW))
    with pytest.raises(MeshError, match="does not say its unit"):
        read_mesh(file)
    assert matches(read_mesh(file, "mm", "+x", "+z"))


def test_a_placed_and_mirrored_body_is_put_where_the_scene_has_it(tmp_path):
    scene = trimesh.Scene()
    mirror = np.diag([-1.0, 1.0, 1.0, 1.0])
    mirror[:3, 3] = (5.0, 0.0, 0.0)
    scene.add_geometry(as_trimesh(box((1, 2, 3), (1, 0, 0))), transform=mirror)
    scene.export(tmp_path / "t.glb")
    tank = read_mesh(tmp_path / "t.glb", "m", "+x", "+z")
    assert tank.capacity == pytest.approx(6.0)
    assert tank.lower == pytest.approx([3.0, 0.0, 0.0])


def test_a_turned_body_stays_closed(tmp_path):
    """Equal corners must stay equal to the last bit under the scene's transform."""
    scene = trimesh.Scene()
    turn = trimesh.transformations.rotation_matrix(0.7, (1, 2, 3), (4, 5, 6))
    scene.add_geometry(as_trimesh(box((1, 2, 3), cells=7)), transform=turn)
    scene.export(tmp_path / "t.glb")
    tank = read_mesh(tmp_path / "t.glb", "m", "+x", "+z")
    assert tank.capacity == pytest.approx(6.0, rel=1e-6)


@pytest.mark.parametrize("suffix", [".glb", ".3mf"])
def test_bodies_of_a_scene_are_listed_and_chosen(tmp_path, suffix):
    file = save(tmp_path / f"t{suffix}", tank=box((2, 1, 1)), lid=box((1, 1, 1), (5, 0, 0)))
    with pytest.raises(MeshError) as caught:
        read_mesh(file, "m", "+x", "+z")
    for words in ("the file holds 2 bodies", "'tank' (12 faces, 2000.00 L if closed)", "'lid'"):
        assert words in caught.value.message
    assert read_mesh(file, "m", "+x", "+z", body="lid").capacity == pytest.approx(1.0)
    assert read_mesh(file, "m", "+x", "+z", body="all").capacity == pytest.approx(3.0)
    number = 1 + read_raw(file).names.index("tank")
    assert read_mesh(file, "m", "+x", "+z", body=number).capacity == pytest.approx(2.0)
    with pytest.raises(MeshError, match="no body 'cap'"):
        read_mesh(file, "m", "+x", "+z", body="cap")


def test_bodies_that_cross_are_united_and_it_is_said(tmp_path):
    file = save(tmp_path / "t.glb", a=box(), b=turned(box(), 5))
    tank = read_mesh(file, body="all")
    single = read_mesh(save(tmp_path / "one.glb", a=box())).capacity
    assert single < tank.capacity < 2.0 * single
    assert any("2 bodies of an assembly united" in note for note in tank.notes)


@pytest.mark.parametrize(("unit", "factor"), [("mm", 1.0), ("m", 0.001)])
def test_step_says_its_unit(tmp_path, unit, factor):
    pytest.importorskip("cascadio")
    file = tmp_path / "t.step"
    write_box(file, [s * factor for s in SIZE], [c * factor for c in LOW], unit)
    with pytest.raises(MeshError, match="does not say its forward nor its up") as asked:
        read_mesh(file)
    assert "--unit" not in asked.value.message  # it is in the file: not asked for again
    tank = read_mesh(file, forward="+x", up="+z")
    assert matches(tank)
    assert tank.volume_error == 0.0  # flat all over


def test_step_follows_a_cylinder_within_the_chord(tmp_path):
    pytest.importorskip("cascadio")
    file = tmp_path / "t.stp"
    write_cylinder(file, 100.0, 500.0)
    exact = np.pi * 0.1**2 * 0.5
    for chord in (1e-3, 1e-4):
        tank = read_mesh(file, forward="+x", up="+z", chord=chord)
        # facets inside the circle hold less, by at most the chord all round
        assert 0.0 < exact - tank.capacity < chord * 2 * np.pi * 0.1 * 0.5
        told = next(note for note in tank.notes if "facets of its curved walls" in note)
        share = float(re.search(r"about ([\d.e-]+) %", told).group(1)) / 100.0
        assert "% less than the curved" in told
        assert share == pytest.approx((exact - tank.capacity) / exact, rel=0.6)
        assert tank.volume_error == pytest.approx(tank.capacity - exact, rel=0.6)


@pytest.mark.parametrize(("finer", "words"), [(0.99, "1.3 % more"), (1.01, "1.3 % less")])
def test_the_sign_of_what_facets_do(finer, words):
    """A finer cut that holds less shows that facets bulge out, as round a tube in the tank."""
    tank = box_shape(1.0, 1.0, 1.0)
    seen = _with_faceting(tank, finer * tank.capacity)
    assert f"hold about {words} than the curved tank" in seen.notes[-1]
    assert seen.volume_error == pytest.approx(4.0 / 3.0 * (1.0 - finer) * tank.capacity)


def test_step_without_its_extra_says_what_to_install(tmp_path, monkeypatch):
    find = importlib.util.find_spec
    monkeypatch.setattr(
        importlib.util, "find_spec", lambda name: None if name == "cascadio" else find(name)
    )
    write_box(tmp_path / "t.step", SIZE)
    with pytest.raises(MeshError, match=r"pip install 'tanksolve\[step\]'"):
        read_mesh(tmp_path / "t.step", forward="+x", up="+z")


@pytest.mark.parametrize("suffix", [".glb", ".gltf", ".3mf", ".off", ".step"])
@pytest.mark.parametrize("content", [b"\x00" * 40, b"glTF" + b"\xff" * 60, b"PK\x03\x04 nothing"])
def test_rubbish_is_refused(tmp_path, suffix, content):
    file = tmp_path / f"t{suffix}"
    file.write_bytes(content)
    with pytest.raises(MeshError, match=r"damaged|no faces"):
        read_mesh(file, "mm", "+x", "+z")


@pytest.mark.parametrize(
    ("signal", "reason"), [("SIGKILL", "within"), ("SIGXCPU", "within"), ("SIGSEGV", "damaged")]
)
def test_a_step_conversion_that_is_killed_took_too_long_and_one_that_crashes_is_damaged(
    tmp_path, monkeypatch, signal, reason
):
    pytest.importorskip("cascadio")
    write_box(tmp_path / "t.step", SIZE)
    ends = f"import os, signal; os.kill(os.getpid(), signal.{signal})"
    monkeypatch.setattr("tanksolve.geometry.formats._CONVERT", ends)
    with pytest.raises(MeshError, match=reason):
        read_mesh(tmp_path / "t.step", forward="+x", up="+z")
