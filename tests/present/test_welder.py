"""The welder's drawing read back from PDF and DXF: sizes and places to 0.05 mm of the tank's."""

import json
import math
import re
from datetime import date
from pathlib import Path

import numpy as np
import pytest
from drawn_back import dxf, pdf_lines_of, pdf_page
from program import run

from tanksolve.present.drawn import Text, save_sheets
from tanksolve.present.mesh_lines import cut_lines, seen_lines
from tanksolve.present.welder import LiquidLine, Welded, drawing_sheet, full_size
from tanksolve.project.load import load

MESHES = Path(__file__).resolve().parents[2] / "meshes"
CLOSE = 0.05  # mm
BOX = [
    "--box",
    "900x300x300mm",
    "--fill",
    "42L",
    "--pickup",
    "suction=450,150,40mm,bore=38mm,facing=down",
]


@pytest.fixture(scope="module")
def sprayer():
    project = load(MESHES / "hillside_sprayer.toml")
    line = LiquidLine((-math.sin(0.3), 0.0, math.cos(0.3)), 0.1, (0.15, 0.15, -0.01), "worst")
    drawn = Welded(project.tank, project.ports, project.parts, None, line)
    return project, *drawing_sheet(drawn, date(2026, 1, 2))


def corners_of_views(lines, tank):
    """Where the side, the front and the plan stand: by the lines that are as long as the tank."""
    long, broad, high = 1000.0 * (tank.upper - tank.lower)
    level = [one for one in lines if abs(one[1] - one[3]) < 0.01]
    sides = [one for one in level if abs(abs(one[2] - one[0]) - long) < CLOSE]
    ends = [one for one in level if abs(abs(one[2] - one[0]) - broad) < CLOSE]
    left = min(min(one[0], one[2]) for one in sides)
    front = max(min(one[0], one[2]) for one in ends)
    top = max(one[1] for one in sides)
    bottom = min(one[1] for one in sides)
    return (left, top - high), (front, top - high), (left, bottom)


def test_the_dxf_is_the_tank_in_mm(sprayer, tmp_path):
    project, sheet, scale = sprayer
    tank, path = project.tank, tmp_path / "tank.dxf"
    save_sheets([full_size(sheet, scale)], path)
    unit, found = dxf(path)
    assert unit == 4  # millimetres
    side, front, plan = corners_of_views(found["outline"]["lines"], tank)
    low = tank.lower
    circles = found["warning"]["circles"]
    for port in project.ports:
        x, y, z = 1000.0 * (np.array(port.position) - low)
        crosses = [
            (0.5 * (one[0] + one[2]), one[1])
            for one in found["dimension"]["lines"]
            if abs(one[1] - one[3]) < 1e-9 and abs(one[2] - one[0] - 4.4 * scale) < 0.01
        ]
        for corner, place in ((side, (x, z)), (front, (y, z)), (plan, (x, y))):
            want = corner[0] + place[0], corner[1] + place[1]
            assert min(math.dist(want, one) for one in crosses) < CLOSE
        near = min(
            circles,
            key=lambda c: (
                math.dist((plan[0] + x, plan[1] + y), c[:2]) + abs(c[2] - 500 * port.bore)
            ),
        )
        assert near == pytest.approx((plan[0] + x, plan[1] + y, 500.0 * port.bore), abs=CLOSE)
    points = np.array([p for one in found["outline"]["lines"] for p in (one[:2], one[2:])])
    for y, z in ((50, 60), (117, 160), (250, 60), (150, 235)):  # holes of the baffles, 45 mm
        about = np.hypot(*(points - (front[0] + y, front[1] + z + 45.0)).T)
        ring = about[(about > 20.0) & (about < 24.0)]
        assert len(ring) > 20
        assert ring.max() == pytest.approx(22.5, abs=0.15)  # facets stand for the circle
    (line,) = [one for one in found["liquid"]["lines"] if one[0] < front[0] - 100.0]
    for x, z in (line[:2], line[2:]):
        here = np.array([(x - side[0]) / 1000.0 + low[0], 0.15, (z - side[1]) / 1000.0 + low[2]])
        assert 1000.0 * (np.dot((-math.sin(0.3), 0.0, math.cos(0.3)), here) - 0.1) == pytest.approx(
            0.0, abs=CLOSE
        )


def test_the_pdf_is_the_same_at_its_scale(sprayer, tmp_path):
    project, sheet, scale = sprayer
    tank, path = project.tank, tmp_path / "tank.pdf"
    save_sheets([sheet], path)
    size, lines, _, _, words, _ = pdf_page(path)
    assert size == pytest.approx((420.0, 297.0), abs=CLOSE)
    assert f"1 : {scale}" in words
    grown = [tuple(scale * c for c in one) for one in lines]
    outlines = [tuple(scale * c for c in one) for one in pdf_lines_of(path, 0.25)]
    side, front, plan = corners_of_views(outlines, tank)
    for port in project.ports:
        x, y, z = 1000.0 * (np.array(port.position) - tank.lower)
        crosses = [
            (0.5 * (one[0] + one[2]), one[1])
            for one in grown
            if abs(one[1] - one[3]) < 1e-6 and abs(one[2] - one[0] - 4.4 * scale) < 0.05
        ]
        for corner, place in ((side, (x, z)), (front, (y, z)), (plan, (x, y))):
            want = corner[0] + place[0], corner[1] + place[1]
            assert min(math.dist(want, one) for one in crosses) < CLOSE
    for said in (
        "900.0 mm",
        "450.0 mm",
        "150 mm left, -10 mm up",
        "hole 45 mm at 117, 160 mm",
        "No hot work",
    ):
        assert said in words


