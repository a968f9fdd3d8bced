"""Solids put together and taken away with manifold3d, in double precision.

manifold3d (Apache-2.0) is imported here, when a boolean is first needed. Parts must overlap:
solids that merely touch may stay apart, and a film of liquid may stay between them.
"""

from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.solids import Solid
from tanksolve.unit_systems import stated

__all__ = [
    "Body",
    "from_body",
    "intersection",
    "inverted",
    "joined_mesh",
    "mesh_of",
    "pieces",
    "spaces",
    "subtract",
    "to_body",
    "union",
]

Body = Any  # a manifold3d.Manifold; the library ships no types
Array = NDArray[np.float64]
Ints = NDArray[np.int64]
_SLIVER = 1e-12  # pieces smaller than this share of the whole are rounding, not liquid


def to_body(solid: Solid) -> Body:
    """Hand a closed mesh to manifold3d. Raises TankError where it is not a solid."""
    from manifold3d import Error, Manifold, Mesh64

    body = Manifold(
        Mesh64(
            vert_properties=np.array(solid.vertices, dtype=np.float64, order="C"),
            tri_verts=np.array(solid.faces, dtype=np.uint64, order="C"),
        )
    )
    if body.status() != Error.NoError or body.volume() <= 0.0:
        raise TankError(
            f"a part does not make a solid ({body.status().name}, volume {stated(body.volume(), 'volume')})"
        )
    return body


def union(bodies: list[Body]) -> Body:
    """Everything that is in any of the bodies."""
    from manifold3d import Manifold, OpType

    return Manifold.batch_boolean(bodies, OpType.Add)


def subtract(body: Body, tools: list[Body]) -> Body:
    """What is left of ``body`` when all ``tools`` are taken away."""
    return body - union(tools) if tools else body


def intersection(first: Body, second: Body) -> Body:
    """What is in both bodies."""
    return first ^ second


def pieces(body: Body) -> list[Body]:
    """The closed surfaces of a body, slivers of rounding left out.

    A piece with negative volume is the surface of a free-standing solid inside another piece.
    """
    whole = abs(body.volume())
    return [piece for piece in body.decompose() if abs(piece.volume()) > _SLIVER * whole]


def spaces(body: Body) -> list[Body]:
    """The separate spaces of a body, each with the solids that stand free in it taken out."""
    surfaces = pieces(body)
    rooms = [one for one in surfaces if one.volume() > 0.0]
    for hollow in (inverted(one) for one in surfaces if one.volume() < 0.0):
        # a free-standing solid: its surface belongs to the room around it
        around = max(range(len(rooms)), key=lambda k: intersection(rooms[k], hollow).volume())
        rooms[around] = subtract(rooms[around], [hollow])
    return rooms


def inverted(piece: Body) -> Body:
    """The solid inside a piece of negative volume, as a body of its own."""
    vertices, faces = mesh_of(piece)
    return to_body(Solid(vertices, faces[:, ::-1]))


def mesh_of(body: Body) -> tuple[Array, Ints]:
    """Vertices (N, 3) [m] and faces (F, 3) of a body."""
    mesh = body.to_mesh64()
    return np.asarray(mesh.vert_properties, float)[:, :3], np.asarray(mesh.tri_verts, np.int64)


def joined_mesh(bodies: list[Body]) -> tuple[Array, Ints]:
    """Vertices and faces of one or several bodies as one mesh, each with vertices of its own."""
    vertices, faces, count = [], [], 0
    for points, triangles in map(mesh_of, bodies):
        vertices.append(points)
        faces.append(triangles + count)
        count += len(points)
    return np.vstack(vertices), np.vstack(faces)


def from_body(body: Body, where: str) -> tuple[Array, Ints]:
    """Vertices (N, 3) and faces (F, 3) of a body: vertices merged, slivers dropped.

    Raises TankError where nothing is left, or where parts touch along an edge only, so that the
    surface no longer says which side is liquid.
    """
    kept = pieces(body)
    if not kept or body.volume() <= 0.0:
        raise TankError(
            "nothing is left of the tank",
            where=where,
            next_step="check sizes and units of the parts",
        )
    vertices, faces = joined_mesh(kept)
    merged, number = np.unique(vertices + 0.0, axis=0, return_inverse=True)
    triangles = number.reshape(-1)[faces]
    apart = (triangles != np.roll(triangles, 1, axis=1)).all(axis=1)
    triangles = triangles[apart]
    _check_edges(triangles, merged, where)
    return merged, triangles


def _check_edges(faces: Ints, vertices: Array, where: str) -> None:
    """Refuse a surface in which some edge is not shared by exactly two faces, walked once each way."""
    walked = np.vstack([faces[:, [0, 1]], faces[:, [1, 2]], faces[:, [2, 0]]])
    edges, times = np.unique(walked, axis=0, return_counts=True)
    both_ways = np.unique(np.sort(walked, axis=1), axis=0, return_counts=True)[1]
    if times.max() == 1 and (both_ways == 2).all():
        return
    worst = edges[int(np.argmax(times))]
    near = stated(vertices[worst].mean(axis=0), "length", ", ", solved=True)
    raise TankError(
        f"two parts touch along an edge only, near {near}",
        where=where,
        next_step="make the parts overlap, or leave a gap between them",
    )
