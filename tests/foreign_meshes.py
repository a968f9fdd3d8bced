"""Meshes that this project did not draw: what general-purpose libraries' own generators give.

Each entry: name, a function that gives corners (F, 3, 3), and what must become of it: ``solved``, or
the kinds of finding of which one must be the reason of the refusal; ``mended`` where the surface
leaks or is inside-out only for the library's rounding or convention, and repair must solve it.

Origins and licences: VTK (BSD-3-Clause), trimesh (MIT), manifold3d (Apache-2.0), SciPy
(BSD-3-Clause).
"""

from collections.abc import Callable

import numpy as np
import trimesh
import vtk
from manifold3d import CrossSection, Manifold
from numpy.typing import NDArray
from scipy.spatial import ConvexHull
from vtk.util.numpy_support import vtk_to_numpy

Array = NDArray[np.float64]

SOLVED = "solved"
MENDED = "mended"
LEAKS = {"leaking"}
CROSSES = {
    "self-crossing",
    "overlapping faces",
    "non-manifold edges",
    "flipped faces",
    "duplicate faces",
    "one-sided",
}


def _from_vtk(source) -> Array:
    triangles = vtk.vtkTriangleFilter()
    triangles.SetInputConnection(source.GetOutputPort())
    triangles.Update()
    data = triangles.GetOutput()
    points = vtk_to_numpy(data.GetPoints().GetData()).astype(float)
    faces = vtk_to_numpy(data.GetPolys().GetConnectivityArray()).reshape(-1, 3)
    return points[faces]


def _vtk(name: str, **settings) -> Callable[[], Array]:
    def make() -> Array:
        source = getattr(vtk, name)()
        for key, value in settings.items():
            getattr(source, f"Set{key}")(value)
        return _from_vtk(source)

    return make


def _parametric(name: str) -> Callable[[], Array]:
    def make() -> Array:
        source = vtk.vtkParametricFunctionSource()
        source.SetParametricFunction(getattr(vtk, f"vtkParametric{name}")())
        source.SetUResolution(30)
        source.SetVResolution(30)
        return _from_vtk(source)

    return make


def _platonic(kind: int) -> Callable[[], Array]:
    return _vtk("vtkPlatonicSolidSource", SolidType=kind)


def _contour() -> Array:
    """Iso-surface of a sampled distance to a sphere; it looks towards lower values, so inwards."""
    quadric, sample = vtk.vtkSphere(), vtk.vtkSampleFunction()
    quadric.SetRadius(0.6)
    sample.SetImplicitFunction(quadric)
    sample.SetSampleDimensions(24, 24, 24)
    flying = vtk.vtkFlyingEdges3D()
    flying.SetInputConnection(sample.GetOutputPort())
    flying.SetValue(0, 0.0)
    return _from_vtk(flying)


def _trimesh(make: Callable[[], trimesh.Trimesh]) -> Callable[[], Array]:
    return lambda: np.asarray(make().triangles, float)


def _manifold(make: Callable[[], Manifold]) -> Callable[[], Array]:
    def corners() -> Array:
        mesh = make().to_mesh64()
        return np.asarray(mesh.vert_properties)[:, :3][np.asarray(mesh.tri_verts)]

    return corners


def _hull() -> Array:
    points = np.random.default_rng(5).normal(size=(200, 3))
    hull = ConvexHull(points)
    corners = points[hull.simplices]
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    inward = np.einsum("ij,ij->i", normals, hull.equations[:, :3]) < 0
    corners[inward] = corners[inward, ::-1]
    return corners


def _gyroid(x: float, y: float, z: float) -> float:
    return float(np.cos(x) * np.sin(y) + np.cos(y) * np.sin(z) + np.cos(z) * np.sin(x))


_STAR = CrossSection([[(0, 0), (4, 0), (4, 1), (2, 1.5), (4, 3), (0, 3), (1, 1.5)]])
_BOX = (-6.0, -6.0, -6.0, 6.0, 6.0, 6.0)

