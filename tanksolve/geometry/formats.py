"""Reads mesh files of several formats into bare triangles, with what the format states of itself.

STL is read here (:mod:`tanksolve.geometry.stl`); the others by trimesh with ``process=False``, which
leaves the mesh as the file has it, in a process of its own; STEP through cascadio, an optional extra.

What the formats state: glTF is in metres with +y up and +z forward (glTF 2.0 specification, section
3.4); 3MF names its unit and builds upwards along +z (3MF core specification, section 2), but
knows no forward; STEP knows its unit and no axes; STL, OBJ, PLY and OFF state nothing.
"""

import importlib.util
import os
import subprocess
import sys
import tempfile
import zipfile
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.gate.confined import Budget, ConfinedError, run_confined
from tanksolve.gate.files import opened, size_words
from tanksolve.geometry.stl import MESH_BYTES, read_stl
from tanksolve.plain_text import clean

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
_FACES = 1_000_000  # besides one for each byte of the file: a scene may repeat one body beyond any memory
_MEMORY, _SECONDS = 300_000_000, 6.0  # besides what the size of the file allows
_SHRINKS = 60  # times: XML of a mesh shrinks 5 to 12 times in an archive


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
    if kind == "stl":
        return RawMesh(read_stl(file))
    with opened(file, MESH_BYTES, "mesh file", MeshError) as content:
        size = content.seek(0, os.SEEK_END)
    if size == 0:
        raise MeshError("the file is empty", where=str(file), next_step="export it again")
    if kind in ("step", "stp"):
        return _step(file, 1e-4 if chord is None else chord)
    return _by_trimesh(file, kind)


def _by_trimesh(file: Path, kind: str, named: Path | None = None) -> RawMesh:
    """Read by trimesh; ``named`` is the file that the user knows of, where that is another."""
    shown = named or file
    size = file.stat().st_size
    words = (str(file), kind, str(_FACES + size))
    try:
        if kind == "3mf":
            size = _inflated(file, size)
        budget = Budget(memory=_MEMORY + 40 * size, seconds=_SECONDS + size / 1e6)
        found = run_confined("tanksolve.geometry.foreign:scene", words, budget)
    except (ConfinedError, zipfile.BadZipFile, NotImplementedError, ValueError, OSError) as error:
        raise _unread(error, shown) from error
    names = tuple(clean(name) for name in found["names"].tolist())
    corners, body = found["corners"], found["body"]
    if kind == "3mf":
        return RawMesh(corners, _UNITS_3MF.get(str(found["unit"])), None, "+z", names, body)
    if kind in ("glb", "gltf"):
        return RawMesh(corners, "m", "+z", "+y", names, body)
    return RawMesh(corners, None, None, None, names, body)


def _inflated(file: Path, size: int) -> int:
    """Bytes that an archive of ``size`` bytes holds. Raises BadZipFile, MeshError: no mesh shrinks so far."""
    with zipfile.ZipFile(file) as archive:  # readers stop at the sizes that it states
        held = sum(entry.file_size for entry in archive.infolist())
    if held > _SHRINKS * size + 10_000_000:
        raise MeshError(
            f"{size_words(size)} that inflate to {size_words(held)}: no mesh shrinks so far",
            where=str(file),
            next_step="export the mesh again, or as STL",
        )
    return held


def _unread(error: Exception, file: Path) -> MeshError:
    """What to say of a file that the foreign reader gave nothing of."""
    reasons = {
        "time": "reading takes far longer than a file of this size should",
        "memory": "reading takes far more memory than a file of this size should",
        "crash": "the reader of this format crashed on it",
    }
    reason = error.reason if isinstance(error, ConfinedError) else ""
    return MeshError(
        f"damaged or not a {file.suffix[1:].upper()} file: {reasons.get(reason, str(error)[:200])}",
        where=str(file),
        next_step="export or copy the file again",
    )


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
    # told in millimetres, as nearly all such files are drawn: places are then found in the drawing
    return RawMesh(1000.0 * raw.corners, "mm", None, None, raw.names, raw.body)


def _damaged_step(file: Path) -> MeshError:
    return MeshError(
        "damaged or not a STEP file",
        where=str(file),
        next_step="export or copy the file again",
    )
