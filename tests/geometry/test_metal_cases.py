"""Metal tanks of many kinds, in whatever order, winding, attitude and unit their faces are written."""

import numpy as np
import pytest
from campaign_metal import differs, limits
from campaign_metal import read as read_back
from metal_cases import CASES, plain, suction_tube_through_roof, two_bays_two_ports
from rewritten import rewritten
from rewritten import save as save_written
from walled_tank import cube, rod, save

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_file import read_mesh, read_mesh_and_plugs
from tanksolve.model.ports import PortKind

_ROUNDING = 1e-5  # single precision of the STL, far from its origin


def _read(path, solid, way, **more):
    written = rewritten(solid, way)
    file = save_written(path, written)
    return read_mesh_and_plugs(file, written.unit, "+x", "+z", meaning="metal", plug="all", **more)


@pytest.mark.parametrize(
    ("name", "way"),
    [(name, ("shuffled", "turned and moved")[k % 2]) for k, name in enumerate(CASES)],
)  # all ways of all: campaign_metal.py
def test_the_cavity_is_what_was_designed(tmp_path, name, way):
    case = CASES[name]()
    tank, plugs = _read(tmp_path / "t.stl", case.metal, way, body="all")
    assert tank.capacity == pytest.approx(
        case.inside.volume() * 1e-9, rel=max(case.slack, _ROUNDING)
    )
    assert len(plugs) == case.openings
    # a threaded mouth winds: its middle stood 0.2 mm in metal, and the port was refused
    tank.check_ports([plug.port(PortKind.BREATHER) for plug in plugs])


@pytest.fixture(scope="module")
def shuffled(tmp_path_factory):
    folder = tmp_path_factory.mktemp("shuffled")
    return {
        make: _read(folder / "t.stl", make().metal, "shuffled")
        for make in (suction_tube_through_roof, two_bays_two_ports)
    }


@pytest.mark.parametrize(
    "way", ["shuffled again", "wound the other way", "of smaller faces", "in inches"]
)
@pytest.mark.parametrize("make", [suction_tube_through_roof, two_bays_two_ports])
def test_how_the_faces_are_written_changes_nothing(tmp_path, make, way, shuffled):
    solid = make().metal
    first, there = shuffled[make]
    again, here = _read(tmp_path / "b.stl", solid, way)
    assert again.capacity == pytest.approx(first.capacity, rel=_ROUNDING)
    for one, other in zip(there, here, strict=True):
        assert other.bore == pytest.approx(one.bore, rel=1e-4)
        assert other.centre == pytest.approx(one.centre, abs=1e-5)
        assert other.facing == pytest.approx(one.facing, abs=1e-4)


@pytest.fixture(scope="module")
def drawn(tmp_path_factory):
    case = two_bays_two_ports()
    first = read_back(tmp_path_factory.mktemp("drawn"), case, "as drawn")
    return case, first, limits(first[2], first[1])


@pytest.mark.parametrize("way", ["turned again", "a quarter turned", "GLB", "of small faces"])
def test_ports_and_limits_are_the_same_however_the_tank_is_written(tmp_path, way, drawn):
    """A sample of campaign_metal.py: two bays, a pickup and a breather in their plugs."""
    case, first, there = drawn
    again = read_back(tmp_path, case, way)
    assert differs(case, again, first) == ""
    assert limits(again[2], again[1]) == pytest.approx(there, abs=0.02)
    assert any(3.0 < limit < 60.0 for limit in there)


@pytest.mark.parametrize(
    ("name", "ways"),
    [
        ("drum", ["as drawn", "turned and moved", "OBJ in inches"]),
        ("lid_with_a_gap", ["as drawn", "turned and moved", "of small faces"]),
    ],
)
def test_a_mouth_of_no_one_plane_is_closed_alike(tmp_path, name, ways):
    """A drum's plug stood 0.5 mm elsewhere, its capacity off by 2e-5; a gap under a lid was 528 or 526 mm wide."""
    case = CASES[name]()
    found = [read_back(tmp_path, case, way) for way in ways]
    for volume, plugs, _ in found[1:]:
        assert volume == pytest.approx(found[0][0], rel=3e-7)
        for one, other in zip(found[0][1], plugs, strict=True):
            assert other.bore == pytest.approx(one.bore, abs=1e-6)
            assert other.centre == pytest.approx(one.centre, abs=1e-6)
            assert other.facing == pytest.approx(one.facing, abs=1e-5)
            rim, again = np.reshape(one.rim, (-1, 3)), np.reshape(other.rim, (-1, 3))
            assert len(again) == len(rim)
            apart = np.linalg.norm(again - rim[:, None], axis=2)  # the sides of a gap in any order
            assert (apart < 1e-5).any(axis=1).all()


