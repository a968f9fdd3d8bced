import re

import pytest
import walled_tank
from manifold3d import Manifold
from metal_cases import tank

from tanksolve.errors import FileFormatError, PortError
from tanksolve.model.ports import PortKind
from tanksolve.project.load import loads

HEAD = """\
tanksolve_file = 1
fill = "20 L"
[tank]
shape = "mesh"
file = "wall.stl"
unit = "mm"
forward = "+x"
up = "+z"
meaning = "metal"
plug = ["neck", "front hose", "rear hose"]
"""
PORTS = """
[[port]]
name = "filler"
kind = "filler"
plug = "neck"

[[port]]
name = "suction"
kind = "pickup"
plug = "rear hose"
cover = "20 mm"
"""


@pytest.fixture
def source(tmp_path):
    walled_tank.save(tmp_path / "wall.stl", walled_tank.walled())
    return tmp_path / "tank.toml"


def test_a_plugged_hole_becomes_a_port(source):
    project = loads(HEAD + PORTS, source)
    assert project.tank.capacity == pytest.approx(walled_tank.INSIDE, rel=0.01)
    filler, suction = project.ports
    assert filler.kind is PortKind.FILLER
    assert filler.bore == pytest.approx(0.054, rel=5e-3)
    assert filler.position[:2] == pytest.approx((0.6, 0.15), abs=1e-3)
    assert abs(filler.facing[2]) == pytest.approx(1.0)
    assert suction.bore == pytest.approx(0.038, rel=5e-3)
    assert suction.position[1:] == pytest.approx((0.15, 0.06), abs=1e-3)
    assert suction.cover == 0.02


def test_plugs_move_with_the_corner(source):
    lower = loads(HEAD + PORTS, source).tank.lower
    moved = loads(HEAD + 'measured_from = "corner"\n' + PORTS, source)
    assert moved.tank.lower == pytest.approx([0, 0, 0], abs=1e-12)
    filler = moved.ports[0]
    assert filler.position[:2] == pytest.approx((0.6 - lower[0], 0.15 - lower[1]), abs=1e-3)
    assert moved.tank.from_walls(filler.position) == pytest.approx(filler.position)


@pytest.mark.parametrize(
    ("old", "new", "error", "words"),
    [
        (
            'plug = "neck"',
            'plug = "nek"',
            PortError,
            r"line 12, port\.1.*no plug 'nek'.*neck, front hose, rear hose",
        ),
        ('plug = "neck"', "", FileFormatError, r"line 12, port\.1.*'at' is missing"),
        ('plug = "neck"', 'plug = "neck"\nat = "1, 2, 3 mm"', FileFormatError, "both given"),
    ],
)
def test_a_port_has_one_place(source, old, new, error, words):
    with pytest.raises(error) as caught:
        loads(HEAD + PORTS.replace(old, new, 1), source)
    assert re.search(words, caught.value.message.replace("\n", " "))


HATCH = """
[[port]]
name = "suction"
kind = "pickup"
plug = "opening 1"
"""


def sided(path, sides, turned=22.5):
    """A box of plate with a hole of a few sides, 400 mm across its corners, through its roof."""
    hole = Manifold.cylinder(40.0, 200.0, 200.0, sides).rotate((0, 0, turned))
    metal = tank((900, 600, 300))[0]
    walled_tank.save(path, metal - hole.translate((450, 300, 280)))
    return path


@pytest.mark.parametrize("sides", [4, 8, 12])
def test_a_hole_of_few_sides_asks_for_the_circle_round_it(tmp_path, sides):
    """Of eight sides the circle of the same area is 379.5 mm across, of a hole that is 400: a pickup there asks
    for twice that."""
    sided(tmp_path / "wall.stl", sides)
    head = HEAD.replace('plug = ["neck", "front hose", "rear hose"]', 'plug = "all"')
    (port,) = loads(head + HATCH, tmp_path / "tank.toml").ports
    assert len(port.rim) == sides
    assert port.bore == pytest.approx(0.4, rel=1e-6)
    assert port.required_cover == pytest.approx(0.8, rel=1e-6)


@pytest.mark.parametrize("more", ['facing = "forward"', 'facing = "left"'])
def test_an_opening_that_faces_along_its_own_plane_is_refused(tmp_path, more):
    sided(tmp_path / "wall.stl", 4)
    head = HEAD.replace('plug = ["neck", "front hose", "rear hose"]', 'plug = "all"')
    with pytest.raises(PortError, match=r"line 12, port\.1[\s\S]*in the plane of the opening"):
        loads(head + HATCH + more, tmp_path / "tank.toml")
    (port,) = loads(head + HATCH + more + '\nbore = "50 mm"', tmp_path / "tank.toml").ports
    assert port.rim == ()


def test_a_plug_needs_a_mesh():
    shell = '[tank]\nshape = "box"\nlength = "9 m"\nwidth = "1 m"\nheight = "1 m"\n'
    with pytest.raises(PortError, match="nothing is plugged"):
        loads("tanksolve_file = 1\n" + shell + PORTS)
