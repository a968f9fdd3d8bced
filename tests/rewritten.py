"""The same metal tank written otherwise: what may change no answer.

A way is a function from a case of ``metal_cases`` to a ``Written``: faces, file format, unit, axes. It may turn
or move the tank; ``reread`` brings what was read to where it was.
"""

from dataclasses import replace
from typing import NamedTuple

import numpy as np
import trimesh
import walled_tank
from numpy.typing import NDArray
from solids_by_hand import write_stl
from step_by_hand import write_faceted
from walled_tank import corners_of

from tanksolve.geometry.intake import take_in
from tanksolve.geometry.mesh_checks import examine, merged
from tanksolve.geometry.mesh_file import read_mesh_and_plugs

__all__ = ["WAYS", "Written", "reread", "rewritten", "save", "segments", "shuffled"]

Array = NDArray[np.float64]
_AS_IS = np.eye(3)
_QUARTER = np.array(
    [[0.0, -1.0, 0.0], [0.0, 0.0, -1.0], [1.0, 0.0, 0.0]]
)  # forward to +z, up to -y
_GLTF = np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]])  # forward to +z, up to +y


class Written(NamedTuple):
    """``corners`` (F, 3, 3) in ``unit``, as the file of ``kind`` holds them.

    ``turn`` (3, 3) and ``shift`` (3,) [mm] lead from the case to the file; ``forward`` and ``up`` are what the
    reader is told, and undo the turn where it is of quarters.
    """

    corners: Array
    kind: str = "stl"
    unit: str | None = "mm"
    turn: Array = _AS_IS
    shift: Array = np.zeros(3)
    forward: str | None = "+x"
    up: str | None = "+z"


def segments(make, count):
    """A case whose round parts have ``count`` sides: facets of another chord."""
    kept = walled_tank.SEGMENTS
    walled_tank.SEGMENTS = count
    try:
        return make()
    finally:
        walled_tank.SEGMENTS = kept


def shuffled(corners, seed):
    """The same faces (F, 3, 3) in another order, each from another corner."""
    rng = np.random.default_rng(seed)
    corners = rng.permutation(corners)
    roll = rng.integers(0, 3, len(corners))
    return corners[np.arange(len(corners))[:, None], (np.arange(3) + roll[:, None]) % 3]


def _turned(solid, seed):
    rng = np.random.default_rng(seed)
    turn, r = np.linalg.qr(rng.normal(size=(3, 3)))
    turn = turn * np.sign(np.diag(r))
    turn[:, 0] *= np.sign(np.linalg.det(turn))
    shift = 500.0 * rng.normal(size=3)
    corners = shuffled(corners_of(solid), seed) @ turn.T + shift
    return Written(corners, turn=turn, shift=shift)


def _quarter(solid):
    """Forward along the file's +z, up along its -y."""
    corners = shuffled(corners_of(solid), 9) @ _QUARTER.T
    return Written(corners, turn=_QUARTER, forward="+z", up="-y")


def _glb(solid):
    """In metres, in the axes that the format itself states."""
    corners = shuffled(corners_of(solid), 5) @ _GLTF.T / 1000.0
    return Written(corners, "glb", None, turn=_GLTF, forward=None, up=None)


def _finer(solid, length):
    """Faces with edges of about ``length``, a little more where manifold3d folds faces of a plate over.

    It does by a tenth of a millimetre in slivers, differently in each version; such a file is rightly refused.
    """
    for longer in 1.07 ** np.arange(8):
        corners = corners_of(solid.refine_to_length(longer * length))
        if not examine(merged(corners)).findings:
            return Written(shuffled(corners, int(length)))
    raise AssertionError("every cut into smaller faces is folded")


WAYS = {
    "as drawn": lambda solid: Written(corners_of(solid)),
    "shuffled": lambda solid: Written(shuffled(corners_of(solid), 1)),
    "shuffled again": lambda solid: Written(shuffled(corners_of(solid), 2)),
    "wound the other way": lambda solid: Written(shuffled(corners_of(solid), 3)[:, ::-1]),
    "turned and moved": lambda solid: _turned(solid, 4),
    "turned again": lambda solid: _turned(solid, 6),
    "a quarter turned": _quarter,
    "of smaller faces": lambda solid: _finer(solid, 60.0),
    "of small faces": lambda solid: _finer(solid, 25.0),
    "in inches": lambda solid: Written(corners_of(solid) / 25.4, unit="in"),
    "OBJ in inches": lambda solid: Written(shuffled(corners_of(solid), 7) / 25.4, "obj", "in"),
    "3MF": lambda solid: Written(shuffled(corners_of(solid), 8), "3mf", None),
    "GLB": _glb,
    "STEP": lambda solid: Written(shuffled(corners_of(solid), 4), "step", None),
}


def rewritten(solid, way):
    """A solid [mm] written in one of the ``WAYS``."""
    return WAYS[way](solid)


def save(path, written):
    """Write the file; returns its path, of the suffix of its format."""
    path = path.with_suffix(f".{written.kind}")
    if written.kind == "stl":
        write_stl(path, written.corners)
        return path
    points, index = np.unique(
        np.round(written.corners.reshape(-1, 3), 9), axis=0, return_inverse=True
    )
    faces = index.reshape(-1, 3)
    if written.kind == "step":
        write_faceted(path, points, faces)
    else:
        trimesh.Trimesh(points, faces, process=False).export(path)
    return path


def reread(path, written, **more):
    """Vertices [m] and faces of the tank, and its plugs, where the case had them."""
    file = save(path, written)
    more = {"meaning": "metal", "plug": "all", **more}
    if written.forward == "+x":  # turned by no quarter: told what no option can say
        body = more.pop("body", None)
        seen = take_in(file, written.unit, written.forward, written.up, body)
        turned = replace(seen.conventions, rotation=written.turn.T)
        more["examined"] = replace(seen, conventions=turned)
    tank, plugs = read_mesh_and_plugs(file, written.unit, written.forward, written.up, **more)
    shift = written.turn.T @ written.shift / 1000.0
    back = [replace(p, centre=tuple((np.asarray(p.centre) - shift).tolist())) for p in plugs]
    return tank.vertices - shift, tank.faces, back
