"""Reads mesh files of several formats into bare triangles, with what the format states of itself.

STL is read here (:mod:`tanksolve.geometry.stl`); the others by trimesh with ``process=False``, which
leaves the mesh as the file has it; STEP through cascadio, an optional extra.

What the formats state: glTF is in metres with +y up and +z forward (glTF 2.0 specification, section
3.4); 3MF names its unit and builds upwards along +z (3MF core specification, section 2), but
knows no forward; STEP knows its unit and no axes; STL, OBJ, PLY and OFF state nothing.
"""

import importlib.util
import subprocess
import sys
import tempfile
import warnings
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.stl import read_stl

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["FORMATS", "RawMesh", "read_raw"]

FORMATS = ("stl", "obj", "ply", "off", "3mf", "glb", "gltf", "step", "stp")
_UNITS_3MF = {
    "micron": "um",
    "millimeter": "mm",
    "millimeters": "mm",
    "centimeter": "cm",
    "inch": "in",
    "foot": "ft",
    "meter": "m",
}
_STEP_SECONDS = 8.0
_STEP_BYTES_PER_SECOND = 50_000.0
_LOADED = 10.0  # a busy machine takes longer by the clock than by the processor
_CONVERT = """
import sys
import cascadio
try:
    import resource
    resource.setrlimit(resource.RLIMIT_CPU, (int(sys.argv[4]), int(sys.argv[4])))
except ImportError:
    pass
sys.exit(cascadio.step_to_glb(sys.argv[1], sys.argv[2], tol_linear=float(sys.argv[3])))
"""
_MOST_FACES = 20_000_000  # a scene may repeat one body beyond any memory


@dataclass(frozen=True)
class RawMesh:
    """What a file holds, before any judgement.

    Attributes
    ----------
    corners : (F, 3, 3) float, corners of each face, in the file's frame and unit.
    unit, forward, up : as the format states them, else None.
    names : names of the bodies of a scene, in the order of the file; one name where there is no
        scene.
    body : (F,) int, the body that each face belongs to.
    """

    corners: Array = field(repr=False)
    unit: str | None = None
    forward: str | None = None
    up: str | None = None
    names: tuple[str, ...] = ("mesh",)
    body: Ints | None = field(default=None, repr=False)

    def only(self, number: int) -> "RawMesh":
        """Keep one body of the scene, counted from 0."""
        if self.body is None:
            return self
        kept = self.corners[self.body == number]
        return RawMesh(kept, self.unit, self.forward, self.up, (self.names[number],))


def read_raw(file: Path, chord: float | None = None) -> RawMesh:
    """Read a mesh file by its suffix.

    Parameters
    ----------
    file : the mesh file.
    chord : how far facets may stray from the curved surface of a STEP file [m]; by default 0.1 mm.

    Raises
    ------
    MeshError : missing, empty, unreadable, damaged, or of a format that is not known here.
    """
    kind = file.suffix.lower().lstrip(".")
    if kind not in FORMATS:
        raise MeshError(
            f"'{file.suffix}' is not a mesh format that is known here",
            where=str(file),
            allowed=", ".join("." + name for name in FORMATS),
            next_step="export the mesh in one of these",
        )
    try:
        if file.is_dir():
            raise IsADirectoryError("it is a folder")
        if file.stat().st_size == 0:
            raise MeshError("the file is empty", where=str(file), next_step="export it again")
        if kind == "stl":
            return RawMesh(read_stl(file))
        with file.open("rb"):
            pass
    except OSError as error:
        reason = error.strerror or str(error)
        raise MeshError(
            f"the mesh file cannot be read: {reason.lower()}",
            where=str(file),
            next_step="check the name and the folder",
        ) from error
    if kind in ("step", "stp"):
        return _step(file, 1e-4 if chord is None else chord)
    return _by_trimesh(file, kind)


