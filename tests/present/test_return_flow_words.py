"""What the screen says, as a user runs it. The return flow from the command line: orifice and equalising fi."""

import pytest
from program import run

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.mesh_out import stl_bytes
from tanksolve.geometry.parts import box

TANK = """
tanksolve_file = 1
name = "two bays"
fill = "{fill}"
[tank]
shape = "box"
length = "{length} mm"
width = "{width} mm"
height = "400 mm"
[[baffle]]
name = "wall"
stands = "across"
at = "{at} mm"
thickness = "3 mm"
top_gap = "20 mm"
slot = [{{ width = "100 mm", height = "20 mm", at = "130, 20 mm" }}]
[[port]]
name = "suction"
kind = "pickup"
at = "50, 130, 60 mm"
cover = "10 mm"
flow = "60 L/min"
[[port]]
name = "back"
kind = "return"
at = "{back}, 130, 200 mm"
"""


def tank_file(folder, fill="50 L", length=903.0, width=300.0, at=400.0):
    file = folder / "two.toml"
    file.write_text(TANK.format(fill=fill, length=length, width=width, at=at, back=length - 100.0))
    return file


def test_what_an_opening_cannot_carry_is_told(tmp_path):
    file = tank_file(tmp_path)
    done = run("level", file, "--flow", "3000L/min")
    assert "NO steady state at 3000.0 L/min: " in done.stdout
    done = run("envelope", file, "--flow", "3000L/min", "--every", "90deg", "--full")
    assert done.returncode == 3
    told = " ".join(done.stdout.split())
    assert "the openings cannot carry it on level ground with the least fill" in told
    assert done.stdout.startswith("No: not kept on level ground: suction is short by")


@pytest.fixture(scope="module")
def mesh(tmp_path_factory):
    wall = Baffle("wall", "across", 0.4, 0.003, gaps={"bottom": 0.02, "top": 0.02})
    file = tmp_path_factory.mktemp("mesh") / "walled.stl"
    file.write_bytes(stl_bytes(build(Parts(box(0.903, 0.3, 0.4), (), (wall,)))))
    return file


MESH = ("--unit", "mm", "--forward", "+x", "--up", "+z", "--fill", "50L")


PORTS = ("--pickup", "suction=50,130,60mm,cover=10mm", "--return", "back=800,130,200mm")


def test_flows_that_cannot_be_read_are_refused(tmp_path):
    file = tank_file(tmp_path)
    for option, told in (
        (("--flow", "other=60L/min"), "'other=60L/min' names no pickup"),
        (("--opening-area", "20cm2"), "the openings of this tank are known from its plates"),
        (("--flow", "60L/min", "--flow", "50L/min"), "is given twice"),
        (("--pickup", "second=100,100,60mm", "--flow", "60L/min"), "names no pickup"),
    ):
        done = run("envelope", file, *option)
        assert done.returncode == 2, option
        assert told in done.stderr
    done = run("level", "--box", "900x300x300mm", "--fill", "42L", "--opening-area", "20cm2")
    assert "no flow through it" in done.stderr
    box_words = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", "s=20,150,30mm")
    done = run("envelope", *box_words, "--flow", "60L/min")
    assert "no return is given" in done.stderr


def test_where_openings_are_only_stated_the_table_claims_no_bound(mesh):
    words = (mesh, *MESH, *PORTS, "--flow", "60L/min", "--opening-area", "20cm2")
    told = " ".join(run("envelope", *words, "--every", "90deg", "--full").stdout.split())
    assert "no bound unless the openings stated stay under liquid" in told
    assert "no gap between" not in told
    rest = run("envelope", mesh, *MESH, *PORTS, "--every", "90deg", "--full").stdout
    rest = " ".join(rest.split())
    assert "bound, no gap between attitudes" in rest
    assert "limits are for the pump at rest" in rest, "a mesh's plate is seen too"