FOREIGN: list[tuple[str, Callable[[], Array], str | set[str]]] = [
    ("vtk cube", _vtk("vtkCubeSource"), SOLVED),
    ("vtk sphere", _vtk("vtkSphereSource", ThetaResolution=24, PhiResolution=16), SOLVED),
    ("vtk cone", _vtk("vtkConeSource", Resolution=24), SOLVED),
    ("vtk cylinder", _vtk("vtkCylinderSource", Resolution=24), SOLVED),
    ("vtk capsule", _vtk("vtkCylinderSource", CapsuleCap=1, Resolution=24), MENDED),
    ("vtk tetrahedron", _platonic(0), SOLVED),
    ("vtk octahedron", _platonic(2), SOLVED),
    ("vtk icosahedron", _platonic(3), SOLVED),
    ("vtk dodecahedron", _platonic(4), SOLVED),
    ("vtk superquadric", _vtk("vtkSuperquadricSource", Toroidal=1), SOLVED),
    ("vtk contour of a sphere", _contour, MENDED),
    ("vtk arrow", _vtk("vtkArrowSource"), CROSSES),
    ("vtk disc", _vtk("vtkDiskSource"), LEAKS | {"zero volume"}),
    ("vtk plane", _vtk("vtkPlaneSource"), LEAKS | {"zero volume"}),
    ("vtk torus", _parametric("Torus"), MENDED),
    ("vtk ellipsoid", _parametric("Ellipsoid"), MENDED),
    ("vtk super toroid", _parametric("SuperToroid"), MENDED),
    ("vtk Boy's surface", _parametric("Boy"), {"one-sided"}),
    ("vtk cross-cap", _parametric("CrossCap"), LEAKS | CROSSES),
    ("vtk Klein bottle", _parametric("Klein"), LEAKS | CROSSES),
    ("vtk figure-8 Klein bottle", _parametric("Figure8Klein"), LEAKS | CROSSES),
    ("vtk Roman surface", _parametric("Roman"), LEAKS | CROSSES),
    ("vtk Moebius band", _parametric("Mobius"), LEAKS),
    ("vtk Enneper's surface", _parametric("Enneper"), LEAKS),
    ("vtk Dini's surface", _parametric("Dini"), LEAKS),
    ("vtk random hills", _parametric("RandomHills"), LEAKS),
    ("trimesh box", _trimesh(lambda: trimesh.creation.box((3, 2, 1))), SOLVED),
    ("trimesh icosphere", _trimesh(lambda: trimesh.creation.icosphere(3)), SOLVED),
    ("trimesh uv sphere", _trimesh(trimesh.creation.uv_sphere), SOLVED),
    ("trimesh capsule", _trimesh(lambda: trimesh.creation.capsule(2, 0.7)), SOLVED),
    ("trimesh annulus", _trimesh(lambda: trimesh.creation.annulus(1, 2, 3)), SOLVED),
    ("trimesh cone", _trimesh(lambda: trimesh.creation.cone(1, 2)), SOLVED),
    ("trimesh torus", _trimesh(lambda: trimesh.creation.torus(2, 0.5)), SOLVED),
    ("trimesh spindle torus", _trimesh(lambda: trimesh.creation.torus(1, 1.3)), CROSSES),
    ("trimesh axis", _trimesh(trimesh.creation.axis), CROSSES),
    ("manifold3d sphere", _manifold(lambda: Manifold.sphere(1, 40)), SOLVED),
    ("manifold3d twisted star", _manifold(lambda: _STAR.extrude(5, 12, 60)), SOLVED),
    ("manifold3d revolved star", _manifold(lambda: _STAR.translate((1, 0)).revolve(40)), SOLVED),
    (
        "manifold3d gyroid",
        _manifold(lambda: Manifold.level_set(_gyroid, _BOX, 0.8, 0.2)),
        {"2 separate bodies"},
    ),
    ("scipy hull of random points", _hull, SOLVED),
]