def _by_trimesh(file: Path, kind: str, named: Path | None = None) -> RawMesh:
    """Read by trimesh; ``named`` is the file that the user knows of, where that is another."""
    import trimesh  # late: it takes longer to import than an STL takes to answer

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            scene = trimesh.load_scene(
                str(file), file_type=kind, process=False, skip_materials=True
            )
            corners, names, body = _bodies(scene)
            unit = _UNITS_3MF.get(str(scene.units)) if kind == "3mf" and names else None
    except Exception as error:  # a damaged file makes the readers fail in any way whatever
        raise MeshError(
            f"damaged or not a {(named or file).suffix[1:].upper()} file: "
            f"{type(error).__name__}: {str(error)[:200]}",
            where=str(named or file),
            next_step="export or copy the file again",
        ) from error
    if kind == "3mf":
        return RawMesh(corners, unit, None, "+z", names, body)
    if kind in ("glb", "gltf"):
        return RawMesh(corners, "m", "+z", "+y", names, body)
    return RawMesh(corners, None, None, None, names, body)


def _bodies(scene: Any) -> tuple[Array, tuple[str, ...], Ints]:
    """Faces of all bodies of a scene, each put where the scene has it."""
    corners, names, total = [np.zeros((0, 3, 3))], [], 0
    for node in scene.graph.nodes_geometry:
        transform, geometry = scene.graph[node]
        mesh = scene.geometry[geometry]
        if len(getattr(mesh, "faces", ())) == 0:
            continue  # points and curves
        total += len(mesh.faces)
        if total > _MOST_FACES:
            raise ValueError(f"the scene has more than {_MOST_FACES} faces")
        placed = _placed(np.asarray(mesh.vertices, float), np.asarray(transform, float))
        faces = np.asarray(mesh.faces, np.int64)
        if np.linalg.det(transform[:3, :3]) < 0.0:
            faces = faces[:, ::-1]
        corners.append(placed[faces])
        names.append(str(node))
    body = np.repeat(np.arange(len(names)), [len(part) for part in corners[1:]])
    return np.concatenate(corners), tuple(names), body


def _placed(vertices: Array, transform: Array) -> Array:
    """Vertices under a 4 x 4 transform, written out so that equal points stay equal: the rows of a
    matrix product may be rounded differently.
    """
    if (transform == np.eye(4)).all():
        return vertices
    x, y, z = vertices.T
    rows = [t[0] * x + t[1] * y + t[2] * z + t[3] for t in transform[:3]]
    return np.stack(rows, axis=1)


def _step(file: Path, chord: float) -> RawMesh:
    if importlib.util.find_spec("cascadio") is None:
        raise MeshError(
            "reading STEP needs an extra package that is not installed",
            where=str(file),
            next_step="pip install 'tanksolve[step]', or export the body as STL, OBJ or 3MF",
        )
    with file.open("rb") as content:
        if b"ISO-10303-21" not in content.read(4096):
            raise _damaged_step(file)
    patience = _STEP_SECONDS + file.stat().st_size / _STEP_BYTES_PER_SECOND
    with tempfile.TemporaryDirectory() as folder:
        mesh = Path(folder) / "mesh.glb"
        # cascadio takes the tolerance in millimetres, whatever the unit of the file, and gives metres.
        # It runs in a process of its own: its C++ core prints, and a damaged file can crash or hang it.
        words = [str(file), str(mesh), repr(1000.0 * chord), str(round(patience))]
        command = [sys.executable, "-c", _CONVERT, *words]
        try:
            done = subprocess.run(
                command, capture_output=True, timeout=_LOADED * patience, check=False
            )
            if done.returncode in (-9, -24):  # killed, or out of processor time
                raise subprocess.TimeoutExpired(command, patience)
        except subprocess.TimeoutExpired as error:
            raise MeshError(
                f"the STEP file was not converted within {patience:.0f} s",
                where=str(file),
                next_step="allow a greater chord, or export the body as STL, OBJ or 3MF",
            ) from error
        if done.returncode != 0 or not mesh.exists():
            raise _damaged_step(file)
        raw = _by_trimesh(mesh, "glb", file)
    return RawMesh(raw.corners, "m", None, None, raw.names, raw.body)


def _damaged_step(file: Path) -> MeshError:
    return MeshError(
        "damaged or not a STEP file",
        where=str(file),
        next_step="export or copy the file again",
    )
