"""An assembly of plates and tubes made one body: what overlaps or touches is welded, and said.

Where two bodies come within the weld's width of each other, what lies within that width of both (and a
tenth more, to take hold of either) is added as weld metal. So gaps up to that width are
closed, and faces that merely touch hold.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.booleans import Body, mesh_of, union
from tanksolve.geometry.findings import counted, place_words
from tanksolve.geometry.formats import RawMesh
from tanksolve.geometry.mesh_checks import examine, merged
from tanksolve.geometry.touching import pieces_of
from tanksolve.kernel.topology.free_space import winding_numbers
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["WELD", "United", "roles", "unite"]

WELD = 0.0005  # m: gaps up to this width between bodies of an assembly are closed
_LISTED = 12
_THIN = 0.15  # of its middle size: a plate
_LONG = 3.0  # times its middle size: a tube
# so much of a plate's area looks along its thin way, within 26°; of a tube's a third
_FLAT, _SQUARE_ON = 0.7, 0.9
_SAMPLES = 40


@dataclass(frozen=True)
class United:
    """Bodies made one.

    Attributes
    ----------
    corners : (F, 3, 3) of the whole; parts : name and corners of each body; file's frame and unit.
    notes : what was welded and what floats, in words.
    """

    corners: Array = field(repr=False)
    parts: tuple[tuple[str, Array], ...] = field(repr=False)
    notes: tuple[str, ...]


def unite(raw: RawMesh, weld: float, where: str = "", unit: str = "") -> United | None:
    """Unite the bodies of a scene, or of a mesh in several pieces; None where none of them meet.

    ``weld`` in the file's unit. Raises MeshError for a body that is not closed, or a piece of a mesh that lies
    wholly in the room of another and is not wound as a void of it.
    """
    parts = _parts(raw, where)
    boxes = [(c.min(axis=(0, 1)) - weld, c.max(axis=(0, 1)) + weld) for _, c in parts]
    near = [
        (i, j)
        for i in range(len(parts))
        for j in range(i + 1, len(parts))
        if (boxes[i][0] <= boxes[j][1]).all() and (boxes[j][0] <= boxes[i][1]).all()
    ]
    if not near:
        return None
    bodies = [_body(name, corners, where, unit) for name, corners in parts]
    met = [(i, j) for i, j in near if bodies[i].min_gap(bodies[j], 2.0 * weld) <= weld]
    if not met:
        return None
    wider = {k: _inflated(bodies[k], 1.1 * weld) for k in {k for pair in met for k in pair}}
    whole = union([*bodies, *(wider[i] ^ wider[j] for i, j in met)])
    vertices, faces = mesh_of(whole)
    return United(vertices[faces], parts, _words(parts, met))


def _parts(raw: RawMesh, where: str) -> tuple[tuple[str, Array], ...]:
    if raw.body is not None and len(raw.names) > 1:
        return tuple((name, raw.corners[raw.body == k]) for k, name in enumerate(raw.names))
    surface = merged(raw.corners)
    label = pieces_of(surface.vertices, surface.faces)
    corners = surface.vertices[surface.faces]
    pieces = _with_voids([corners[label == k] for k in range(label.max() + 1)], where)
    return tuple((f"piece {k + 1}", piece) for k, piece in enumerate(pieces))


def _with_voids(shells: list[Array], where: str) -> list[Array]:
    """Shells that bound solids, each with the voids in it: a void by itself would be united away.

    A shell in a solid is a void of it, and wound against it; what lies in a void is a solid again. How bodies
    are wound beside each other says nothing.
    """
    volumes = [np.einsum("fi,fi->", c[:, 0], np.cross(c[:, 1], c[:, 2])) / 6.0 for c in shells]
    pieces: dict[int, list[Array]] = {}
    for k in sorted(range(len(shells)), key=lambda k: -abs(volumes[k])):
        around = [
            other
            for other in range(len(shells))
            if abs(volumes[other]) > abs(volumes[k]) and _within(shells[k], shells[other])
        ]
        parent = min(around, key=lambda other: abs(float(volumes[other])), default=None)
        if parent is None or parent not in pieces:
            pieces[k] = [shells[k]]
        elif (volumes[k] > 0.0) != (volumes[parent] > 0.0):
            pieces[parent].append(shells[k])
        else:
            raise MeshError(
                f"piece {k + 1} lies wholly inside piece {parent + 1}, and is wound as a solid",
                where=where,
                allowed="pieces that stand apart, touch or cross; a void is wound the other way",
                next_step="'tanksolve repair' turns a void round; leave the piece out if it is none",
            )
    return [np.concatenate(pieces[k]) for k in sorted(pieces)]


def _within(shell: Array, room: Array) -> bool:
    """Whether all of a shell lies in what closed faces (F, 3, 3) bound, by its faces' middles."""
    inside = (room.min(axis=(0, 1)) <= shell.min(axis=(0, 1))).all()
    inside &= (room.max(axis=(0, 1)) >= shell.max(axis=(0, 1))).all()
    if not inside:
        return False
    middles = shell.mean(axis=1)[:: max(1, len(shell) // _SAMPLES)]
    return bool((np.abs(winding_numbers(room, np.ascontiguousarray(middles))) > 0.5).all())


def _body(name: str, corners: Array, where: str, unit: str) -> Body:
    from manifold3d import Error, Manifold, Mesh64

    surface = merged(corners)
    for faces in (surface.faces, surface.faces[:, ::-1]):
        body = Manifold(
            Mesh64(
                vert_properties=np.array(surface.vertices, order="C"),
                tri_verts=np.array(faces, np.uint64, order="C"),
            )
        )
        if body.status() == Error.NoError and body.volume() > 0.0:
            return body
    found = [finding for finding in examine(surface).findings if finding.refused]
    if not found:
        what, next_step = f"is not closed ({body.status().name})", "mend that body in the drawing"
    else:
        at = "; ".join(place_words(place, unit) for place in found[0].places)
        what, next_step = f"cannot be welded: {found[0].words}, at {at}", found[0].advice
    raise MeshError(
        f"the body '{name}' of the assembly {what}",
        where=where,
        next_step=f"{next_step}; or choose one body of the file",
    )


def _inflated(body: Body, by: float) -> Body:
    """The body grown by a small way: each corner moves so that all its faces do."""
    from manifold3d import Manifold, Mesh64

    vertices, faces = mesh_of(body)
    corners = vertices[faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    order = np.argsort(faces.ravel(), kind="stable")
    start = np.searchsorted(faces.ravel()[order], np.arange(len(vertices) + 1))
    grown = vertices.copy()
    for v in range(len(vertices)):
        around = np.unique(np.round(normal[order[start[v] : start[v + 1]] // 3], 6), axis=0)
        way = np.linalg.lstsq(around, np.full(len(around), by), rcond=1e-3)[0]
        length = float(np.linalg.norm(way))
        grown[v] += way * min(1.0, 4.0 * by / max(length, 1e-300))
    return Manifold(
        Mesh64(
            vert_properties=np.ascontiguousarray(grown),
            tri_verts=np.ascontiguousarray(faces.astype(np.uint64)),
        )
    )


def _words(parts: tuple[tuple[str, Array], ...], met: list[tuple[int, int]]) -> tuple[str, ...]:
    joined = list(range(len(parts)))
    for i, j in met:
        joined = [joined[i] if k == joined[j] else k for k in joined]
    groups = sorted({k: joined.count(k) for k in joined}.items(), key=lambda item: -item[1])
    loose = [name for (name, _), k in zip(parts, joined, strict=True) if k != groups[0][0]]
    notes = [
        f"{counted(len(parts), 'body', 'bodies')} of an assembly united; what overlaps, touches or comes "
        f"within {stated(WELD, 'length')} of another is welded"
    ]
    if loose:
        told = ", ".join(loose[:_LISTED]) + (", ..." if len(loose) > _LISTED else "")
        notes.append(f"not welded to the rest, taken as they float: {told}")
    return tuple(notes)


def roles(parts: tuple[tuple[str, Array], ...], liquid: Array) -> tuple[str, ...]:
    """Say what each body became: wall, baffle, tube, coil or part in the liquid, or a fitting outside.

    ``liquid`` (F, 3, 3) the surface of the tank, in the frame and unit of the parts.
    """
    found: dict[str, list[str]] = {}
    hair = 1e-3 * float(np.ptp(liquid, axis=(0, 1)).min())
    for name, corners in parts:
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.linalg.norm(normal, axis=1)
        large = np.argsort(-area, kind="stable")[:_SAMPLES]
        points = corners[large].mean(axis=1) + hair * normal[large] / area[large, None]
        wet = float(area[large] @ (np.abs(winding_numbers(liquid, points)) > 0.5)) / float(
            area[large].sum()
        )
        found.setdefault(_role(corners, wet), []).append(name)
    return tuple(
        f"{role}: {', '.join(names[:_LISTED])}{', ...' if len(names) > _LISTED else ''}"
        for role, names in found.items()
    )


def _role(corners: Array, wet: float) -> str:
    if wet < 0.02:
        return "outside"
    points = corners.reshape(-1, 3)
    turn = np.linalg.eigh(np.cov(points.T))[1]
    sizes = np.sort(np.ptp(points @ turn, axis=0))
    if wet < 0.7:
        return "wall or lid"
    if sizes[0] < _THIN * sizes[1]:
        normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
        area = np.linalg.norm(normal, axis=1)
        thin = turn[:, int(np.argmin(np.ptp(points @ turn, axis=0)))]
        flat = np.abs(normal @ thin) > _SQUARE_ON * area
        return "baffle" if area[flat].sum() > _FLAT * area.sum() else "coil or frame"
    return "tube" if sizes[2] > _LONG * sizes[1] else "part in the liquid"
