"""Inspection: every fault with its number and place, every meaning with its volume, no verdict."""

import json
from pathlib import Path

import numpy as np
import pytest
import trimesh
from solids_by_hand import box, inverted, write_stl
from walled_tank import save, walled

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_report import inspect_mesh
from tanksolve.record import as_plain

BROKEN = Path(__file__).parents[2] / "meshes" / "broken"
AXES = ("mm", "+x", "+z")


def found(report) -> dict[str, int]:
    return {finding.kind: finding.count for finding in report.findings}


@pytest.mark.parametrize(
    ("name", "kinds"),
    [
        ("leaking.stl", {"leaking": 3, "holes": 1}),
        ("flipped.stl", {"flipped faces": 1}),
        ("inside_out.stl", {"inside-out": 12}),
        ("flat.stl", {"zero volume": 4, "duplicate faces": 2}),
        ("touching_along_an_edge.stl", {"non-manifold edges": 1}),
    ],
)
def test_faults_are_findings(name, kinds):
    report = inspect_mesh(BROKEN / name, *AXES)
    assert kinds.items() <= found(report).items()
    assert not report.usable
    assert report.readings == ()
    assert all(kind in report.saw for kind in kinds if kind != "holes")


def test_several_faults_at_once(tmp_path):
    corners = np.concatenate([box(), box(low=(0.5, 0.5, 0.5))])
    corners[3] = corners[3, ::-1].copy()
    write_stl(tmp_path / "t.stl", np.delete(corners, 20, axis=0))
    report = inspect_mesh(tmp_path / "t.stl", *AXES)
    assert {"leaking", "flipped faces", "self-crossing"} <= set(found(report))


def test_holes_are_placed_and_measured(tmp_path):
    corners = np.delete(box((4, 4, 4), cells=4), [2, 3, 100], axis=0)
    write_stl(tmp_path / "t.stl", corners)
    holes = next(f for f in inspect_mesh(tmp_path / "t.stl", *AXES).findings if f.kind == "holes")
    assert holes.count == 2
    assert "1.414, 1.414 mm" in holes.words
    assert any(np.allclose(place, box((4, 4, 4), cells=4)[2:4].mean(axis=(0, 1)), atol=0.2)
               for place in holes.places)  # fmt: skip


def test_a_sound_tank(tmp_path):
    write_stl(tmp_path / "t.stl", box((900, 300, 200)))
    report = inspect_mesh(tmp_path / "t.stl", "mm", "+y", "+z")
    assert report.usable
    assert report.findings == ()
    assert report.box_m == pytest.approx((0.3, 0.9, 0.2))
    assert [r.words for r in report.readings] == ["as liquid: 1 body, 54.00 L"]
    assert report.saw == "one closed surface: the boundary of the liquid"
    json.dumps(as_plain(report))


def test_a_wall_gives_both_volumes():
    report = inspect_mesh(BROKEN / "wall.stl", *AXES)
    assert [r.meaning for r in report.readings] == ["liquid", "metal"]
    assert report.readings[0].volumes_m3 == pytest.approx([0.036 - 0.594 * 0.294 * 0.194])
    assert report.readings[1].volumes_m3 == pytest.approx([0.594 * 0.294 * 0.194])
    assert [s.inside for s in report.shells] == [None, 1]
    apart = [shell.volume_m3 for shell in report.shells]  # the inner one looks inwards
    assert apart == pytest.approx([0.036, -0.594 * 0.294 * 0.194])
    assert "shells inside shells" in report.saw


def test_an_outward_inner_shell_can_only_be_metal(tmp_path):
    write_stl(tmp_path / "t.stl", np.concatenate([box((9, 9, 9)), box((7, 7, 7), (1, 1, 1))]))
    report = inspect_mesh(tmp_path / "t.stl", *AXES)
    assert [r.meaning for r in report.readings] == ["metal"]
    assert found(report) == {"counted twice": 12}
    assert report.usable


def test_open_ports_are_told(tmp_path):
    report = inspect_mesh(save(tmp_path / "t.stl", walled()), *AXES)
    metal = report.readings[1]
    assert metal.words == "as metal: 1 cavity, 50.99 L, 3 ports to plug"
    assert len(metal.plugs) == 3
    assert "thin like a wall" in report.saw


def test_bodies_apart(tmp_path):
    write_stl(tmp_path / "t.stl", np.concatenate([box(), box(low=(3, 0, 0))]))
    report = inspect_mesh(tmp_path / "t.stl", *AXES)
    assert "2 bodies apart" in report.saw
    write_stl(tmp_path / "t.stl", np.concatenate([box(), inverted(box(low=(3, 0, 0)))]))
    report = inspect_mesh(tmp_path / "t.stl", *AXES)
    assert not report.usable
    assert found(report) == {"inside-out": 12}


def test_collapsed_faces_are_a_remark(tmp_path):
    corners = np.concatenate([box(), [[(0, 0, 0), (0, 0, 0), (1, 0, 0)]]])
    write_stl(tmp_path / "t.stl", corners)
    report = inspect_mesh(tmp_path / "t.stl", *AXES)
    assert found(report) == {"collapsed faces": 1}
    assert report.usable


def test_what_is_no_mesh_is_still_an_error():
    for name in ("empty.stl", "truncated.stl", "nan.stl", "no_faces.stl"):
        with pytest.raises(MeshError):
            inspect_mesh(BROKEN / name, *AXES)


def test_a_scene_is_shown_before_a_body_is_chosen(tmp_path):
    scene = trimesh.Scene()
    for name, shift in (("tank", 0.0), ("lid", 0.5)):
        body = trimesh.creation.box((0.3, 0.2, 0.1))
        scene.add_geometry(body.apply_translation((shift, 0.0, 0.0)), node_name=name)
    scene.export(tmp_path / "t.glb")
    report = inspect_mesh(tmp_path / "t.glb")
    assert report.missing == ("body",)
    assert report.box_m == pytest.approx((0.1, 0.8, 0.2))  # glTF: +z is forward, +y up
    told = " ".join(report.notes)
    assert "2 bodies, shown together" in told
    assert "'tank' (12 faces" in told
    assert inspect_mesh(tmp_path / "t.glb", body="lid").missing == ()
