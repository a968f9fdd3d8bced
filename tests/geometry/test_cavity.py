"""Metal walls with open ports: plugged, told, and never taken for liquid without asking."""

from dataclasses import replace

import numpy as np
import pytest
from manifold3d import Manifold
from solids_by_hand import turned, write_stl
from walled_tank import BORE_SHARE, INSIDE, corners_of, cube, rod, save, walled

from tanksolve.errors import MeshError
from tanksolve.geometry.caps import Closed
from tanksolve.geometry.cavity import _account
from tanksolve.geometry.gaps import Wall
from tanksolve.geometry.mesh_file import read_mesh, read_mesh_and_plugs
from tanksolve.kernel.attitude.support import support_low
from tanksolve.model.ports import PortKind
from tanksolve.questions.envelope.envelope import envelope

AXES = ("mm", "+x", "+z")


@pytest.fixture
def file(tmp_path):
    return save(tmp_path / "wall.stl", walled())


def test_a_wall_is_not_taken_for_liquid_without_asking(file):
    with pytest.raises(MeshError, match="thin like a wall and encloses a space behind 3 open") as e:
        read_mesh(file, *AXES)
    assert "as metal 50.99 L" in e.value.message


def test_the_plugs_are_told_before_they_are_put_in(file):
    with pytest.raises(MeshError) as caught:
        read_mesh(file, *AXES, meaning="metal")
    for words in (
        "3 open ports to plug",
        "opening 1: bore 53.9 mm at (600.0 mm, 150.0 mm, 197.0 mm), facing up",
        "bore 37.9 mm at (3.0 mm, 150.0 mm, 60.0 mm), facing rearward",
        "bore 37.9 mm at (897.0 mm, 150.0 mm, 60.0 mm), facing forward",
        "50.99 L",
    ):
        assert words in caught.value.message


def test_plugged_it_holds_what_is_inside(file):
    tank = read_mesh(file, *AXES, plug="all")
    assert tank.capacity == pytest.approx(INSIDE, rel=1e-6)
    assert tank.lower == pytest.approx([0.003] * 3)
    assert tank.upper == pytest.approx([0.897, 0.297, 0.197])
    assert sum("plugged" in note for note in tank.notes) == 3


def test_named_plugs_become_ports(file):
    _, plugs = read_mesh_and_plugs(
        file, *AXES, meaning="metal", plug=["filler", "suction", "spare"]
    )
    assert [plug.name for plug in plugs] == ["filler", "suction", "spare"]
    port = plugs[0].port(PortKind.FILLER)
    assert port.bore == pytest.approx(0.054 * BORE_SHARE, rel=1e-5)
    assert port.position == pytest.approx((0.6, 0.15, 0.197), abs=1e-6)
    assert port.facing == pytest.approx((0, 0, 1), abs=1e-6)
    assert port.rim == ()


@pytest.mark.parametrize("names", [["one"], ["a", "b", "c", "d"]])
def test_too_few_or_too_many_names(file, names):
    with pytest.raises(MeshError, match="given"):
        read_mesh(file, *AXES, plug=names)


def test_as_liquid_the_metal_is_what_it_says(file):
    tank = read_mesh(file, *AXES, meaning="liquid")
    assert tank.capacity == pytest.approx(walled().volume() * 1e-9, rel=1e-6)


def test_axes_turn_the_plugs_too(file):
    _, plugs = read_mesh_and_plugs(file, "mm", "+y", "+z", plug="all")
    # forward is the mesh's y, left its -x
    assert plugs[0].centre == pytest.approx((0.15, -0.6, 0.197), abs=1e-6)
    assert "facing left" in plugs[1].words + plugs[2].words


def test_holes_in_baffles_are_no_ports(tmp_path):
    baffle = cube((3, 296, 196), (450, 2, 2)) - rod(30, 20, "x", (450, 150, 100))
    baffle -= cube((10, 40, 20), (447, 50, 2.5))  # a notch at the floor, reaching into the plate
    tank = read_mesh(save(tmp_path / "t.stl", walled() + baffle), *AXES, plug="all")
    # what the baffle takes away, by a boolean of its own
    inside = cube((894, 294, 194), (3, 3, 3)) - baffle
    assert tank.capacity == pytest.approx(inside.volume() * 1e-9, rel=1e-4)
    assert sum("plugged" in note for note in tank.notes) == 3


def test_a_sealed_baffle_makes_two_tanks(tmp_path):
    file = save(tmp_path / "t.stl", walled() + cube((3, 296, 196), (450, 2, 2)))
    with pytest.raises(MeshError, match="2 separate cavities"):
        read_mesh(file, *AXES, meaning="metal")
    front = read_mesh(file, *AXES, meaning="metal", cavity=2, plug="all")
    rear = read_mesh(file, *AXES, meaning="metal", cavity=1, plug="all")
    assert front.capacity + rear.capacity == pytest.approx(INSIDE - 0.003 * 0.294 * 0.194, rel=1e-6)


