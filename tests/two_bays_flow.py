"""Two bays with a slot between them, as a tank file and as a mesh, for the return flow."""

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


def walled_mesh(folder):
    """The same wall in a mesh, which does not say where its openings are."""
    wall = Baffle("wall", "across", 0.4, 0.003, gaps={"bottom": 0.02, "top": 0.02})
    file = folder / "walled.stl"
    file.write_bytes(stl_bytes(build(Parts(box(0.903, 0.3, 0.4), (), (wall,)))))
    return file


MESH = ("--unit", "mm", "--forward", "+x", "--up", "+z", "--fill", "50L")


PORTS = ("--pickup", "suction=50,130,60mm,cover=10mm", "--return", "back=800,130,200mm")
