"""Volumes below planes, against the general-purpose libraries that cut meshes.

    pip install -e .[dev]
    python tests/benchmarks/capacity.py [SIZE ...]     sizes: demo 4 5 6 7 8 (default: demo 4 8)

Same mesh, same planes, same run. A size is the demo tank (meshes/, about 3,000 faces) or an uneven
icosphere of 20 * 4**SIZE faces. Each peer is timed on up to 40 of the planes, as soon as it has run
once; ours in one batch of 4,000 planes, the best of five. Peers: manifold3d ``trim_by_plane``, trimesh
``slice_plane(cap=True)``, VTK's ``vtkClipClosedSurface`` as a bare filter, and the same through
pyvista's ``clip_closed_surface``. Each is asked for the volume. A peer whose volume is off by more
than 1e-9 of the tank is marked: its time counts, its answer does not.

Let nothing else run meanwhile: the figures are ratios, but a busy machine hurts the quick more than
the slow. The exponents at the end compare the first icosphere of the run with the last.
"""

import sys
import time
from collections.abc import Callable
from pathlib import Path
from typing import Any

import numpy as np
import pyvista
import trimesh
import vtk
from manifold3d import Manifold, Mesh64

from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.capacity.volumes import visited, volumes
from tanksolve.kernel.capacity.volumes_plain import volumes_plain
from tanksolve.project.load import load

DEMO = Path(__file__).parents[2] / "meshes" / "hillside_sprayer.toml"
PLANES = 4000
PEER_PLANES, PEER_SECONDS = 40, 4.0
WRONG = 1e-9  # of the capacity

Cut = Callable[[np.ndarray, float], float]


def mesh_of(size: str) -> trimesh.Trimesh:
    if size == "demo":
        tank = load(DEMO).tank
        return trimesh.Trimesh(tank.vertices, tank.faces, process=False)
    mesh = trimesh.creation.icosphere(int(size))
    bumps = 1.0 + 0.1 * np.sin(5.0 * mesh.vertices).prod(axis=1, keepdims=True)
    return trimesh.Trimesh(mesh.vertices * bumps * [0.45, 0.2, 0.15], mesh.faces, process=False)


def planes_through(vertices: np.ndarray, count: int) -> tuple[np.ndarray, np.ndarray]:
    rng = np.random.default_rng(7)
    up = rng.normal(size=(count, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    z = up @ vertices[:: max(1, len(vertices) // 5000)].T
    low, high = z.min(axis=1), z.max(axis=1)
    return up, low + rng.random(count) * (high - low)


def vtk_filter(surface: pyvista.PolyData) -> Cut:
    def cut(up: np.ndarray, height: float) -> float:
        plane = vtk.vtkPlane()
        plane.SetOrigin(up * height)
        plane.SetNormal(-up)
        planes = vtk.vtkPlaneCollection()
        planes.AddItem(plane)
        clipper = vtk.vtkClipClosedSurface()
        clipper.SetInputData(surface)
        clipper.SetClippingPlanes(planes)
        triangles = vtk.vtkTriangleFilter()
        triangles.SetInputConnection(clipper.GetOutputPort())
        mass = vtk.vtkMassProperties()
        mass.SetInputConnection(triangles.GetOutputPort())
        mass.Update()
        return float(mass.GetVolume())

    return cut


def peers(mesh: trimesh.Trimesh) -> dict[str, Cut]:
    vertices, faces = np.array(mesh.vertices, order="C"), np.array(mesh.faces, order="C")
    solid = Manifold(Mesh64(vertices, faces.astype(np.uint64)))
    surface = pyvista.PolyData.from_regular_faces(vertices, faces)
    return {
        "manifold3d": lambda u, h: solid.trim_by_plane(tuple(-u), -h).volume(),
        "trimesh": lambda u, h: mesh.slice_plane(u * h, -u, cap=True).volume,
        "VTK filter": vtk_filter(surface),
        "pyvista": lambda u, h: (
            surface.clip_closed_surface(normal=-u, origin=u * h).triangulate().volume
        ),
    }


def timed(run: Callable[..., Any], *args: Any) -> tuple[float, Any]:
    start = time.perf_counter()
    result = run(*args)
    return time.perf_counter() - start, result


def run_peer(cut: Cut, up: np.ndarray, height: np.ndarray) -> tuple[float, np.ndarray]:
    """Seconds a plane, and the volumes of as many planes as the time allows."""
    cut(up[0], height[0])
    spent, found = 0.0, []
    while spent < PEER_SECONDS and len(found) < PEER_PLANES:
        seconds, volume = timed(cut, up[len(found)], height[len(found)])
        spent += seconds
        found.append(volume)
    return spent / len(found), np.array(found)


def run_size(size: str) -> tuple[int, float, float]:
    """Print one size's figures; return its faces, our seconds a plane, nodes visited a plane."""
    mesh = mesh_of(size)
    vertices, faces = np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.int64)
    build_tree(vertices, faces[:50])  # compiles
    build, tree = min((timed(build_tree, vertices, faces) for _ in range(3)), key=lambda t: t[0])
    up, height = planes_through(vertices, PLANES)
    volumes(tree, up, height)
    ours = min(timed(volumes, tree, up, height)[0] for _ in range(5)) / PLANES
    found = volumes(tree, up, height)[0]
    nodes = float(visited(tree, up, height).mean())
    capacity = tree.flux[0, 5]
    few = max(1, min(PEER_PLANES, 4_000_000 // len(faces)))
    plain = volumes_plain(vertices, faces, up[:few], height[:few])[0]
    print(f"\n{len(faces):,} faces: ours {1e6 * ours:.2f} us a plane, {nodes:.0f} nodes visited")
    print(
        f"  from the plain sum over all faces: {np.abs(plain - found[:few]).max() / capacity:.1e}"
    )
    fastest = np.inf
    for name, cut in peers(mesh).items():
        seconds, volume = run_peer(cut, up, height)
        fastest = min(fastest, seconds)
        off = np.abs(volume - found[: len(volume)]) / capacity
        verdict = f"volumes within {off.max():.0e}"
        if (off > WRONG).any():
            verdict = (
                f"WRONG on {(off > WRONG).sum()} of {len(off)} planes, by up to {off.max():.0e}"
            )
        print(f"  {name:<11} {1e6 * seconds:>10,.0f} us  {seconds / ours:>7,.0f}x  {verdict}")
    print(f"  tree built in {build / fastest:.2f} of the fastest peer's cuts ({build:.3f} s)")
    return len(faces), ours, nodes


def main() -> None:
    sizes = sys.argv[1:] or ["demo", "4", "8"]
    figures = {size: run_size(size) for size in sizes}
    growth = [figures[size] for size in sizes if size != "demo"]
    if len(growth) > 1:
        few, many = growth[0], growth[-1]
        span = np.log(many[0] / few[0])
        print(f"\nfrom {few[0]:,} to {many[0]:,} faces: nodes visited grow as ", end="")
        print(f"F^{np.log(many[2] / few[2]) / span:.3f}, ", end="")
        print(f"time as F^{np.log(many[1] / few[1]) / span:.3f}")


if __name__ == "__main__":
    main()
