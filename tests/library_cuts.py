"""Volume below a plane by three independent libraries, for the comparison with this one."""

from collections.abc import Callable

import numpy as np
from numpy.typing import NDArray
from tanks import to_manifold

from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Cut = Callable[[Array, float], float]
PEERS = ("manifold3d", "trimesh", "vtk")
AGREE = 1e-9  # of the tank's volume


def manifold_cut(tank: Tank) -> Cut:
    solid = to_manifold(tank)
    return lambda up, height: solid.trim_by_plane(tuple(-up), -height).volume()


def trimesh_cut(tank: Tank) -> Cut:
    import trimesh

    mesh = trimesh.Trimesh(tank.vertices, tank.faces, process=False)

    def cut(up: Array, height: float) -> float:
        part = mesh.slice_plane(up * height, -up, cap=True)
        return _divergence(part.vertices[part.faces])

    return cut


def vtk_cut(tank: Tank) -> Cut:
    from vtkmodules.util.numpy_support import numpy_to_vtk, numpy_to_vtkIdTypeArray, vtk_to_numpy
    from vtkmodules.vtkCommonCore import vtkPoints
    from vtkmodules.vtkCommonDataModel import (
        vtkCellArray,
        vtkPlane,
        vtkPlaneCollection,
        vtkPolyData,
    )
    from vtkmodules.vtkFiltersCore import vtkTriangleFilter
    from vtkmodules.vtkFiltersGeneral import vtkClipClosedSurface

    points = vtkPoints()
    points.SetData(numpy_to_vtk(np.array(tank.vertices), deep=True))
    cells = vtkCellArray()
    cells.SetData(3, numpy_to_vtkIdTypeArray(tank.faces.astype(np.int64).ravel(), deep=True))
    surface = vtkPolyData()
    surface.SetPoints(points)
    surface.SetPolys(cells)

    def cut(up: Array, height: float) -> float:
        plane = vtkPlane()
        plane.SetOrigin(*(up * height))
        plane.SetNormal(*(-up))
        planes = vtkPlaneCollection()
        planes.AddItem(plane)
        clip = vtkClipClosedSurface()
        clip.SetInputData(surface)
        clip.SetClippingPlanes(planes)
        triangles = vtkTriangleFilter()
        triangles.SetInputConnection(clip.GetOutputPort())
        triangles.PassLinesOff()
        triangles.PassVertsOff()
        triangles.Update()
        out = triangles.GetOutput()
        if out.GetNumberOfPolys() == 0:
            return 0.0
        at = vtk_to_numpy(out.GetPoints().GetData()).astype(float)
        faces = vtk_to_numpy(out.GetPolys().GetConnectivityArray()).reshape(-1, 3)
        return _divergence(at[faces])

    return cut


def _divergence(corners: Array) -> float:
    """Volume of a closed surface: a sixth of the sum of the corners' triple products."""
    corners = np.asarray(corners) - np.asarray(corners).reshape(-1, 3).mean(axis=0)
    a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
    return float(np.einsum("fi,fi->", a, np.cross(b, c)) / 6.0)


CUTS: dict[str, Callable[[Tank], Cut]] = {
    "manifold3d": manifold_cut,
    "trimesh": trimesh_cut,
    "vtk": vtk_cut,
}


def random_planes(tank: Tank, count: int, seed: int) -> tuple[Array, Array]:
    rng = np.random.default_rng(seed)
    up = rng.normal(size=(count, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    low, high = tank.height_range(up)
    return up, low + rng.uniform(0.01, 0.99, count) * (high - low)


def compare_cuts(tank: Tank, count: int, seed: int) -> dict[str, Array]:
    """Errors as shares of the tank's volume; NaN where a peer raised. ``settled``: two peers agree.

    ``ours`` is this library's distance from the nearer of two peers that agree.
    """
    up, height = random_planes(tank, count, seed)
    found = np.full((len(PEERS), count), np.nan)
    for p, name in enumerate(PEERS):
        cut = CUTS[name](tank)
        for d in range(count):
            try:
                found[p, d] = cut(up[d], float(height[d]))
            except Exception:
                continue  # counted as a failure of the peer
    ours = volumes(tank.tree, up, height)[0]
    pairs = [(0, 1), (0, 2), (1, 2)]
    agree = np.array([np.abs(found[a] - found[b]) <= AGREE * tank.capacity for a, b in pairs])
    settled = agree.any(axis=0)
    first = np.array([pairs[k][0] for k in agree.argmax(axis=0)])
    truth = found[first, np.arange(count)]
    errors = {"ours": np.abs(ours - truth) / tank.capacity, "settled": settled.astype(float)}
    for p, name in enumerate(PEERS):
        errors[name] = np.abs(found[p] - truth) / tank.capacity
    return errors
