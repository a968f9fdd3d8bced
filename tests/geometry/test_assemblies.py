"""Assemblies: plates and tubes that touch, overlap or nearly meet are one tank, and it is said."""

import numpy as np
import pytest
import trimesh
from metal_cases import necked, tank
from rewritten import shuffled
from solids_by_hand import box, inverted, turned, write_stl
from walled_tank import corners_of, cube, rod, save

from tanksolve.errors import MeshError
from tanksolve.geometry import enclosed
from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.mesh_report import inspect_mesh
from tanksolve.project.from_mesh import draft

AXES = ("mm", "+x", "+z")
ROOM = 0.594 * 0.294 * 0.194


def plates(gap=0.0):
    """Six plates of 3 mm round a room of 594 x 294 x 194, which touch or leave a gap, and a baffle."""
    side = 194 - 2 * gap
    return {
        "floor": cube((600, 300, 3)),
        "roof": cube((600, 300, 3), (0, 0, 197)) - rod(20, 20, "z", (150, 150, 198)),
        "right": cube((600, 3, side), (0, 0, 3 + gap)),
        "left": cube((600, 3, side), (0, 297, 3 + gap)),
        "rear": cube((3, 294 - 2 * gap, side), (0, 3 + gap, 3 + gap)),
        "front": cube((3, 294 - 2 * gap, side), (597, 3 + gap, 3 + gap)),
        "divider": cube((3, 294 - 2 * gap, 150), (300, 3 + gap, 3 + gap)),
        "stay": rod(8, 596, "x", (300, 60, 100)),
    }


def inside(parts):
    room = cube((594, 294, 194), (3, 3, 3))
    for name in ("divider", "stay"):
        room -= parts[name]
    return room.volume() * 1e-9


@pytest.mark.parametrize("gap", [0.0, 0.3])
@pytest.mark.parametrize("kind", ["stl", "glb"])
def test_plates_that_touch_or_nearly_are_a_tank(tmp_path, gap, kind):
    parts = plates(gap)
    file = tmp_path / f"t.{kind}"
    axes = AXES
    if kind == "stl":
        write_stl(file, np.concatenate([corners_of(part) for part in parts.values()]))
    else:
        scene = trimesh.Scene()
        for name, part in parts.items():
            corners = corners_of(part)
            mesh = trimesh.Trimesh(
                corners.reshape(-1, 3) / 1000.0,
                np.arange(3 * len(corners)).reshape(-1, 3),
                process=False,
            )
            scene.add_geometry(mesh, node_name=name)
        scene.export(file)
        axes = ("m", "+x", "+z")
    tank = read_mesh(file, *axes, body="all", meaning="metal", plug="all")
    assert tank.capacity == pytest.approx(inside(parts), rel=2e-3)
    notes = "\n".join(tank.notes)
    assert "8 bodies of an assembly united" in notes
    if kind == "glb":
        assert "baffle: divider" in notes
        assert "tube: stay" in notes
        assert "roof" in next(note for note in tank.notes if note.startswith("wall"))


def test_what_floats_is_told_and_displaces(tmp_path):
    parts = {**plates(), "block": cube((50, 50, 50), (400, 100, 100))}
    write_stl(tmp_path / "t.stl", np.concatenate([corners_of(p) for p in parts.values()]))
    tank = read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")
    assert tank.capacity == pytest.approx(inside(parts) - 0.05**3, rel=2e-3)
    assert any("taken as they float: piece 9" in note for note in tank.notes)


def test_a_wider_gap_stays_open(tmp_path):
    parts = plates(4.0)
    write_stl(tmp_path / "t.stl", np.concatenate([corners_of(p) for p in parts.values()]))
    with pytest.raises(MeshError):
        read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal")