def test_a_plug_in_a_round_wall_stands_no_higher_than_its_rim(tmp_path):
    """In the middle of its cap it stood 1.1 mm higher: a breather there was told to flood later than it does."""
    _, [plug], (vertices, _) = read_back(tmp_path, CASES["drum"](), "shuffled")
    rim = vertices[np.hypot(vertices[:, 0] - 0.3, vertices[:, 1]) < 0.0251]
    rim = rim[np.hypot(rim[:, 0] - 0.3, rim[:, 1]) > 0.0249]
    assert len(rim) >= 48
    assert plug.facing == pytest.approx((0.0, 0.0, 1.0), abs=1e-5)
    assert plug.centre[2] == pytest.approx(rim[:, 2].min(), abs=1e-6)


@pytest.mark.parametrize(("beyond", "parts"), [(20, 1), (0, 1), (10, 12)])
def test_a_gap_under_a_lid_is_closed_straight_over_the_rim(tmp_path, beyond, parts):
    """Its edge lies 22 or 2 mm out of the rim of the tray, and took the band with it.

    In faces of a twelfth the walls below the lid were taken for those of a bore, and a cap crossed metal.
    """
    tray = cube((400, 300, 200)) - cube((396, 296, 220), (2, 2, 2))
    lid = cube((400 + 2 * beyond, 300 + 2 * beyond, 4), (-beyond, -beyond, 201))
    tank, [plug] = read_mesh_and_plugs(
        save(tmp_path / "t.stl", (tray + lid).refine(parts)),
        *("mm", "+x", "+z"),
        meaning="metal",
        plug="all",
        body="all",
    )
    assert plug.gap == pytest.approx(0.001, rel=1e-4)
    assert plug.centre == pytest.approx((0.2, 0.15, 0.2), abs=1e-6)
    assert plug.bore == pytest.approx(2.0 * np.hypot(np.hypot(0.198, 0.148), 0.001), rel=1e-5)
    assert tank.capacity == pytest.approx(0.396 * 0.296 * 0.199, rel=1e-5)


def test_the_mouth_of_a_tube_is_its_lower_end(tmp_path):
    _, plugs = _read(tmp_path / "t.stl", suction_tube_through_roof().metal, "shuffled")
    assert plugs[1].centre == pytest.approx((0.2, 0.15, 0.02), abs=1e-6)
    assert plugs[1].facing == pytest.approx((0, 0, 1), abs=1e-6)


def test_a_wider_opening_than_the_ball_lets_it_in(tmp_path):
    file = save(tmp_path / "t.stl", plain().metal)
    with pytest.raises(MeshError):
        read_mesh(file, "mm", "+x", "+z", meaning="metal", plug="all", seal=0.03)
    stated = read_mesh(file, "mm", "+x", "+z", meaning="metal", plug="all", seal=0.08)
    assert stated.capacity == pytest.approx(plain().inside.volume() * 1e-9, rel=1e-6)


def test_a_point_says_which_space_is_meant(tmp_path):
    wall = (
        cube((900, 300, 200))
        - cube((600, 294, 194), (3, 3, 3))
        - cube((290, 294, 194), (607, 3, 3))
    )
    file = save(tmp_path / "t.stl", wall - rod(19, 20, "x", (0, 150, 60)))
    with pytest.raises(MeshError, match="2 separate cavities"):
        read_mesh(file, "mm", "+x", "+z", meaning="metal", plug="all")
    small = read_mesh(file, "mm", "+x", "+z", meaning="metal", plug="all", inside=(0.75, 0.15, 0.1))
    assert small.capacity == pytest.approx(0.290 * 0.294 * 0.194, rel=1e-6)


def test_what_else_is_enclosed_is_told(tmp_path):
    tank, _ = _read(tmp_path / "t.stl", CASES["through_tube"]().metal, "shuffled")
    assert any("also enclosed and left out: 2.06" in note for note in tank.notes)


def test_a_plate_left_out_is_refused(tmp_path, monkeypatch):
    """What the grid tells wrongly, the count of all faces finds."""
    from tanksolve.geometry import cavity, mouths

    whole = mouths.wet_faces

    def losing(vertices, faces, *rest):
        wet = whole(vertices, faces, *rest)
        middle = vertices[faces].mean(axis=1)
        low, high = middle.min(axis=0), middle.max(axis=0)
        share = (middle - low) / (high - low)
        return wet & ~((np.abs(share - 0.5) < 0.45).all(axis=1))

    monkeypatch.setattr(cavity, "wet_faces", losing)
    with pytest.raises(MeshError):
        _read(tmp_path / "t.stl", CASES["great_cup_on_floor"]().metal, "shuffled")
