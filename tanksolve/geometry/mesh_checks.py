"""What is wrong with a mesh, found in one go: each fault with its number, its places and a remedy.

A mesh can bound liquid when it is closed, every face looks out of the liquid, and nothing crosses.
``examine`` finds what stands in the way.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.findings import Finding, Place, counted
from tanksolve.kernel.topology.crossing import find_crossings
from tanksolve.kernel.topology.edges import (
    CROWDED,
    NO_TWIN,
    Edges,
    Shells,
    edges_of,
    face_volumes,
    merge_equal,
    shells_of,
)
from tanksolve.kernel.topology.face_pairs import CROSSES

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["MAX_SHELLS", "Examination", "Surface", "examine", "merged"]

MAX_SHELLS = 1000
_SHOWN = 3  # places told for each fault
_WELDED = 'bodies that touch or overlap are welded where all are taken (--body all, in a tank file body = "all")'
_FLAT = 1e-12  # volume, relative to the cube of the mesh's size, that counts as none


@dataclass(frozen=True)
class Surface:
    """A mesh as it came from the file, equal corners merged.

    Attributes
    ----------
    vertices : (N, 3) float, the file's frame and unit; faces : (F, 3) int.
    dropped : faces left out because two of their corners are one point; they bound nothing.
    """

    vertices: Array = field(repr=False)
    faces: Ints = field(repr=False)
    dropped: int = 0

    @property
    def size(self) -> float:
        """Diagonal of the enclosing box, file's unit."""
        return float(np.linalg.norm(np.ptp(self.vertices, axis=0)))

    @property
    def tolerance(self) -> float:
        """Length below which a crossing is the file's rounding: a millionth of the size, or four
        units in the last place of single precision where the mesh lies far from its origin.
        """
        return max(1e-6 * self.size, 2.0**-22 * float(np.abs(self.vertices).max()))


@dataclass(frozen=True)
class Examination:
    """All findings on a surface, and how its faces hang together."""

    findings: tuple[Finding, ...]
    edges: Edges = field(repr=False)
    shells: Shells = field(repr=False)
    shell_volumes: Array = field(repr=False)


def merged(corners: Array) -> Surface:
    """Merge equal corners of faces (F, 3, 3), to the last bit, and leave out collapsed faces."""
    points = corners.reshape(-1, 3)
    first, inverse = merge_equal(points)
    faces = inverse.reshape(-1, 3)
    a, b, c = faces.T
    whole = (a != b) & (b != c) & (c != a)
    dropped = int(len(faces) - whole.sum())
    return Surface(points[first] + 0.0, faces[whole] if dropped else faces, dropped)


def examine(surface: Surface) -> Examination:
    """Find everything that is wrong with a surface; raises nothing.

    The order of the findings is the order in which to mend them: a leak makes the volume
    meaningless, so the volume is judged only where there is none.
    """
    edges = edges_of(surface.faces)
    shells = shells_of(edges)
    volumes = face_volumes(surface.vertices, surface.faces, surface.vertices.mean(axis=0))
    per_shell = np.zeros(shells.number)
    np.add.at(per_shell, shells.label, volumes)
    volume = float(np.abs(per_shell).sum())
    ajar = [
        *_open_edges(surface, edges),
        *_crowded_edges(surface, edges),
        *_flipped(surface, edges, shells),
    ]
    findings = [*_duplicates(surface, edges), *ajar]
    if shells.number > MAX_SHELLS:
        findings.append(_too_many(shells))
    if (not ajar and volume <= _FLAT * surface.size**3) or _is_flat(surface):
        findings.insert(0, _no_volume(surface, volume))
    elif not ajar and per_shell.max() <= 0.0:
        findings.append(_inside_out(surface, -volume))
    findings += _crossings(surface, edges)
    return Examination(tuple(findings), edges, shells, per_shell)


def _middles(surface: Surface, faces: Ints) -> tuple[Place, ...]:
    middles = surface.vertices[surface.faces[faces[:_SHOWN]]].mean(axis=1)
    return tuple((float(x), float(y), float(z)) for x, y, z in middles)