def test_a_void_is_kept_where_all_bodies_are_taken(tmp_path):
    """A displacer in the liquid, as a shell wound inwards: united as a body it was lost, 64 m³ for 63."""
    void = inverted(box((1, 1, 1), (1, 1, 1)))
    write_stl(
        tmp_path / "t.stl", np.concatenate([box((4, 4, 4)), void, box((2, 3, 3), (3.9, 0.5, 0.5))])
    )
    more = {"meaning": "liquid", "body": "all"}
    assert read_mesh(tmp_path / "t.stl", "m", "+x", "+z", **more).capacity == pytest.approx(
        63.0 + 1.9 * 9.0
    )
    write_stl(tmp_path / "t.stl", np.concatenate([box((4, 4, 4)), void]))
    assert read_mesh(tmp_path / "t.stl", "m", "+x", "+z", **more).capacity == pytest.approx(63.0)
    with pytest.raises(MeshError, match="is the mesh the liquid or the metal"):
        read_mesh(tmp_path / "t.stl", "m", "+x", "+z", body="all")
    write_stl(tmp_path / "t.stl", np.concatenate([box((4, 4, 4)), box((1, 1, 1), (1, 1, 1))]))
    with pytest.raises(MeshError, match="lies wholly inside piece 1"):
        read_mesh(tmp_path / "t.stl", "m", "+x", "+z", **more)


@pytest.mark.parametrize("against", [False, True])
def test_how_bodies_are_wound_beside_each_other_says_nothing(tmp_path, against):
    """Floats wound against the tank and each other: one became solid metal, its hollow was not told."""
    metal, _ = tank()
    floats = [
        corners_of(cube((180, 250, 120), (x, 25, 40)) - cube((176, 246, 116), (x + 2, 27, 42)))
        for x in (200, 500)
    ]
    wall = corners_of(necked(metal, (60, 150)))
    parts = [floats[1][:, ::-1], floats[0], wall[:, ::-1]] if against else [wall, *floats]
    write_stl(tmp_path / "t.stl", np.concatenate(parts))
    with pytest.raises(MeshError, match="3 separate cavities") as caught:
        read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")
    assert "1: 40.19 L" in caught.value.message
    assert caught.value.message.count("5.02 L") == 2


def test_a_hollow_float_is_not_filled(tmp_path):
    """Its hollow was taken for liquid of the tank: 2.7 L more than there is room for."""
    solid = cube((200, 150, 100), (300, 100, 120))
    shell = solid - cube((196, 146, 96), (302, 102, 122))
    metal, room = tank((900, 400, 300))
    write_stl(
        tmp_path / "t.stl",
        np.concatenate([corners_of(necked(metal, (100, 200), 300)), corners_of(shell)]),
    )
    found = read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")
    assert found.capacity == pytest.approx((room - solid).volume() * 1e-9, rel=1e-6)
    assert any("also enclosed and left out: 2.75 L" in note for note in found.notes)


def test_a_tank_in_a_cabinet_is_told(tmp_path):
    """The greatest space that some width seals is proposed; the tank that a narrower one seals is said."""
    metal, room = tank()
    cabinet = cube((1200, 600, 500), (-150, -150, -150)) - cube(
        (1194, 594, 494), (-147, -147, -147)
    )
    hatch = cube((100, 20, 100), (100, -160, -100))
    parts = [corners_of(necked(metal, (100, 150))), corners_of(cabinet - hatch)]
    write_stl(tmp_path / "t.stl", np.concatenate(parts))
    more = {"body": "all", "meaning": "metal", "plug": "all"}
    proposed = read_mesh(tmp_path / "t.stl", *AXES, **more)
    assert proposed.capacity > 0.3
    assert any("it would hold about 46" in note for note in proposed.notes)
    stated = read_mesh(tmp_path / "t.stl", *AXES, **more, seal=0.06)
    assert stated.capacity == pytest.approx(room.volume() * 1e-9, rel=1e-6)
    assert any("it would hold about 3" in note for note in stated.notes)


def in_a_cabinet(path, hatch, bore=50):
    """A tank of 57.2 L, bored, on the floor of a cabinet of 1000 x 600 x 700 mm with a square hatch."""
    room = cube((494, 394, 294), (103, 103, 4))
    vessel = cube((500, 400, 300), (100, 100, 1)) - room - rod(bore / 2, 20, "z", (300, 300, 301))
    cabinet = cube((1000, 600, 700)) - cube((994, 594, 694), (3, 3, 3))
    return save(path, cabinet - cube((hatch, 20, hatch), (470, -10, 350)) + vessel)


