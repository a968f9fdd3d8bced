"""From a metal wall with open ports to the spaces inside it, each mouth closed with a cap.

What is inside is told by volume (:mod:`tanksolve.geometry.enclosed`), the mouths are loops of the
mesh (:mod:`tanksolve.geometry.mouths`). Every face of the metal is then accounted for: it is wetted,
or it is outside and a winding number shows that no cavity holds it; the caps cross no metal.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.caps import Closed, Opening, close_mouths
from tanksolve.geometry.enclosed import Enclosed, find_enclosed, sealed_within, survey
from tanksolve.geometry.findings import Finding, place_words
from tanksolve.geometry.gaps import Wall, cut_over_rims
from tanksolve.geometry.mesh_checks import Examination, Surface, examine
from tanksolve.geometry.mouths import boundary_loops, wet_faces
from tanksolve.geometry.shells import Shell, liquid_bodies, nest
from tanksolve.kernel.topology.crossing import find_crossings
from tanksolve.kernel.topology.edges import Edges, edges_of, shells_of
from tanksolve.kernel.topology.free_space import winding_numbers

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

_ROUNDS = 3  # of drawing mouths out past what their caps cross

__all__ = ["Cavity", "find_cavities", "outward_metal"]


@dataclass(frozen=True)
class Cavity:
    """A space inside the metal with its mouths closed.

    Attributes
    ----------
    volume : file's unit cubed; faces : (F, 3) int, outward from the liquid, into ``vertices`` (N, 3): those
        of the metal first, then what closing its mouths has added.
    openings : the caps, greatest first; shells : numbers of the metal's shells that bound it.
    seal : width of the ball that the space was shut off from, file's unit; others : widths that
        would shut off clearly less or more, with the volume of it; vessel : whether a vessel stands in it.
    """

    volume: float
    openings: tuple[Opening, ...]
    faces: Ints = field(repr=False)
    vertices: Array = field(repr=False)
    shells: tuple[int, ...] = ()
    seal: float = 0.0
    others: tuple[tuple[float, float], ...] = ()
    vessel: bool = False


def outward_metal(surface: Surface, examination: Examination, shells: tuple[Shell, ...]) -> Ints:
    """Faces (F, 3) turned to look out of the metal: where a shell lies says which way that is."""
    faces = surface.faces.copy()
    turn = np.asarray([(s.volume > 0.0) == (s.depth % 2 == 1) for s in shells], bool)
    wrong = turn[examination.shells.label]
    faces[wrong] = faces[wrong][:, ::-1]
    return faces


def find_cavities(
    surface: Surface,
    examination: Examination,
    shells: tuple[Shell, ...],
    seal: float | None = None,
    inside: Array | None = None,
    where: str = "",
) -> tuple[Cavity, ...]:
    """Find the spaces inside metal, the greatest first; empty where there is none.

    Parameters
    ----------
    surface : closed, of one or several bodies that do not cross; winding may be either way.
    seal : width of the widest opening to close, and inside : (3,) a point of the space that is
        meant, both in the file's frame and unit; proposed where they are not given.

    Raises
    ------
    MeshError : a mouth that no cap closes without crossing metal, or a face that cannot be placed.
    """
    faces = outward_metal(surface, examination, shells)
    edges = edges_of(faces)
    frame = _own_axes(surface.vertices[faces])
    upright = surface.vertices @ frame.T
    space = survey(upright[faces], seal)
    enclosed = find_enclosed(space, seal, None if inside is None else frame @ inside)
    hollow = np.asarray([s.depth % 2 == 1 for s in shells])[examination.shells.label]
    if enclosed is not None and enclosed.nested is not None:
        label = np.where(hollow, examination.shells.label, -1)
        if _parted_by_shell(upright[faces], label, enclosed.nested):
            # sealed all round, so that it is a cavity of its own and told as that
            enclosed = replace(enclosed, nested=None)
    if enclosed is not None:
        within = sealed_within(upright[faces], enclosed, space)
        others = (within, *enclosed.others) if within else enclosed.others
        enclosed = replace(enclosed, others=others)
    metal = shells_of(edges).label
    known = np.zeros(len(faces), bool)
    for left in range(_ROUNDS, -1, -1):
        wet = known.copy()
        if enclosed is not None:
            wet = wet_faces(upright, faces, edges, space, enclosed, known)
        if inside is None:
            wet |= hollow & ~_touched(wet, metal)[metal]  # sealed hollows too small for the grid
        if not wet.any():
            return ()
        first = Wall(surface.vertices, faces, wet, examination.shells.label)
        wall = cut_over_rims(first, surface.tolerance)
        closed, wall = _close(wall, where)
        if not (bad := _spoilt(wall, closed)):
            break
        crossed = _crossed(first, _close(first, where)[0])
        if not crossed.any() or left == 0:
            raise _crosses(bad, closed.openings, where)
        known |= crossed  # a lip that hangs behind the mouth: the liquid's space reaches round it
    _account(wall, closed, where)
    surface = Surface(closed.vertices, wall.faces)
    return _sorted_cavities(surface, wall.faces, wall.wet, wall.shell, closed, enclosed)


def _parted_by_shell(corners: Array, label: Ints, places: Array) -> bool:
    """Whether a shell, -1 for faces to leave out, closes round one of two places (2, 3) and not the other."""
    for k in np.unique(label[label >= 0]):
        within = np.abs(winding_numbers(corners[label == k], places)) > 0.5
        if within[0] != within[1]:
            return True
    return False


def _close(wall: Wall, where: str) -> tuple[Closed, Wall]:
    """Close the mouths of a wall; loose metal that stands in the liquid is wetted too."""
    edges = edges_of(wall.faces)
    loops = boundary_loops(wall.faces, edges, wall.wet)
    closed = close_mouths(wall.vertices, wall.faces, loops, where)
    liquid = _liquid(wall, closed)
    whole = Surface(closed.vertices, wall.faces)
    islands = _islands(whole, wall.faces, wall.wet, shells_of(edges).label, liquid)
    return closed, wall._replace(wet=wall.wet | islands)


def _liquid(wall: Wall, closed: Closed) -> Ints:
    return np.concatenate([wall.faces[wall.wet], *closed.caps])[:, ::-1]


def _outer(wall: Wall, closed: Closed) -> Ints:
    """The faces that bound what is outside: dry metal, and caps seen from there."""
    return np.concatenate([wall.faces[~wall.wet], *(cap[:, ::-1] for cap in closed.caps)])


def _crossed(wall: Wall, closed: Closed) -> Bools:
    """Faces (F,) of the metal that are not wetted and that caps cross."""
    dry, kept = np.flatnonzero(~wall.wet), _outer(wall, closed)
    tolerance = Surface(closed.vertices, kept).tolerance
    found = find_crossings(closed.vertices, kept, edges_of(kept).twin, tolerance)
    pairs = np.stack([found.face, found.other])
    pairs = pairs[:, (pairs < len(dry)).sum(axis=0) == 1]
    return np.isin(np.arange(len(wall.faces)), dry[pairs[pairs < len(dry)]])


def _own_axes(corners: Array) -> Array:
    """Axes (3, 3) in rows that most of the area looks along: how the mesh was turned does not matter."""
    normal = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    first = _dominant(normal)
    second = _dominant(normal - np.outer(normal @ first, first))
    second -= (second @ first) * first
    second /= np.linalg.norm(second)
    return np.stack([first, second, np.cross(first, second)])


def _dominant(vectors: Array) -> Array:
    """Direction that carries the most length of vectors (N, 3), those within a degree taken together."""
    length = np.linalg.norm(vectors, axis=1)
    long = length > 1e-9 * length.max()
    unit = vectors[long] / length[long, None]
    unit *= np.where(unit[np.arange(len(unit)), np.abs(unit).argmax(axis=1)] < 0.0, -1.0, 1.0)[
        :, None
    ]
    _, group = np.unique(np.rint(57.0 * unit), axis=0, return_inverse=True)
    weight = np.bincount(group.ravel(), length[long])
    members = group.ravel() == int(np.argmax(weight))
    mean = (unit[members] * length[long][members, None]).sum(axis=0)
    return np.asarray(mean / np.linalg.norm(mean))


def _touched(wet: Bools, label: Ints) -> Bools:
    touched = np.zeros(label.max() + 1, bool)
    touched[label[wet]] = True
    return touched


def _islands(surface: Surface, faces: Ints, wet: Bools, metal: Ints, liquid: Ints) -> Bools:
    """Faces of loose metal that stands in the liquid and that the grid did not tell."""
    dry = np.flatnonzero(~_touched(wet, metal))
    first = np.asarray([int(np.argmax(metal == k)) for k in dry], np.int64)
    if len(first) == 0:
        return np.zeros(len(faces), bool)
    points = surface.vertices[faces[first, 0]]
    within = np.abs(winding_numbers(surface.vertices[liquid], points)) > 0.5
    return np.isin(metal, dry[within])


def _spoilt(wall: Wall, closed: Closed) -> list[Finding]:
    """What is wrong with caps over mouths, on either side of them."""
    for kept in (_liquid(wall, closed), _outer(wall, closed)):
        if len(kept) and closed.caps:
            findings = examine(Surface(closed.vertices, kept)).findings
            if bad := [finding for finding in findings if _spoils(finding.kind)]:
                return bad
    return []


def _crosses(bad: list[Finding], openings: list[Opening], where: str) -> MeshError:
    """Refuse a cap that crosses metal: where, over which opening, and what helps."""
    at = bad[0].places[0]
    over = min(openings, key=lambda o: float(np.linalg.norm(np.subtract(o.centre, at))) - o.reach)
    return MeshError(
        f"a cap over a mouth of the wall would cross metal, near {place_words(at, '')}: the mouth at "
        f"{place_words(over.centre, '')}, {2.0 * over.reach:.4g} across at its widest (the file's unit)",
        where=where,
        allowed="openings with a rim that a cap can close",
        next_step="close that opening in the drawing, or state another width (seal); say 'liquid' if the "
        "surface is the boundary of the liquid",
    )


def _account(wall: Wall, closed: Closed, where: str) -> None:
    """Refuse unless all metal that is not wetted lies out of the liquid."""
    edges, wet, liquid = edges_of(wall.faces), wall.wet, _liquid(wall, closed)
    parted = np.where(wet[np.arange(len(edges.twin)) // 3] == wet[edges.twin // 3], edges.twin, -1)
    label = shells_of(Edges(parted, np.zeros(len(parted), bool))).label
    corners = closed.vertices[wall.faces]
    area = np.linalg.norm(
        np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]), axis=1
    )
    order = np.lexsort((-area, label))
    greatest = order[np.unique(label[order], return_index=True)[1]]
    dry = greatest[~wet[greatest]]
    held = np.abs(winding_numbers(closed.vertices[liquid], corners[dry].mean(axis=1))) > 0.5
    if held.any():
        lost = dry[int(np.argmax(held))]
        place = corners[lost].mean(axis=0)
        raise MeshError(
            "metal inside the cavity was not told as wetted: a plate or a body would be lost, at "
            + place_words((float(place[0]), float(place[1]), float(place[2])), ""),
            where=where,
            next_step="state a point of the space that is meant (inside), or another width (seal)",
        )


def _spoils(kind: str) -> bool:
    return kind in ("self-crossing", "overlapping faces", "leaking", "duplicate faces")


def _sorted_cavities(
    surface: Surface,
    faces: Ints,
    wet: Bools,
    shell: Ints,
    closed: Closed,
    enclosed: Enclosed | None,
) -> tuple[Cavity, ...]:
    """Take the liquid's surface apart into spaces, with the openings of each."""
    openings, caps = closed.openings, closed.caps
    liquid = Surface(surface.vertices, np.concatenate([faces[wet], *caps])[:, ::-1])
    examined = examine(liquid)
    shells = nest(liquid, examined)
    of_metal = shell[wet]
    begin = np.cumsum([int(wet.sum()), *(len(cap) for cap in caps)])
    found = []
    for body in liquid_bodies(liquid, examined, shells):
        own = np.isin(examined.shells.label, np.asarray(body.shells) - 1)
        mine = [o for o, at in zip(openings, begin, strict=False) if own[at]]
        bounds = tuple(int(n) + 1 for n in np.unique(of_metal[own[: len(of_metal)]]))
        cavity = Cavity(body.volume, _ordered(mine), body.faces, surface.vertices, bounds)
        if enclosed is not None:
            vessel = enclosed.nested is not None
            cavity = replace(cavity, seal=enclosed.width, others=enclosed.others, vessel=vessel)
        found.append(cavity)
    return tuple(
        sorted(
            (c for c in found if c.volume > 0.0),
            key=lambda c: (-round(c.volume / found[0].volume, 6), *_low(surface, c)),
        )
    )


def _low(surface: Surface, cavity: Cavity) -> tuple[float, ...]:
    return tuple(np.round(surface.vertices[cavity.faces].min(axis=(0, 1)), 6).tolist())


def _ordered(openings: list[Opening]) -> tuple[Opening, ...]:
    """Greatest first; equal ones by their place, so that the order of the faces does not matter."""
    if not openings:
        return ()
    size = 1e-4 * max(o.area for o in openings) ** 0.5
    return tuple(
        sorted(
            openings,
            key=lambda o: (-round(o.area**0.5 / size), *(round(c / size) for c in o.centre)),
        )
    )
