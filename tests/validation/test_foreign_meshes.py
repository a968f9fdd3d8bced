"""Foreign meshes: each is solved, mended or refused for the right reason; none is silently wrong.

What is solved is weighed by a second library (manifold3d, and VTK's mass properties), and gets an
envelope.
"""

import math

import numpy as np
import pytest
import vtk
from foreign_meshes import FOREIGN, MENDED, SOLVED
from manifold3d import Manifold, Mesh64
from solids_by_hand import write_stl
from vtk.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray

from tanksolve.errors import MeshError
from tanksolve.geometry.mesh_file import read_mesh
from tanksolve.geometry.mesh_report import inspect_mesh
from tanksolve.geometry.repair import repair_mesh
from tanksolve.model.ports import pickup
from tanksolve.questions.envelope.envelope import envelope

AXES = ("m", "+x", "+z")
IDS = [name for name, _, _ in FOREIGN]


def by_manifold(tank) -> float:
    solid = Manifold(Mesh64(tank.vertices.copy(), tank.faces.astype(np.uint64)))
    assert solid.status().name == "NoError"
    return float(solid.volume())


def by_vtk(tank) -> float:
    cells = vtk.vtkCellArray()
    offsets = np.arange(0, 3 * len(tank.faces) + 1, 3)
    cells.SetData(
        numpy_to_vtkIdTypeArray(offsets, deep=True),
        numpy_to_vtkIdTypeArray(tank.faces.ravel().copy(), deep=True),
    )
    points, data, weigh = vtk.vtkPoints(), vtk.vtkPolyData(), vtk.vtkMassProperties()
    points.SetData(numpy_to_vtk(tank.vertices.copy(), deep=True))
    data.SetPoints(points)
    data.SetPolys(cells)
    weigh.SetInputData(data)
    return float(weigh.GetVolume())


def solve(file):
    """Read a tank, weigh it twice more, and ask for the envelope of a pickup at its lowest face."""
    tank = read_mesh(file, *AXES)
    assert tank.capacity == pytest.approx(by_manifold(tank), rel=1e-9)
    assert tank.capacity == pytest.approx(by_vtk(tank), rel=1e-4)
    middles = tank.vertices[tank.faces].mean(axis=1)
    lowest = tuple(middles[np.argmin(middles[:, 2])].tolist())
    found = envelope(tank, [pickup("low", lowest)], 0.3 * tank.capacity, every_deg=90.0)
    assert len(found.limits) == 4
    assert all(limit.slope_deg is None or math.isfinite(limit.slope_deg) for limit in found.limits)


@pytest.mark.parametrize(("name", "make", "expected"), FOREIGN, ids=IDS)
def test_foreign_mesh(tmp_path, name, make, expected):
    file = tmp_path / "foreign.stl"
    write_stl(file, make())
    report = inspect_mesh(file, *AXES)
    if expected == SOLVED:
        assert report.usable
        solve(file)
        return
    with pytest.raises(MeshError) as refused:
        read_mesh(file, *AXES)
    if expected == MENDED:
        assert not report.usable
        mended = repair_mesh(file, tmp_path / "mended.stl")
        assert mended.change < 1e-9
        solve(tmp_path / "mended.stl")
        return
    assert any(reason in refused.value.message for reason in expected), refused.value.message
    if not report.usable:
        assert {f.kind for f in report.findings if f.refused} & set(expected)


def test_there_are_at_least_twenty():
    assert len(set(IDS)) == len(IDS) >= 20