def test_a_tank_in_a_cabinet_is_told_where_the_grid_is_too_coarse_for_its_hatch(tmp_path):
    """Balls that go through a hatch of 60 mm are narrower than three cells: 407 L were proposed, unsaid."""
    file = in_a_cabinet(tmp_path / "t.stl", 60)
    more = {"body": "all", "meaning": "metal", "plug": "all"}
    report = inspect_mesh(file, *AXES, body="all")
    proposed = read_mesh(file, *AXES, **more, examined=report.intake)
    assert proposed.capacity > 0.3
    (told,) = [note for note in proposed.notes if "it would hold about" in note]
    width = float(told.split("ball of ")[1].split(" mm")[0])
    assert float(told.split("about ")[1].split(" L")[0]) == pytest.approx(
        57.2, rel=0.15
    )  # cells beside a wall do not count
    assert 50.0 < width < 60.0
    stated = read_mesh(file, *AXES, **more, seal=1e-3 * width)
    assert stated.capacity == pytest.approx(0.494 * 0.394 * 0.294, rel=1e-6)
    assert any(told in others for others in (reading.others for reading in report.readings))
    assumed = draft(file, tmp_path / "t.toml", *AXES).assumed
    assert any(told in words for words in assumed)


def test_mouths_far_apart_are_told_without_a_finer_grid(tmp_path, monkeypatch):
    """A bore that the coarse grid cannot see behind a hatch of 80 mm: eight times the cells tell no more."""
    laid = []

    def counted(corners, most):
        laid.append(most)
        return grid(corners, most)

    grid = enclosed._grid
    monkeypatch.setattr(enclosed, "_grid", counted)
    file = in_a_cabinet(tmp_path / "t.stl", 80, bore=20)
    more = {"body": "all", "meaning": "metal", "plug": "all"}
    (told,) = [n for n in read_mesh(file, *AXES, **more).notes if "it would hold about" in n]
    assert max(laid) < enclosed._FINE / 2
    width = float(told.split("ball of ")[1].split(" mm")[0])
    assert 20.0 < width < 80.0
    stated = read_mesh(file, *AXES, **more, seal=1e-3 * width)
    assert stated.capacity == pytest.approx(0.494 * 0.394 * 0.294, rel=1e-6)


def test_a_vessel_that_no_width_parts_from_its_cabinet_is_told(tmp_path):
    file = in_a_cabinet(tmp_path / "t.stl", 45)
    proposed = read_mesh(file, *AXES, body="all", meaning="metal", plug="all")
    assert any("a vessel of its own stands in it" in note for note in proposed.notes)


def test_bodies_that_lie_flush_and_are_wound_against_each_other_are_read(tmp_path):
    """Which of the four faces at an edge are one body's was told by their winding: they came out open."""
    tray = cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2))
    lid = cube((400, 300, 4), (0, 0, 200)) - rod(20, 20, "z", (150, 150, 200))
    write_stl(tmp_path / "t.stl", np.concatenate([corners_of(tray), corners_of(lid)[:, ::-1]]))
    found = read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")
    assert found.capacity == pytest.approx(0.396 * 0.296 * 0.198, rel=1e-4)
    with pytest.raises(MeshError, match=r"0, 150, 200\) mm") as caught:
        read_mesh(tmp_path / "t.stl", *AXES, meaning="metal", plug="all")
    assert "--body all" in str(caught.value)


def test_a_body_that_touches_itself_along_a_line_is_refused_with_the_place(tmp_path):
    """Two blocks that share an edge, joined by a third: beside a tank that they touch."""
    metal, _ = tank()
    blocks = cube((50, 50, 50), (900, 0, 0)) + cube((50, 50, 50), (950, 50, 0))
    blocks += cube((100, 100, 10), (900, 0, 50))
    write_stl(
        tmp_path / "t.stl",
        np.concatenate([corners_of(necked(metal, (100, 150))), corners_of(blocks)]),
    )
    with pytest.raises(MeshError, match=r"\(950, 50, 25\) mm"):
        read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")


