"""Reads mesh files of several formats into bare triangles, with what the format states of itself.

STL is read here (:mod:`tanksolve.build.stl`); the others by trimesh with ``process=False``, which
leaves the mesh as the file has it.
"""

import warnings
from dataclasses import dataclass, field
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.build.stl import read_stl
from tanksolve.errors import MeshError

Array = NDArray[np.float64]

__all__ = ["FORMATS", "RawMesh", "read_raw"]

FORMATS = ("stl", "obj", "ply")


@dataclass(frozen=True)
class RawMesh:
    """What a file holds, before any judgement.

    Attributes
    ----------
    corners : (F, 3, 3) float, corners of each face, in the file's frame and unit.
    unit, forward, up : as the format states them, else None.
    """

    corners: Array = field(repr=False)
    unit: str | None = None
    forward: str | None = None
    up: str | None = None


def read_raw(file: Path) -> RawMesh:
    """Read a mesh file by its suffix.

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
        size = file.stat().st_size
        if file.is_dir():
            raise IsADirectoryError("it is a folder")
        if size == 0:
            raise MeshError("the file is empty", where=str(file), next_step="export it again")
        if kind == "stl":
            return RawMesh(read_stl(file))
    except OSError as error:
        reason = error.strerror or str(error)
        raise MeshError(
            f"the mesh file cannot be read: {reason.lower()}",
            where=str(file),
            next_step="check the name and the folder",
        ) from error
    return _by_trimesh(file, kind)


def _by_trimesh(file: Path, kind: str) -> RawMesh:
    import trimesh  # late: it takes longer to import than an STL takes to answer

    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")
            mesh = trimesh.load_mesh(str(file), file_type=kind, process=False, skip_materials=True)
            vertices, faces = np.asarray(mesh.vertices, float), np.asarray(mesh.faces, np.int64)
            corners = vertices[faces] if len(faces) else np.zeros((0, 3, 3))
    except Exception as error:  # a damaged file makes the readers fail in any way whatever
        raise MeshError(
            f"damaged or not a {kind.upper()} file: {type(error).__name__}: {str(error)[:200]}",
            where=str(file),
            next_step="export or copy the file again",
        ) from error
    return RawMesh(corners)
