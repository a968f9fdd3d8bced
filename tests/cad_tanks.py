"""Metal tanks drawn with a CAD kernel (``cadquery-ocp-novtk``, the extra ``cad``), made up for tanksolve [mm].

Each is the metal, the space in it as designed, with exact faces, and how many openings lead out. Volumes
are the kernel's own.
"""

import contextlib
import os
from pathlib import Path
from typing import Any, NamedTuple

import numpy as np
from OCP.BRep import BRep_Tool
from OCP.BRepAlgoAPI import BRepAlgoAPI_Cut, BRepAlgoAPI_Fuse
from OCP.BRepFilletAPI import BRepFilletAPI_MakeChamfer, BRepFilletAPI_MakeFillet
from OCP.BRepGProp import BRepGProp
from OCP.BRepMesh import BRepMesh_IncrementalMesh
from OCP.BRepPrimAPI import BRepPrimAPI_MakeBox, BRepPrimAPI_MakeCone, BRepPrimAPI_MakeCylinder
from OCP.gp import gp_Ax2, gp_Dir, gp_Pnt
from OCP.GProp import GProp_GProps
from OCP.Interface import Interface_Static
from OCP.STEPControl import STEPControl_Reader, STEPControl_StepModelType, STEPControl_Writer
from OCP.TopAbs import TopAbs_Orientation, TopAbs_ShapeEnum
from OCP.TopExp import TopExp_Explorer
from OCP.TopLoc import TopLoc_Location
from OCP.TopoDS import TopoDS

__all__ = ["TANKS", "CadTank", "corners_of_step", "volume", "write_step"]

Shape = Any
_AXES = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}


class CadTank(NamedTuple):
    metal: list[Shape]  # bodies
    inside: Shape
    openings: int
    slack: float = 0.0  # share of the volume that the shape of a mouth leaves open


def cube(size, at=(0, 0, 0)):
    return BRepPrimAPI_MakeBox(gp_Pnt(*map(float, at)), *map(float, size)).Shape()


def rod(radius, length, axis, middle):
    start = [m - 0.5 * length * d for m, d in zip(middle, _AXES[axis], strict=True)]
    frame = gp_Ax2(gp_Pnt(*start), gp_Dir(*map(float, _AXES[axis])))
    return BRepPrimAPI_MakeCylinder(frame, float(radius), float(length)).Shape()


def cone(low, high, height, at):
    frame = gp_Ax2(gp_Pnt(*map(float, at)), gp_Dir(0, 0, 1))
    return BRepPrimAPI_MakeCone(frame, float(low), float(high), float(height)).Shape()


def cut(shape, *tools):
    for tool in tools:
        shape = BRepAlgoAPI_Cut(shape, tool).Shape()
    return shape


def fuse(shape, *others):
    for other in others:
        shape = BRepAlgoAPI_Fuse(shape, other).Shape()
    return shape


def _every_edge(maker, shape, size):
    made, done = maker(shape), []
    walk = TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_EDGE)
    while walk.More():
        edge = walk.Current()
        if not any(edge.IsSame(other) for other in done):  # each is met from both of its faces
            made.Add(float(size), TopoDS.Edge(edge))
            done.append(edge)
        walk.Next()
    return made.Shape()


def rounded(shape, radius):
    return _every_edge(BRepFilletAPI_MakeFillet, shape, radius)


def bevelled(shape, depth):
    return _every_edge(BRepFilletAPI_MakeChamfer, shape, depth)


def volume(shape):
    found = GProp_GProps()
    BRepGProp.VolumeProperties_s(shape, found)
    return found.Mass()


def write_step(path, shapes, unit="MM"):
    """Write bodies [mm] as one STEP file in ``unit`` (MM, INCH); what the kernel says meanwhile is kept from the
    screen.
    """
    writer = STEPControl_Writer()  # which sets the unit back
    Interface_Static.SetCVal_s("write.step.unit", unit)
    with Path(os.devnull).open("w") as nowhere, _screen_to(nowhere.fileno()):
        for shape in shapes:
            writer.Transfer(shape, STEPControl_StepModelType.STEPControl_AsIs)
        writer.Write(str(path))


