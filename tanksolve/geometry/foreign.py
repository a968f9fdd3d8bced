"""Reads the formats that trimesh knows, in a process of its own: see :mod:`tanksolve.gate.confined`.

Only arrays of numbers and text go back. This module imports nothing else of the package, and is not
imported by it: trimesh takes longer to import than an STL takes to answer.
"""

import warnings
from typing import Any

import numpy as np
import trimesh
from numpy.typing import NDArray

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["scene"]


def scene(file: str, kind: str, most_faces: str) -> dict[str, NDArray[Any]]:
    """Faces of all bodies of a mesh file, as it has them.

    Parameters
    ----------
    kind : the format, as its suffix without the dot; most_faces : more are refused.

    Returns
    -------
    ``corners`` (F, 3, 3) float, ``body`` (F,) int, ``names`` text of each body, ``unit`` text.
    """
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        loaded = trimesh.load_scene(file, file_type=kind, process=False, skip_materials=True)
        corners, names, body = _bodies(loaded, int(most_faces))
        unit = str(loaded.units) if kind == "3mf" and names else ""
    return {
        "corners": corners,
        "body": body,
        "names": np.array(names, dtype=str),
        "unit": np.array(unit),
    }


def _bodies(loaded: Any, most: int) -> tuple[Array, list[str], Ints]:
    """Faces of all bodies of a scene, each put where the scene has it, in the order of the file.

    trimesh walks the nodes from the last to the first; its geometries stand as the file has them.
    """
    corners, names, total = [np.zeros((0, 3, 3))], [], 0
    place = {name: k for k, name in enumerate(loaded.geometry)}
    nodes = list(loaded.graph.nodes_geometry)[::-1]
    for node in sorted(nodes, key=lambda node: place[loaded.graph[node][1]]):
        transform, geometry = loaded.graph[node]
        mesh = loaded.geometry[geometry]
        if len(getattr(mesh, "faces", ())) == 0:
            continue  # points and curves
        total += len(mesh.faces)
        if total > most:
            raise ValueError(
                f"the scene has more than {most} faces, too many for a file of its size"
            )
        placed = _placed(np.asarray(mesh.vertices, float), np.asarray(transform, float))
        faces = np.asarray(mesh.faces, np.int64)
        if np.linalg.det(transform[:3, :3]) < 0.0:
            faces = faces[:, ::-1]
        corners.append(placed[faces])
        names.append(str(node)[:200])
    body = np.repeat(np.arange(len(names)), [len(part) for part in corners[1:]])
    return np.concatenate(corners), names, body


def _placed(vertices: Array, transform: Array) -> Array:
    """Vertices under a 4 x 4 transform, written out so that equal points stay equal: the rows of a
    matrix product may be rounded differently.
    """
    if (transform == np.eye(4)).all():
        return vertices
    x, y, z = vertices.T
    rows = [t[0] * x + t[1] * y + t[2] * z + t[3] for t in transform[:3]]
    return np.stack(rows, axis=1)