def test_an_open_top_is_one_great_port(tmp_path):
    tray = cube((900, 300, 200)) - cube((894, 294, 300), (3, 3, 3))
    tank, plugs = read_mesh_and_plugs(save(tmp_path / "t.stl", tray), *AXES, plug="all")
    assert tank.capacity == pytest.approx(0.894 * 0.294 * 0.197, rel=1e-6)
    assert plugs[0].bore == pytest.approx(np.hypot(0.894, 0.294), rel=1e-6)  # the circle round it
    assert "not round, 941.1 mm across" in plugs[0].words


@pytest.mark.parametrize("lid", [False, True])
def test_what_an_open_top_lets_out_is_told_when_it_spills(tmp_path, lid):
    """As a disc of the same area in its middle it gave 18.8 degrees for 12.4, and a gap under a lid 44.6.

    As the circle round it 11.8 degrees on every heading, for 33.8 on two of them.
    """
    metal = [corners_of(cube((900, 300, 200)) - cube((894, 294, 300), (3, 3, 3)))]
    if lid:
        metal.append(corners_of(cube((920, 320, 4), (-10, -10, 202))))
    write_stl(tmp_path / "t.stl", np.concatenate(metal))
    tank, plugs = read_mesh_and_plugs(tmp_path / "t.stl", *AXES, plug="all", body="all")
    assert ("a gap" in plugs[0].words) is lid
    port = replace(plugs[0].port(PortKind.BREATHER), cover=0.0)
    fill = 0.5 * 0.894 * 0.294 * 0.197
    found = envelope(tank, [port], fill, every_deg=90.0, tolerance_deg=0.05)
    spills = np.degrees(
        np.arctan(0.0985 / np.array([0.447, 0.147]))
    )  # half full, to the rim at the low end
    told = [limit.slope_deg for limit in found.limits]
    assert (told <= np.tile(spills, 2) + 1e-3).all()
    assert told == pytest.approx(np.tile(spills, 2), abs=0.1)


def test_a_hatch_floods_where_its_lowest_corner_does(tmp_path):
    """In the roof, 400 x 100 mm; 80 % full: the air is a wedge at the high end."""
    wall = cube((900, 300, 200)) - cube((894, 294, 194), (3, 3, 3))
    file = save(tmp_path / "t.stl", wall - cube((400, 100, 20), (250, 100, 190)))
    tank, plugs = read_mesh_and_plugs(file, *AXES, plug="all")
    port = plugs[0].port(PortKind.BREATHER)
    assert len(port.rim) == 4
    found = envelope(tank, [port], 0.8 * tank.capacity, every_deg=90.0, tolerance_deg=0.05)
    floods = [
        0.2 * side * 194.0 * 2.0 / wedge**2 for side, wedge in ((894.0, 647.0), (294.0, 197.0))
    ]
    told = [limit.slope_deg for limit in found.limits]
    assert told == pytest.approx(np.tile(np.degrees(np.arctan(floods)), 2), abs=0.01)


def test_a_coarse_round_hole_reaches_down_to_its_corners(tmp_path):
    """Eight sides: the circle of the same area ends 5 mm of 100 above the corners."""
    wall = cube((900, 300, 200)) - cube((894, 294, 194), (3, 3, 3))
    octagon = Manifold.cylinder(20, 100, 100, 8).rotate((0, 0, 22.5)).translate((450, 150, 190))
    _, plugs = read_mesh_and_plugs(save(tmp_path / "t.stl", wall - octagon), *AXES, plug="all")
    up = np.array([[0.8 * np.cos(np.pi / 8), 0.8 * np.sin(np.pi / 8), 0.6]])  # over a corner
    low = support_low(plugs[0].port(PortKind.BREATHER).discs, up)
    assert low == pytest.approx(up @ (0.45, 0.15, 0.197) - 0.8 * 0.1, abs=1e-6)
    assert plugs[0].bore == pytest.approx(0.1898, abs=1e-4)


def test_free_metal_inside_displaces(tmp_path):
    block = cube((100, 100, 50), (100, 100, 100))
    tank = read_mesh(save(tmp_path / "t.stl", walled() + block), *AXES, plug="all", body="all")
    assert tank.capacity == pytest.approx(INSIDE - 0.0005, rel=1e-6)


@pytest.mark.parametrize("seed", range(4))
def test_attitude_of_the_drawing_does_not_matter(tmp_path, seed):
    write_stl(tmp_path / "t.stl", turned(corners_of(walled()), seed, 300.0))
    tank, plugs = read_mesh_and_plugs(tmp_path / "t.stl", *AXES, plug="all")
    assert tank.capacity == pytest.approx(INSIDE, rel=1e-5)
    assert len(plugs) == 3


@pytest.mark.parametrize("seed", range(3))
def test_order_of_the_faces_does_not_matter(tmp_path, seed):
    corners = np.random.default_rng(seed).permutation(corners_of(walled()))
    write_stl(tmp_path / "t.stl", corners)
    _, plugs = read_mesh_and_plugs(tmp_path / "t.stl", *AXES, plug="all")
    facings = sorted(tuple(np.round(plug.facing).tolist()) for plug in plugs)
    assert facings == [(-1.0, 0.0, 0.0), (0.0, 0.0, 1.0), (1.0, 0.0, 0.0)]


