"""From a metal wall with open ports to the space inside it: the ports are plugged with flat caps.

Every opening gets caps at all its rims. The caps part the space around the metal into pieces: the
outside, short passages (the bores of the ports) and what is left, the cavities. The plugs are the
caps that part a cavity from the outside or from a passage to it; caps between two pieces of one
cavity (holes in baffles) are taken out again.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.mesh_checks import Examination, Surface
from tanksolve.geometry.rims import Rim, find_rims
from tanksolve.kernel.topology.edges import Edges, face_volumes, shells_of, winding

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Cavity", "Opening", "open_cavities"]

_PASSAGE_SHARE = 0.05  # of the greatest cavity: more than that is a tank of its own
_PASSAGE_LENGTH = 8.0  # in widths of its mouth: what is longer is a tank of its own


@dataclass(frozen=True)
class Opening:
    """An opening that was plugged.

    Attributes
    ----------
    centre : (3,) of the cap; facing : (3,) unit, out of the liquid; file's frame and unit.
    area : of the cap, file's unit squared; bore : diameter of the circle of that area.
    """

    centre: tuple[float, float, float]
    facing: tuple[float, float, float]
    area: float

    @property
    def bore(self) -> float:
        """Diameter of the circle of the same area, file's unit."""
        return float(2.0 * np.sqrt(self.area / np.pi))


@dataclass(frozen=True)
class Cavity:
    """A space inside the metal with its plugs in place.

    Attributes
    ----------
    volume : file's unit cubed; faces : (F, 3) int, outward from the liquid.
    openings : the plugs, greatest first.
    """

    volume: float
    openings: tuple[Opening, ...]
    faces: Ints = field(repr=False)


@dataclass(frozen=True)
class _Capped:
    """The metal's surface with two-sided caps: the pieces of space that they bound.

    ``piece`` (F,) of each face; the two sides of cap k are the faces ``along[k]`` (border as the
    rim) and ``against[k]``. ``volume`` of each piece is negative for an enclosed one.
    """

    faces: Ints
    piece: Ints
    volume: Array
    along: tuple[Ints, ...]
    against: tuple[Ints, ...]


def open_cavities(surface: Surface, examination: Examination) -> tuple[Cavity, ...]:
    """Plug the openings of a metal wall and give the cavities, the greatest first.

    The surface must be closed and look out of the metal. Empty where no rim can be capped or the
    caps enclose nothing.
    """
    rims = _compatible(find_rims(surface, examination.edges), examination.edges)
    if not rims:
        return ()
    capped = _cap(surface, examination.edges, rims)
    outside = _outside(capped, rims)
    groups = _groups(capped, outside)
    found = [_cavity(surface, capped, rims, group) for group in groups]
    found = [cavity for cavity in found if cavity.openings]
    return tuple(sorted(found, key=lambda cavity: -cavity.volume))


def _compatible(rims: list[Rim], edges: Edges) -> list[Rim]:
    """Leave out rims that share an edge with an earlier one."""
    used: set[int] = set()
    kept = []
    for rim in rims:
        both = {*rim.half_edges.tolist(), *edges.twin[rim.half_edges].tolist()}
        if not used & both:
            used |= both
            kept.append(rim)
    return kept


def _cap(surface: Surface, edges: Edges, rims: list[Rim]) -> _Capped:
    faces, twin = [surface.faces], [edges.twin.copy()]
    along, against = [], []
    total = len(surface.faces)
    for rim in rims:
        count = len(rim.cap)
        one, two = 3 * total, 3 * (total + count)
        twin_one, border = _twins_within(rim, one)
        # Seen from behind, corners are in the order 0, 2, 1: half-edge k becomes 2 - k.
        back = np.arange(3 * count).reshape(-1, 3)[:, ::-1].ravel()
        twin_two = np.where(twin_one >= 0, _mirrored(twin_one, one, two), -1)[back]
        for h, c in zip(rim.half_edges.tolist(), border.tolist(), strict=True):
            opposite = int(edges.twin[h])
            behind = int(_mirrored(np.asarray(c), one, two))
            twin[0][opposite], twin_one[c - one] = c, opposite
            twin[0][h], twin_two[behind - two] = behind, h
        faces += [rim.cap, rim.cap[:, [0, 2, 1]]]
        twin += [twin_one, twin_two]
        along.append(np.arange(total, total + count))
        against.append(np.arange(total + count, total + 2 * count))
        total += 2 * count
    all_faces, all_twins = np.concatenate(faces), np.concatenate(twin)
    shells = shells_of(Edges(all_twins, np.zeros(len(all_twins), bool)))
    volumes = face_volumes(surface.vertices, all_faces, surface.vertices.mean(axis=0))
    per_piece = np.zeros(shells.number)
    np.add.at(per_piece, shells.label, volumes)
    return _Capped(all_faces, shells.label, per_piece, tuple(along), tuple(against))