def test_a_coil_is_no_baffle(tmp_path):
    """A flat coil of tube in the liquid, and a plate of the same box with a hole."""
    metal, _ = tank((900, 400, 200))
    bars = [rod(6, 300, "y", (x, 200, 60)) for x in range(200, 441, 40)]
    turns = [
        rod(6, 46, "x", (x + 20, 350 if k % 2 else 50, 60))
        for k, x in enumerate(range(200, 401, 40))
    ]
    coil = bars[0]
    for part in (*bars[1:], *turns):
        coil += part
    plate = cube((3, 394, 120), (600, 3, 3)) - rod(30, 20, "x", (600, 200, 80))
    scene = trimesh.Scene()
    for name, part in (("shell", necked(metal, (100, 200))), ("coil", coil), ("plate", plate)):
        corners = 1e-3 * corners_of(part)
        scene.add_geometry(
            trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)),
            geom_name=name,
            node_name=name,
        )
    scene.export(tmp_path / "t.glb")
    found = read_mesh(tmp_path / "t.glb", "m", "+x", "+z", body="all", meaning="metal", plug="all")
    assert "coil or frame: coil" in found.notes
    assert "baffle: plate" in found.notes


def test_bodies_are_numbered_as_the_file_has_them(tmp_path):
    """They were counted from the last to the first."""
    scene = trimesh.Scene()
    for k, size in enumerate((0.1, 0.3, 0.2)):
        corners = corners_of(cube((size, size, size), (k, 0, 0)))
        scene.add_geometry(
            trimesh.Trimesh(corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3)),
            geom_name=f"box {k}",
            node_name=f"box {k}",
        )
    scene.export(tmp_path / "t.glb")
    report = inspect_mesh(tmp_path / "t.glb", "m", "+x", "+z")
    assert any("1 'box 0'" in note and "3 'box 2'" in note for note in report.notes)
    for number, size in enumerate((0.1, 0.3, 0.2), 1):
        found = read_mesh(tmp_path / "t.glb", "m", "+x", "+z", body=number)
        assert found.capacity == pytest.approx(size**3, rel=1e-6)


def test_what_mends_a_mesh_is_told_as_it_is_typed(tmp_path):
    corners = corners_of(cube((400, 300, 200)))
    corners[3] = corners[3, ::-1]
    write_stl(tmp_path / "one turned.stl", corners)
    with pytest.raises(MeshError, match="1 face is wound against the neighbours, at") as caught:
        read_mesh(tmp_path / "one turned.stl", *AXES)
    assert '\'tanksolve repair "one turned.stl" "one turned_mended.stl"\'' in str(caught.value)


@pytest.mark.parametrize("way", ["as drawn", "shuffled", "wound the other way", "turned"])
def test_bodies_that_lie_flush_in_one_mesh_are_told_apart(tmp_path, way):
    """Edges of a lid and of the tray below it are one edge of four faces: the tray came out open."""
    baffle = cube((2, 296, 198), (200, 2, 2)) - rod(20, 10, "x", (201, 150, 100))
    parts = [
        cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2)),
        cube((400, 300, 4), (0, 0, 200)) - cube((40, 40, 20), (130, 130, 195)),
        baffle,
    ]
    corners = np.concatenate([corners_of(part) for part in parts])
    if way != "as drawn":
        corners = shuffled(corners, 3)
    if way == "wound the other way":
        corners = corners[:, ::-1]
    if way == "turned":
        corners = turned(corners, 5, 300.0)
    write_stl(tmp_path / "t.stl", corners)
    found = read_mesh(tmp_path / "t.stl", *AXES, body="all", meaning="metal", plug="all")
    room = cube((396, 296, 198), (2, 2, 2)) - baffle
    assert found.capacity == pytest.approx(room.volume() * 1e-9, rel=1e-4)  # weld in the corners
    assert any("3 bodies of an assembly united" in note for note in found.notes)