def test_a_port_in_a_round_wall(tmp_path):
    """Its rim is bent: the plug is nearly flat, its volume within that of the bend."""
    shell = rod(150, 800, "x", (0, 0, 0)) - rod(147, 794, "x", (0, 0, 0))
    file = save(tmp_path / "t.stl", shell - rod(25, 100, "z", (0, 0, 150)))
    tank, plugs = read_mesh_and_plugs(file, *AXES, plug="all")
    full = rod(147, 794, "x", (0, 0, 0)).volume() * 1e-9
    bend = np.pi * 0.025**2 * (0.147 - np.sqrt(0.147**2 - 0.025**2))
    assert abs(tank.capacity - full) < bend
    assert plugs[0].facing == pytest.approx((0, 0, 1), abs=1e-3)


def test_nothing_to_plug(tmp_path):
    file = save(tmp_path / "t.stl", cube((900, 300, 200)))
    with pytest.raises(MeshError, match="encloses no cavity"):
        read_mesh(file, *AXES, meaning="metal")


@pytest.mark.parametrize("order", range(6))
def test_a_plate_that_would_be_lost_is_refused(order):
    """A rib on the floor of a cavity, left out of what is wetted: the liquid goes round it on all sides."""
    rib = Manifold.cube((1.0, 5.0, 4.0)).translate((4.0, 2.0, 0.5))
    cavity = Manifold.cube((7.0, 7.0, 7.0)).translate((1.0, 1.0, 1.0)) - rib
    mesh = (Manifold.cube((9.0, 9.0, 9.0)) - cavity).to_mesh64()
    vertices = np.array(mesh.vert_properties[:, :3])
    faces = np.random.default_rng(order).permutation(np.array(mesh.tri_verts).astype(np.int64))
    middle = vertices[faces].mean(axis=1)
    inner = ((middle > 0.5) & (middle < 8.5)).all(axis=1)
    on_rib = ((middle > 1.01) & (middle < 7.99)).all(axis=1)
    wall = Wall(vertices, faces, inner, np.zeros(len(faces), np.int64))
    uncapped = Closed([], [], vertices)
    _account(wall, uncapped, "t")
    with pytest.raises(MeshError, match="would be lost"):
        _account(wall._replace(wet=inner & ~on_rib), uncapped, "t")


def test_a_lid_with_an_inner_lip_and_a_gap(tmp_path):
    """The shortest loop on the lid lies behind its lip, and a cap from there crosses it: it was refused."""
    tray = cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2))
    lip = cube((392, 292, 21), (4, 4, 182)) - cube((388, 288, 30), (6, 6, 180))
    lid = cube((420, 320, 4), (-10, -10, 202)) + lip - rod(20, 20, "z", (200, 150, 203))
    write_stl(tmp_path / "t.stl", np.concatenate([corners_of(tray), corners_of(lid)]))
    tank, plugs = read_mesh_and_plugs(
        tmp_path / "t.stl", *AXES, meaning="metal", plug="all", body="all"
    )
    room = cube((396, 296, 200), (2, 2, 2)) - lip
    assert tank.capacity == pytest.approx(room.volume() * 1e-9, rel=1e-5)
    assert "a gap 2.0 mm wide all round" in plugs[0].words
    port = replace(plugs[0].port(PortKind.BREATHER), cover=0.0)
    found = envelope(tank, [port], 0.0117, every_deg=90.0, tolerance_deg=0.1)
    half = 0.0117 / (0.396 * 0.296)  # its depth, of 198 mm up to the tray's rim
    spills = np.degrees(np.arctan((0.198 - half) / np.array([0.198, 0.148])))
    told = [limit.slope_deg for limit in found.limits]
    assert (told <= np.tile(spills, 2) + 0.05).all()
    assert told == pytest.approx(np.tile(spills, 2), abs=0.5)  # the lip displaces a little


@pytest.mark.parametrize("door", [False, True])
def test_a_nearly_cubic_room_with_a_wide_opening(tmp_path, door):
    """Balls wider than the opening rest on a few hundredths of its walls: no face was told, it was refused."""
    metal = cube((600, 500, 700)) - cube((594, 494, 694), (3, 3, 3))
    metal -= cube((400, 20, 500), (100, -10, 100))
    if door:
        metal += cube((400, 3, 500), (0, -1.5, 0)).rotate((0, 0, -90)).translate((100, 0.5, 100))
    tank, plugs = read_mesh_and_plugs(
        save(tmp_path / "t.stl", metal), *AXES, meaning="metal", plug="all"
    )
    inside, hole = 0.594 * 0.494 * 0.694, 0.4 * 0.5 * 0.003
    assert inside * (1.0 - 1e-6) < tank.capacity < inside + hole
    assert len(plugs) == 1
    assert len(plugs[0].rim) >= 4