def corners_of_step(path, chord):
    """Faces (F, 3, 3) [mm] of a STEP file as the kernel reads it and cuts it up, within ``chord`` [mm]."""
    reader = STEPControl_Reader()
    with Path(os.devnull).open("w") as nowhere, _screen_to(nowhere.fileno()):
        reader.ReadFile(str(path))
        reader.TransferRoots()
    shape = reader.OneShape()
    BRepMesh_IncrementalMesh(shape, float(chord), False, 0.5)
    corners, walk = [], TopExp_Explorer(shape, TopAbs_ShapeEnum.TopAbs_FACE)
    while walk.More():
        face, place = TopoDS.Face(walk.Current()), TopLoc_Location()
        cut, turn = BRep_Tool.Triangulation_s(face, place), place.Transformation()
        nodes = [cut.Node(k + 1).Transformed(turn) for k in range(cut.NbNodes())]
        at = np.array([(p.X(), p.Y(), p.Z()) for p in nodes])
        index = np.array([cut.Triangle(k + 1).Get() for k in range(cut.NbTriangles())]) - 1
        if face.Orientation() == TopAbs_Orientation.TopAbs_REVERSED:
            index = index[:, ::-1]
        corners.append(at[index])
        walk.Next()
    return np.concatenate(corners)


@contextlib.contextmanager
def _screen_to(place):
    kept = os.dup(1)
    try:
        os.dup2(place, 1)
        yield
    finally:
        os.dup2(kept, 1)
        os.close(kept)


# -- the tanks, each by its wall [mm]


def walls(wall, size=(800, 300, 250)):
    room = cube([s - 2 * wall for s in size], (wall,) * 3)
    return cut(cube(size), room), room


def neck(metal, wall, at=(600, 150), top=250, bore=27, height=40):
    """A filler neck through the roof, flush with its inner face."""
    low = top - wall / 2
    metal = fuse(metal, rod(bore + 3, height + wall / 2, "z", (*at, low + (height + wall / 2) / 2)))
    return cut(metal, rod(bore, height + 60, "z", (*at, top + height / 2)))


def plain(wall):
    metal, room = walls(wall)
    metal = neck(metal, wall)
    return CadTank([cut(metal, rod(19, 20, "x", (0, 150, 60)))], room, 2)


def rolled_corners(wall):
    outer = rounded(cube((800, 300, 250)), 30)
    room = rounded(cube((800 - 2 * wall, 300 - 2 * wall, 250 - 2 * wall), (wall,) * 3), 30 - wall)
    return CadTank([neck(cut(outer, room), wall)], room, 1)


def bevelled_edges(wall):
    outer = bevelled(cube((800, 300, 250)), 20)
    room = bevelled(
        cube((800 - 2 * wall, 300 - 2 * wall, 250 - 2 * wall), (wall,) * 3), 20 - wall / 2
    )
    return CadTank([neck(cut(outer, room), wall)], room, 1)


def cup_on_the_floor(wall):
    metal, room = walls(wall)
    block = cube((140, 90, 80), (300, 100, wall / 2))
    cup = cut(block, cube((140 - 2 * wall, 90 - 2 * wall, 90), (300 + wall, 100 + wall, 2 * wall)))
    return CadTank([neck(fuse(metal, cup), wall)], cut(room, cup), 1)


def baffles_with_clipped_corners(wall):
    metal, room = walls(wall)
    plates = []
    for x in (260, 520):
        plate = cut(
            cube((wall, 300 - wall, 250 - wall), (x, wall / 2, wall / 2)),
            rod(30, 40, "x", (x, 150, 120)),
        )
        for y in (0, 280 - wall):
            for z in (0, 230 - wall):
                plate = cut(plate, cube((20, 20 + wall, 20 + wall), (x - 5, y, z)))
        plates.append(plate)
    return CadTank([neck(fuse(metal, *plates), wall, (400, 150))], cut(room, *plates), 1)


def suction_tube(wall):
    metal, room = walls(wall)
    solid = rod(14, 260, "z", (200, 150, 160))
    metal = cut(neck(metal, wall), rod(13, 40, "z", (200, 150, 250)))
    metal = fuse(metal, cut(solid, rod(12, 300, "z", (200, 150, 160))))
    return CadTank([metal], cut(room, solid), 2)


