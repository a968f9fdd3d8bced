"""Gaps between a rim and a plate, as under a lid: where on the plate the mouth ends.

Wet faces are told from dry ones along edges of the mesh. A plate that lies over a rim has no edge there, and
which of its edges is nearest hangs on how the file cut it into faces. Here the plate is cut anew where it lies
straight over the rim, so that the gap is closed by the narrowest band.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.caps import ALONGSIDE, Mouth, band_area, mouth_of, opposite
from tanksolve.geometry.mouths import boundary_loops, patches
from tanksolve.kernel.topology.edges import Edges, edges_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

__all__ = ["Wall", "cut_over_rims"]

_NARROWER = 0.99  # of the band's area: less gain is the rounding of the file
_PARALLEL = 0.99  # cosine between faces of one plate
_WITHIN = 4.0  # tolerances: how far from a plane its faces' corners may be
_HAIR = 10.0  # tolerances: a rim nearer to the plate's edge than that is not told from it


class Wall(NamedTuple):
    """A metal wall: ``vertices`` (N, 3), ``faces`` (F, 3) out of the metal, of each whether it is ``wet``,
    and its ``shell``.
    """

    vertices: Array
    faces: Ints
    wet: Bools
    shell: Ints


class _Plate(NamedTuple):
    """Faces ``members`` that hang together in one plane; ``axes`` (3, 3) in rows: two in it, one out of the
    metal; ``height`` of the plane along that; its border as ``rims`` of vertices, it on their left.
    """

    members: Ints
    axes: Array
    height: float
    rims: list[Ints]


def cut_over_rims(wall: Wall, tolerance: float) -> Wall:
    """Cut plates where rims lie along them, the wet part from the dry; the same wall where there are none.

    ``tolerance`` is the length below which a corner lies in a plane. What was wet beyond the new edge is dry
    then, and what was dry within it is wet.
    """
    edges = edges_of(wall.faces)
    loops = boundary_loops(wall.faces, edges, wall.wet)
    mouths = [_mouth(wall, loop) for loop in loops]
    for rim, one in enumerate(mouths):
        for other, far in enumerate(mouths):
            if other == rim or not opposite(one, far):
                continue
            for plate in _plates(wall, edges, loops[other], tolerance):
                cut = _cut(wall, edges, plate, one, loops[other], tolerance)
                if cut is not None and _narrower(wall, cut, one, far, len(loops)):
                    return cut_over_rims(cut, tolerance)
    return wall


def _mouth(wall: Wall, loop: Ints) -> Mouth:
    return mouth_of(wall.vertices, wall.faces[loop // 3, loop % 3])


def _narrower(wall: Wall, cut: Wall, rim: Mouth, far: Mouth, count: int) -> bool:
    """Tell whether a cut has left as many mouths, and a band that is clearly narrower."""
    loops = boundary_loops(cut.faces, edges_of(cut.faces), cut.wet)
    ends = [_mouth(cut, loop) for loop in loops]
    new = [end for end in ends if end.vertices.max() >= len(wall.vertices)]
    if len(loops) != count or len(new) != 1:
        return False
    before, after = (band_area(w.vertices, rim, end) for w, end in ((wall, far), (cut, new[0])))
    return after < _NARROWER * before


def _plates(wall: Wall, edges: Edges, loop: Ints, tolerance: float) -> list[_Plate]:
    """The plates, at most two, that a whole loop of half-edges runs along on one of its sides."""
    corners = wall.vertices[wall.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.maximum(np.linalg.norm(normal, axis=1), 1e-300)
    longest = np.linalg.norm(corners - np.roll(corners, 1, axis=1), axis=2).max(axis=1)
    normal = normal / size[:, None]
    beyond, found = edges.twin // 3, []
    for side in (loop // 3, beyond[loop]):
        seed = side[int(np.argmax(size[side]))]
        up = normal[seed]
        height = corners @ up
        middle = float(height[seed].mean())
        level = (np.abs(height - middle) <= _WITHIN * tolerance).all(axis=1)
        level &= (normal @ up > _PARALLEL) | (size < tolerance * longest)
        if not level[side].all():
            continue
        for members in patches(np.flatnonzero(level), beyond, len(wall.faces)):
            if np.isin(side, members).all():
                along = np.cross(up, np.eye(3)[int(np.argmin(np.abs(up)))])
                along /= np.linalg.norm(along)
                axes = np.stack([along, np.cross(up, along), up])
                inside = np.zeros(len(wall.faces), bool)
                inside[members] = True
                border = boundary_loops(wall.faces, edges, inside)
                rims = [wall.faces[h // 3, h % 3] for h in border]
                found.append(_Plate(members, axes, middle, rims))
    return found


def _cut(
    wall: Wall, edges: Edges, plate: _Plate, mouth: Mouth, loop: Ints, tolerance: float
) -> Wall | None:
    """Cut a plate along the foot of a rim.

    None where the plate is not close over the rim, out of the liquid; where the foot leaves the plate; or where
    another mouth than ``loop`` lies in it.
    """
    rim, up = mouth.vertices, plate.axes[2]
    away = plate.height - wall.vertices[rim] @ up
    over = away * -float(up @ mouth.vector)  # a mouth opens against its vector
    if over.min() <= 0.0 or np.abs(away).max() > ALONGSIDE * np.sqrt(mouth.area):
        return None
    inside = np.zeros(len(wall.faces), bool)
    inside[plate.members] = True
    half = (3 * plate.members[:, None] + np.arange(3)).ravel()
    there = edges.twin[half] // 3
    parted = half[inside[there] & wall.wet[half // 3] & ~wall.wet[there]]
    if not np.isin(parted, loop).all():
        return None
    flat = wall.vertices @ plate.axes[:2].T
    foot, borders = flat[rim], [flat[ring] for ring in plate.rims]
    if _nearest(foot, borders) <= _HAIR * tolerance or _turns(borders, foot[0]) != 1:
        return None
    turn = 1 if _area(foot) > 0.0 else -1  # the wet part lies within the foot, or round it
    number = len(wall.vertices) + np.arange(len(rim))
    within, round_it = [number[::turn]], [number[::-turn]]
    for ring, border in zip(plate.rims, borders, strict=True):
        (within if _turns([foot[::turn]], border[0]) else round_it).append(ring)
    vertices = np.concatenate([wall.vertices, wall.vertices[rim] + np.outer(away, up)])
    flat = np.concatenate([flat, foot])
    cap, collar = _filled(flat, within), _filled(flat, round_it)
    if cap is None or collar is None:
        return None
    wet = np.repeat([turn > 0, turn < 0], [len(cap), len(collar)])
    return Wall(
        vertices,
        np.concatenate([wall.faces[~inside], cap, collar]),
        np.concatenate([wall.wet[~inside], wet]),
        np.concatenate([wall.shell[~inside], np.full(len(wet), wall.shell[plate.members[0]])]),
    )


def _filled(flat: Array, rings: list[Ints]) -> Ints | None:
    """Faces (T, 3) between rings of vertices in a plane (N, 2); None where they do not part it."""
    from manifold3d import triangulate

    corners = np.concatenate(rings)
    found = np.asarray(triangulate([flat[ring] for ring in rings]), np.int64).reshape(-1, 3)
    whole = len(found) == len(corners) + 2 * (len(rings) - 1) - 2
    return np.asarray(corners[found]) if whole else None


def _area(ring: Array) -> float:
    ahead = np.roll(ring, -1, axis=0)
    return 0.5 * float((ring[:, 0] * ahead[:, 1] - ring[:, 1] * ahead[:, 0]).sum())


def _turns(rings: list[Array], point: Array) -> int:
    """How often rings (K, 2) go round a point, against the clock; 1 within a plate, 0 beyond it."""
    angle = 0.0
    for ring in rings:
        ray = ring - point
        ahead = np.roll(ray, -1, axis=0)
        across = ray[:, 0] * ahead[:, 1] - ray[:, 1] * ahead[:, 0]
        angle += float(np.arctan2(across, np.einsum("ij,ij->i", ray, ahead)).sum())
    return round(angle / (2.0 * np.pi))


def _nearest(ring: Array, others: list[Array]) -> float:
    """Least way between the sides of a ring (K, 2) and those of others; 0 where they cross."""
    p, q = ring, np.roll(ring, -1, axis=0)
    least = np.inf
    for other in others:
        a, b = other, np.roll(other, -1, axis=0)
        before, after = _side(p, q, a), _side(p, q, b)
        of_p, of_q = _side(a, b, p).T, _side(a, b, q).T
        if ((before * after < 0.0) & (of_p * of_q < 0.0)).any():
            return 0.0
        least = min(least, _from_sides(a, p, q), _from_sides(p, a, b))
    return least


def _side(start: Array, end: Array, points: Array) -> Array:
    """On which side (S, P) of lines from ``start`` to ``end`` (S, 2) points (P, 2) lie."""
    way, to = end - start, points[None] - start[:, None]
    return np.asarray(way[:, None, 0] * to[..., 1] - way[:, None, 1] * to[..., 0])


def _from_sides(points: Array, start: Array, end: Array) -> float:
    """Least way from points (P, 2) to stretches from ``start`` to ``end`` (S, 2)."""
    way, to = end - start, points[None] - start[:, None]
    square = np.maximum(np.einsum("si,si->s", way, way), 1e-300)
    share = np.clip(np.einsum("spi,si->sp", to, way) / square[:, None], 0.0, 1.0)
    return float(np.linalg.norm(to - share[..., None] * way[:, None], axis=2).min())
