"""Openings that a wall or plate goes through."""

import json
from dataclasses import replace
from pathlib import Path

import pytest
from program import run

from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.ports import pickup
from tanksolve.model.sight import is_cut, is_tube_end, opening_fault, parts_behind_walls
from tanksolve.project.load import load

MESHES = Path(__file__).parents[2] / "meshes"
TANK = box(0.9, 0.3, 0.3)


@pytest.mark.parametrize(
    ("place", "facing", "cut"),
    [
        ((0.45, 0.15, 0.05), "down", False),
        ((0.01, 0.15, 0.05), "down", True),  # reaches through the rear wall
        ((0.019, 0.15, 0.05), "down", False),  # touches it
        ((0.0, 0.15, 0.05), "forward", False),  # lies flat in it
        ((0.0, 0.15, 0.01), "forward", True),  # reaches through the floor
        ((0.45, 0.15, 0.3), "down", False),  # flat in the roof
    ],
)
def test_an_opening_is_cut_where_it_reaches_through_a_wall(place, facing, cut):
    port = pickup("p", place, bore=0.038, facing=facing)
    assert is_cut(TANK, port) is cut


def test_a_point_has_nothing_to_cut():
    assert not is_cut(TANK, pickup("p", (0.0, 0.15, 0.05)))


@pytest.mark.parametrize(
    ("x", "facing", "parts"),
    [
        (0.47, "down", 0),
        (0.49, "down", 1),
        (0.50, "down", 2),
        (0.51, "down", 1),
        (0.503, "forward", 0),
    ],
)
def test_a_plate_cuts_parts_off_an_opening(x, facing, parts):
    """The plate is from 497 to 503 mm; with the middle of the opening in the metal both sides are parts."""
    tank = load(MESHES / "two_bays.toml").tank
    found = parts_behind_walls(tank, pickup("p", (x, 0.2, 0.05), bore=0.038, facing=facing))
    assert len(found) == parts
    assert (tank.winding(found) > 0.5).all() if parts else True
    assert all((place[0] < 0.5) != (x < 0.5) or x == 0.5 for place in found)


def test_nothing_is_cut_off_beside_a_wall_or_in_a_round_one():
    for x in (0.001, 0.01, 0.02):
        assert not len(
            parts_behind_walls(TANK, pickup("p", (x, 0.15, 0.05), bore=0.038, facing="down"))
        )
    drum = cylinder(0.45, 1.2)
    side = pickup("p", (0.6, 0.45, 0.225), bore=0.038, facing="right")
    assert not len(parts_behind_walls(drum, side))


@pytest.mark.parametrize(("x", "by"), [(0.01, 0.009), (0.005, 0.014), (0.889, 0.008)])
def test_how_far_a_cut_opening_must_move_is_told(x, by):
    port = pickup("p", (x, 0.15, 0.05), bore=0.038, facing="down")
    fault = opening_fault(TANK, port)
    assert f"by at least {1e3 * by:.1f} mm" in fault
    inwards = x + by if x < 0.45 else x - by
    assert opening_fault(TANK, replace(port, position=(inwards, 0.15, 0.05))) is None


@pytest.mark.parametrize(
    ("place", "facing", "outside"),
    [
        ((0.0, 0.15, 0.05), "down", True),  # its middle on the rear wall: half of it is behind
        ((0.0, 0.15, 0.05), "forward", False),  # flat in the rear wall
        ((0.45, 0.15, 0.3), "down", False),  # flat in the roof
        ((0.45, 0.15, 0.3), "forward", True),  # half of it above the roof
        ((0.45, 0.15, 0.1), "down", False),
    ],
)
def test_an_opening_partly_outside_is_told(place, facing, outside):
    fault = opening_fault(TANK, pickup("p", place, bore=0.038, facing=facing))
    assert (fault is not None and "outside the tank" in fault) is outside
    assert outside or fault is None


def test_a_flat_mouth_in_a_round_wall_is_in_the_tank():
    drum = cylinder(0.45, 1.2)
    side = pickup("p", (0.6, 0.45, 0.225), bore=0.038, facing="right")
    assert opening_fault(drum, side) is None


def test_scripts_are_told_of_openings_too():
    box_ = ("--box", "900x300x300mm", "--fill", "42L")
    out = ("--pickup", "suction=0,150,50mm,bore=38mm,facing=down")
    for command in (
        ("envelope", "--every", "90deg"),
        ("level",),
        ("marks", "--require", "1deg"),
        ("check",),
    ):
        for code in (0, 3):
            done = run(*command, *box_, *out, "--json")
            if done.returncode == code:
                cautions = json.loads(done.stdout)["cautions"]
                fault = "port suction: part of its opening is outside the tank"
                assert any(fault in words for words in cautions), command


def test_a_tube_is_told_from_a_mouth_in_a_wall():
    case = load(MESHES / "hillside_sprayer.toml")
    ends = {port.name: is_tube_end(case.tank, port) for port in case.ports}
    assert ends == {"sump pickup": True, "middle pickup": True, "breather": False}
    assert not is_tube_end(TANK, pickup("p", (0.0, 0.15, 0.15), bore=0.038, facing="forward"))
    assert not is_tube_end(TANK, pickup("p", (0.45, 0.15, 0.15), bore=0.038, facing="down"))
