"""A tank file drawn up from a mesh: one message for all that is missing, then two commands to limits."""

import metal_cases
import numpy as np
import pytest
from solids_by_hand import box, write_stl
from step_by_hand import write_box
from walled_tank import corners_of, cube, save

from tanksolve.errors import MeshError
from tanksolve.geometry.cavity import find_cavities
from tanksolve.geometry.mesh_report import inspect_mesh
from tanksolve.model.ports import PortKind
from tanksolve.present.understood_view import understood_figure
from tanksolve.project.from_mesh import draft
from tanksolve.project.load import loads


def test_all_that_is_missing_is_asked_at_once(tmp_path):
    write_stl(tmp_path / "t.stl", box((900, 300, 200)))
    with pytest.raises(MeshError, match="unit nor its forward nor its up") as caught:
        draft(tmp_path / "t.stl", tmp_path / "t.toml")
    assert "900 x 300 x 200 of its units" in str(caught.value)
    assert "--unit mm --forward +x --up +z" in str(caught.value)


def test_a_wall_becomes_a_tank_with_ports(tmp_path):
    save(tmp_path / "t.stl", metal_cases.plain().metal)
    drawn = draft(tmp_path / "t.stl", tmp_path / "t.toml", "mm", "+x", "+z")
    assert [port.kind for port in drawn.ports] == [
        PortKind.FILLER,
        PortKind.PICKUP,
        PortKind.PICKUP,
    ]
    (tmp_path / "t.toml").write_text(drawn.text)
    project = loads(drawn.text, tmp_path / "t.toml")
    assert project.tank.capacity == pytest.approx(drawn.tank.capacity)
    assert [port.bore for port in project.ports] == pytest.approx([p.bore for p in drawn.ports])
    assert "opening 2 as a pickup" in drawn.assumed
    figure = understood_figure(drawn.tank, drawn.ports)
    numbers = [t.get_text() for axes in figure.axes for t in axes.texts]
    assert numbers.count("3") == 2
    assert "2,3" in numbers  # one behind the other, seen from behind


def test_step_needs_the_axes_only(tmp_path):
    pytest.importorskip("cascadio")
    write_box(tmp_path / "t.step", (900.0, 300.0, 200.0))
    with pytest.raises(MeshError, match="its forward nor its up") as caught:
        draft(tmp_path / "t.step", tmp_path / "t.toml")
    assert "its unit" not in str(caught.value)
    drawn = draft(tmp_path / "t.step", tmp_path / "t.toml", None, "+x", "+z")
    assert 'unit = "mm"' in drawn.text
    assert loads(drawn.text, tmp_path / "t.toml").tank.capacity == pytest.approx(
        drawn.tank.capacity, rel=1e-9
    )


def test_inspect_shows_a_file_before_any_option(tmp_path):
    write_stl(tmp_path / "t.stl", box((9, 3, 2)))
    report = inspect_mesh(tmp_path / "t.stl")
    assert report.missing == ("unit", "forward", "up")
    assert report.box_m == pytest.approx((0.009, 0.003, 0.002))
    assert "is the unit right?" in report.readings[0].words


def _drawn(tmp_path, corners, **more):
    """The tank as drafted, and as the tank file then reads it."""
    write_stl(tmp_path / "t.stl", corners)
    drawn = draft(tmp_path / "t.stl", tmp_path / "t.toml", "mm", "+x", "+z", **more)
    (tmp_path / "t.toml").write_text(drawn.text)
    return drawn, loads(drawn.text, tmp_path / "t.toml")


def test_an_assembly_is_read_again_from_its_tank_file(tmp_path):
    """The file left out that all bodies were taken: the second command ended in a refusal."""
    tray = cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2))
    lid = cube((400, 300, 4), (0, 0, 200)) - cube((40, 40, 20), (180, 130, 195))
    drawn, project = _drawn(tmp_path, np.concatenate([corners_of(tray), corners_of(lid)]))
    assert any("2 bodies of an assembly united" in note for note in drawn.tank.notes)
    assert project.tank.capacity == pytest.approx(drawn.tank.capacity, rel=1e-9)


def test_of_several_cavities_the_greatest_is_assumed_and_told(tmp_path):
    metal, _ = metal_cases.tank()
    small = cube((300, 200, 150), (300, 50, 2)) - cube((294, 194, 144), (303, 53, 5))
    corners = corners_of(metal_cases.necked(metal, (100, 150)) + small)
    with pytest.raises(MeshError, match="liquid or the metal"):
        _drawn(tmp_path, corners)
    drawn, project = _drawn(tmp_path, corners, meaning="metal")
    assert any("the greatest of 2 cavities, 42.05 L, 8.21 L" in words for words in drawn.assumed)
    # a box that is sealed all round is a cavity of its own, and no vessel that another width would tell
    assert not any("would hold" in words for words in (*drawn.assumed, *drawn.tank.notes))
    assert "cavity = 1  # CHECK: the greatest of 2" in drawn.text
    assert project.tank.capacity == pytest.approx(drawn.tank.capacity, rel=1e-9)


def test_the_spaces_of_a_wall_are_sought_once_for_the_report_and_the_tank(tmp_path, monkeypatch):
    metal, _ = metal_cases.tank()
    asked = []

    def counted(*given):
        asked.append(given)
        return find_cavities(*given)

    monkeypatch.setattr("tanksolve.geometry.readings.find_cavities", counted)
    _drawn(tmp_path, corners_of(metal_cases.necked(metal, (100, 150))), meaning="metal")
    assert len(asked) == 2  # the draft, and the tank file that is loaded from it


def test_the_pickup_that_is_put_in_stands_in_liquid(tmp_path):
    twin = [corners_of(cube((300, 200, 100), (0, y, 0))) for y in (0, 400)]
    drawn, project = _drawn(tmp_path, np.concatenate(twin))
    assert "all 2 bodies as one tank, 6.00 L, 6.00 L" in " ".join(drawn.assumed)
    project.tank.check_ports(project.ports)
    assert project.tank.winding(project.ports[0].position)[0] == pytest.approx(1.0)