def lying_drum(wall):
    room = rod(180 - wall, 700 - 2 * wall, "x", (350, 0, 0))
    metal = cut(rod(180, 700, "x", (350, 0, 0)), room)
    pipe = cut(rod(30, 80, "z", (300, 0, 200)), room)
    metal = cut(fuse(metal, pipe), rod(26, 160, "z", (300, 0, 240)))
    return CadTank([metal], room, 1, 1e-3)


def upright_can_with_hopper(wall):
    room = fuse(rod(150, 300, "z", (0, 0, 150)), cone(40, 150, 120, (0, 0, -120)))
    outer = fuse(
        rod(150 + wall, 300 + wall, "z", (0, 0, (300 + wall) / 2)),
        cone(40 + wall, 150 + wall, 120, (0, 0, -120)),
    )
    outer = fuse(outer, rod(40 + wall, wall, "z", (0, 0, -120 - wall / 2)))
    metal = cut(outer, room)
    return CadTank(
        [cut(metal, rod(27, 40, "z", (60, 0, 300)), rod(10, 40, "z", (0, 0, -120)))], room, 2, 1e-4
    )


def saddle(wall):
    room = fuse(
        cube((500 - 2 * wall, 200 - 2 * wall, 250 - 2 * wall), (wall,) * 3),
        cube((500 - 2 * wall, 200 - 2 * wall, 250 - 2 * wall), (wall, 500 + wall, wall)),
        cube((500 - 2 * wall, 560, 60 - 2 * wall), (wall, 70, 190 + wall)),
    )
    outer = fuse(
        cube((500, 200, 250)),
        cube((500, 200, 250), (0, 500, 0)),
        cube((500, 560, 60), (0, 70, 190)),
    )
    metal = cut(outer, room)
    holes = (rod(20, 30, "z", (100, 100, 250)), rod(12, 30, "z", (250, 350, 250)))
    return CadTank([cut(metal, *holes)], room, 2)


def welded_of_six_plates(wall):
    """Six bodies that touch: floor, roof and four walls, nothing fused."""
    x, y, z = 700, 300, 220
    plates = [
        cube((x, y, wall)),
        cut(cube((x, y, wall), (0, 0, z - wall)), rod(27, 40, "z", (500, 150, z))),
        cube((wall, y, z - 2 * wall), (0, 0, wall)),
        cube((wall, y, z - 2 * wall), (x - wall, 0, wall)),
        cube((x - 2 * wall, wall, z - 2 * wall), (wall, 0, wall)),
        cube((x - 2 * wall, wall, z - 2 * wall), (wall, y - wall, wall)),
    ]
    room = cube((x - 2 * wall, y - 2 * wall, z - 2 * wall), (wall,) * 3)
    return CadTank(plates, room, 1, 2e-4)  # weld in the corners


def welded_with_gaps(wall):
    """The same with a baffle, and 0.2 mm of air between some plates, as where weld goes."""
    bodies, room, openings, _ = welded_of_six_plates(wall)
    baffle = cube((wall, 300 - 2 * wall - 0.4, 150), (350, wall + 0.2, wall + 0.2))
    return CadTank([*bodies, baffle], cut(room, baffle), openings, 2e-3)


TANKS = {
    f"{make.__name__}, {wall:g} mm": (make, wall)
    for make, sizes in (
        (plain, (1, 1.5, 3, 6)),
        (rolled_corners, (1, 2, 4, 6)),
        (bevelled_edges, (1, 2, 4, 6)),
        (cup_on_the_floor, (1, 2, 3, 6)),
        (baffles_with_clipped_corners, (1, 2, 3, 6)),
        (suction_tube, (1, 2, 3, 6)),
        (lying_drum, (1, 2, 4, 6)),
        (upright_can_with_hopper, (1.5, 3, 6)),
        (saddle, (1, 2, 4, 6)),
        (welded_of_six_plates, (1, 2, 4)),
        (welded_with_gaps, (2, 3, 5)),
    )
    for wall in sizes
}