def _twins_within(rim: Rim, offset: int) -> tuple[Ints, Ints]:
    """Twins (3 T,) of a cap's half-edges, -1 on its border, and the border half-edge of each of the
    rim's; numbers begin at ``offset``.
    """
    start, end = rim.cap.ravel().tolist(), np.roll(rim.cap, -1, axis=1).ravel().tolist()
    place = {pair: k for k, pair in enumerate(zip(start, end, strict=True))}
    twins = np.asarray(
        [offset + place[b, a] if (b, a) in place else -1 for a, b in zip(start, end, strict=True)],
        np.int64,
    )
    ring = rim.vertices.tolist()
    border = [offset + place[a, b] for a, b in zip(ring, ring[1:] + ring[:1], strict=True)]
    return twins, np.asarray(border, np.int64)


def _mirrored(half_edges: Ints, one: int, two: int) -> Ints:
    """Half-edges of a cap's other side that lie on those of its first side."""
    local = half_edges - one
    return np.asarray(two + 3 * (local // 3) + 2 - local % 3)


def _outside(capped: _Capped, rims: list[Rim]) -> set[int]:
    """Pieces that belong to the outside: the open space and the passages that lead to it."""
    outside = {int(np.argmax(capped.volume))}
    greatest = float(-capped.volume.min(initial=0.0))
    sides = _sides(capped)
    grown = True
    while grown:
        grown = False
        for a, b in [*sides, *((b, a) for a, b in sides)]:
            if a in outside and b not in outside:
                mouths = [k for k, pair in enumerate(sides) if b in pair]
                widest = max(rims[k].area for k in mouths)
                volume = -float(capped.volume[b])
                short = volume <= _PASSAGE_LENGTH * widest**1.5
                if len(mouths) > 1 and short and volume <= _PASSAGE_SHARE * greatest:
                    outside.add(b)
                    grown = True
    return outside


def _sides(capped: _Capped) -> list[tuple[int, int]]:
    """The pieces on the two sides of each cap."""
    return [
        (int(capped.piece[one[0]]), int(capped.piece[two[0]]))
        for one, two in zip(capped.along, capped.against, strict=True)
    ]


def _groups(capped: _Capped, outside: set[int]) -> list[set[int]]:
    """Enclosed pieces, those joined that only a cap parts."""
    groups = [{int(p)} for p in np.flatnonzero(capped.volume < 0.0).tolist() if p not in outside]
    for a, b in _sides(capped):
        touched = [group for group in groups if a in group or b in group]
        if len(touched) == 2 and a not in outside and b not in outside:
            groups = [g for g in groups if g not in touched] + [touched[0] | touched[1]]
    return groups


def _cavity(surface: Surface, capped: _Capped, rims: list[Rim], group: set[int]) -> Cavity:
    chosen = np.isin(capped.piece, list(group))
    openings = []
    for rim, one, two in zip(rims, capped.along, capped.against, strict=True):
        inner, outer = bool(chosen[one[0]]), bool(chosen[two[0]])
        if inner and outer:
            chosen[one] = chosen[two] = False
        elif inner or outer:
            # Enclosed pieces look inwards, so the liquid is on the side that the cap looks to.
            facing = -rim.normal if inner else rim.normal
            openings.append(Opening(_triple(rim.centre), _triple(facing), rim.area))
    inside = capped.faces[chosen]
    parts = [inside, *_islands(surface, capped, inside)]
    faces = np.concatenate(parts)[:, ::-1]
    volume = float(face_volumes(surface.vertices, faces, surface.vertices.mean(axis=0)).sum())
    openings.sort(key=lambda opening: -opening.area)
    return Cavity(volume, tuple(openings), faces)


def _islands(surface: Surface, capped: _Capped, inside: Ints) -> list[Ints]:
    """Metal that stands free in the cavity, and so bounds it as well."""
    islands = []
    corners = surface.vertices[inside]
    for piece in np.flatnonzero(capped.volume > 0.0):
        faces = capped.faces[capped.piece == piece]
        if abs(winding(corners, surface.vertices[faces[0, 0]])) > 0.5:
            islands.append(faces)
    return islands


def _triple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