def _edge_middles(surface: Surface, half_edges: Ints) -> tuple[Place, ...]:
    chosen = half_edges[:_SHOWN]
    start = surface.faces[chosen // 3, chosen % 3]
    end = surface.faces[chosen // 3, (chosen + 1) % 3]
    middles = 0.5 * (surface.vertices[start] + surface.vertices[end])
    return tuple((float(x), float(y), float(z)) for x, y, z in middles)


def _duplicates(surface: Surface, edges: Edges) -> list[Finding]:
    # each edge of a doubled face is crowded or leads to its double
    beyond = np.where(edges.twin >= 0, edges.twin // 3, edges.twin).reshape(-1, 3)
    double = np.where(beyond == CROWDED, beyond.max(axis=1, keepdims=True), beyond)
    suspect = np.flatnonzero((beyond != NO_TWIN).all(axis=1) & (np.ptp(double, axis=1) == 0))
    rows = np.sort(surface.faces[suspect], axis=1)
    order = np.lexsort(rows.T[::-1])
    again = np.zeros(len(rows), bool)
    again[1:] = (rows[order][1:] == rows[order][:-1]).all(axis=1)
    doubled = suspect[np.sort(order[again])]
    if len(doubled) == 0:
        return []
    return [
        Finding(
            "duplicate faces",
            len(doubled),
            _middles(surface, doubled),
            f"{counted(len(doubled), 'face lies', 'faces lie')} on another with the same three corners",
            "delete the second copy, or 'tanksolve repair'",
        )
    ]


def _open_edges(surface: Surface, edges: Edges) -> list[Finding]:
    open_edges = np.flatnonzero(edges.twin == NO_TWIN)
    if len(open_edges) == 0:
        return []
    return [
        Finding(
            "leaking",
            len(open_edges),
            _edge_middles(surface, open_edges),
            f"{counted(len(open_edges), 'edge has', 'edges have')} a face on one side only",
            "close the surface there in the program that drew it; 'tanksolve repair' closes small "
            "holes and joins corners that nearly meet",
        )
    ]


def _crowded_edges(surface: Surface, edges: Edges) -> list[Finding]:
    crowded = np.flatnonzero(edges.twin == CROWDED)
    if len(crowded) == 0:
        return []
    ends = np.sort(
        np.stack([surface.faces.ravel(), np.roll(surface.faces, -1, axis=1).ravel()]), axis=0
    )[:, crowded]
    _, first = np.unique(ends, axis=1, return_index=True)
    return [
        Finding(
            "non-manifold edges",
            len(first),
            _edge_middles(surface, crowded[np.sort(first)]),
            f"{counted(len(first), 'edge has', 'edges have')} more than two faces: bodies touch there, or a sheet "
            "is attached, and whether liquid passes there is not defined",
            f"{_WELDED}; part bodies that should not be one, delete loose sheets",
        )
    ]


def _flipped(surface: Surface, edges: Edges, shells: Shells) -> list[Finding]:
    if not edges.same_way.any():
        return []
    half = np.flatnonzero(edges.twin >= 0)
    one, other = shells.flipped[half // 3], shells.flipped[edges.twin[half] // 3]
    torn = half[(one != other) != edges.same_way[half]]
    if len(torn):
        return [
            Finding(
                "one-sided",
                len(torn) // 2,
                _edge_middles(surface, torn),
                f"the surface has no inside: its two sides join at "
                f"{counted(len(torn) // 2, 'edge', 'edges')}, as in a Moebius band",
                "draw the tank as a closed body",
            )
        ]
    # Within a shell the smaller party counts as the flipped one.
    of_shell = np.bincount(shells.label, minlength=shells.number)
    flipped = np.bincount(shells.label[shells.flipped], minlength=shells.number)
    swap = (2 * flipped > of_shell)[shells.label]
    wrong = np.flatnonzero(shells.flipped != swap)
    return [
        Finding(
            "flipped faces",
            len(wrong),
            _middles(surface, wrong),
            f"{counted(len(wrong), 'face is', 'faces are')} wound against the neighbours",
            "unify the normals in the program that drew it, or 'tanksolve repair'",
        )
    ]


def _is_flat(surface: Surface) -> bool:
    """Tell whether all vertices lie in one plane, to a ten-millionth of the size."""
    spread = np.linalg.eigvalsh(np.cov(surface.vertices.T, bias=True))
    return bool(spread[0] <= (1e-7 * surface.size) ** 2)


def _no_volume(surface: Surface, volume: float) -> Finding:
    return Finding(
        "zero volume",
        len(surface.faces),
        _middles(surface, np.arange(1)),
        f"the surface bounds no volume ({volume:g} cubic units)",
        "a sheet has to be thickened to a closed body first",
    )


def _too_many(shells: Shells) -> Finding:
    return Finding(
        "too many pieces",
        shells.number,
        (),
        f"the file holds {shells.number} separate pieces, more than {MAX_SHELLS}",
        "leave out what is not the tank, or unite the pieces",
    )


def _tangled(surface: Surface) -> Finding:
    return Finding(
        "tangled",
        len(surface.faces),
        (),
        "so many faces reach past so many others that whether they cross was not looked at to the end",
        "mesh the body anew with triangles of even size",
    )


def _inside_out(surface: Surface, volume: float) -> Finding:
    return Finding(
        "inside-out",
        len(surface.faces),
        (),
        f"the faces look into the liquid: the volume comes out negative ({volume:g} cubic units)",
        "flip all faces in the program that drew it, or 'tanksolve repair'",
    )


def _crossings(surface: Surface, edges: Edges) -> list[Finding]:
    found = find_crossings(surface.vertices, surface.faces, edges.twin, surface.tolerance)
    crossing = found.kind == CROSSES
    findings = [] if found.whole else [_tangled(surface)]
    if crossing.any():
        faces = np.flatnonzero(crossing)
        findings.append(
            Finding(
                "self-crossing",
                len(faces),
                tuple(_meeting(surface, found.face[k], found.other[k]) for k in faces[:_SHOWN]),
                f"{counted(len(faces), 'face crosses', 'faces cross')} another",
                f"{_WELDED}; or unite them in the program that drew them",
            )
        )
    if not crossing.all():
        faces = np.flatnonzero(~crossing)
        findings.append(
            Finding(
                "overlapping faces",
                len(faces),
                tuple(_meeting(surface, found.face[k], found.other[k]) for k in faces[:_SHOWN]),
                f"{counted(len(faces), 'face lies', 'faces lie')} partly upon another in the same plane",
                f"{_WELDED}; unfold faces of one body that lie upon each other",
            )
        )
    return findings


def _meeting(surface: Surface, i: int, j: int) -> Place:
    """A place where two faces meet: the mean of where the edges of each pierce the other, or for
    faces in one plane the middle of the smaller one.
    """
    a, b = surface.vertices[surface.faces[i]], surface.vertices[surface.faces[j]]
    points = [*_pierced(a, b), *_pierced(b, a)]
    if not points:
        points = list(a if _area(a) < _area(b) else b)
    x, y, z = np.mean(points, axis=0)
    return float(x), float(y), float(z)


def _area(corners: Array) -> float:
    n = np.cross(corners[1] - corners[0], corners[2] - corners[0])
    return float(np.linalg.norm(n))


def _pierced(edges_of_face: Array, face: Array) -> list[Array]:
    normal = np.cross(face[1] - face[0], face[2] - face[0])
    found = []
    for k in range(3):
        p, q = edges_of_face[k], edges_of_face[(k + 1) % 3]
        dp, dq = float(normal @ (p - face[0])), float(normal @ (q - face[0]))
        if dp * dq >= 0.0:
            continue
        x = p + dp / (dp - dq) * (q - p)
        sides = [normal @ np.cross(face[(m + 1) % 3] - face[m], x - face[m]) for m in range(3)]
        if min(sides) >= 0.0:
            found.append(x)
    return found