def test_lines_of_a_cube_and_a_cut_through_it():
    vertices = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
    quads = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
    faces = np.array([t for a, b, c, d in quads for t in ((a, b, c), (a, c, d))])
    assert len(seen_lines(vertices, faces, 2)) == 4  # eight edges fall on one another in pairs
    around = cut_lines(vertices, faces, 2, 0.25)
    assert np.linalg.norm(around[:, 1] - around[:, 0], axis=1).sum() == pytest.approx(4.0)
    assert around[..., 2] == pytest.approx(0.25)


def test_the_command_draws_the_zone_and_the_liquid(tmp_path):
    path = tmp_path / "tank.dxf"
    found = run("drawing", *BOX, "--require", "15deg", "-o", path)
    assert found.returncode == 0, found.stderr
    _, layers = dxf(path)
    assert len(layers["zone"]["lines"]) > 10
    assert len(layers["liquid"]["lines"]) == 2
    assert any("40.1° (84.2 % grade)" in text for text in layers["words"]["words"])
    odd = run("drawing", *BOX, "--require", "15deg", "--port", "cap", "-o", tmp_path / "b.svg")
    assert (odd.returncode, "suction" in odd.stderr) == (2, True)


def test_openings_are_counted_as_the_notes_count_them(sprayer):
    project, sheet, _ = sprayer
    told = [part.words for part in sheet.parts if isinstance(part, Text)]
    assert sum("12 openings" in note for note in project.tank.notes) == 2
    assert sum(", 12 openings:" in words for words in told) == 2
    assert sum("top gap 25 mm" in words for words in told) == 2


LEANING = """
tanksolve_file = 1
name = "leaning"
fill = "42 L"

[tank]
shape = "box"
length = "900 mm"
width = "300 mm"
height = "300 mm"
sizes = "inside"

[[baffle]]
name = "slope"
stands = "across"
at = "400 mm"
thickness = "3 mm"
lean = "10 deg"
turn = "5 deg"
hole = [{ diameter = "45 mm", at = "150, 60 mm" }]

[[port]]
name = "suction"
kind = "pickup"
at = "200, 150, 40 mm"
bore = "38 mm"
facing = "down"

[mounting]
yaw = "90 deg"
"""


def test_a_leaning_plate_is_dimensioned_at_its_far_ends(tmp_path):
    path = tmp_path / "leaning.toml"
    path.write_text(LEANING)
    project = load(path)
    drawn = Welded(project.tank, project.ports, project.parts)
    sheet, _ = drawing_sheet(drawn, date(2026, 1, 2))
    told = [part.words for part in sheet.parts if isinstance(part, Text)]
    assert any(
        "top forward by 10.0°" in words and "left end forward by 5.0°" in words for words in told
    )
    # from the mesh: the near face at the roof over the right wall, and on the floor at the left wall
    low, high = project.tank.lower, project.tank.upper
    corners = {
        "top": [v for v in project.tank.vertices if v[2] > high[2] - 1e-6 and v[1] < low[1] + 1e-6],
        "left end": [
            v for v in project.tank.vertices if v[2] < low[2] + 1e-6 and v[1] > high[1] - 1e-6
        ],
    }
    for name, found in corners.items():
        inner = [v[0] - low[0] for v in found if 0.01 < v[0] - low[0] < 0.89]
        near = f"{1000.0 * min(inner):.1f} mm"
        assert any(words.startswith(near) for words in told), (name, near)


def test_the_zone_of_a_tank_mounted_askew_is_drawn_in_its_own_axes(tmp_path):
    """Turned a quarter: what is broad in the machine's axes is long in the tank's."""
    path, drawn = tmp_path / "leaning.toml", tmp_path / "tank.dxf"
    path.write_text(re.sub(r"\[\[baffle\]\].*?(?=\[\[port)", "", LEANING, flags=re.S))
    found = run("drawing", path, "--require", "8deg", "--port", "suction", "-o", drawn)
    assert found.returncode == 0, found.stderr
    _, layers = dxf(drawn)
    tank = load(path).tank
    side, front, plan = corners_of_views(layers["outline"]["lines"], tank)
    zone = np.array(layers["zone"]["lines"])
    assert len(zone) > 10
    long, broad, _ = 1000.0 * (tank.upper - tank.lower)
    assert long == pytest.approx(900.0)
    (low_x, low_y), points = plan, zone.reshape(-1, 2)
    in_plan = points[(points[:, 1] < side[1] - 1.0) & (points[:, 0] < front[0] - 1.0)]
    assert np.ptp(in_plan[:, 0]) > broad + 50.0  # the zone is longer than the tank is broad
    assert in_plan.min(axis=0) == pytest.approx(np.clip(in_plan.min(axis=0), [low_x, low_y], None))
    most = [low_x + long + CLOSE, low_y + broad + CLOSE]
    assert (in_plan <= most).all()
    told = json.loads(
        run(
            "place", path, "--require", "8deg", "--opening", "bore=38mm,facing=down", "--json"
        ).stdout
    )
    want = told["tank_axes"]["recommended_point_m"]
    x, y, z = (1000.0 * (c - low) for c, low in zip(want, tank.lower, strict=True))
    middle = 0.5 * (zone[:, :2] + zone[:, 2:])
    for corner, place in ((side, (x, z)), (front, (y, z)), (plan, (x, y))):
        want = corner[0] + place[0], corner[1] + place[1]
        assert min(math.dist(want, one) for one in middle) < CLOSE
