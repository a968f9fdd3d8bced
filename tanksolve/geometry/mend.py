"""The single steps of a repair: each gives the mended surface and says what it did.

Each step bounds how much it can have changed the volume. No step moves a vertex that is not at a
leak, and none turns a shell that was wound of one piece: a void stays a void.
"""

from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.findings import Place, counted
from tanksolve.geometry.holes import Hole, find_holes
from tanksolve.geometry.mesh_checks import Surface
from tanksolve.kernel.topology.edges import NO_TWIN, edges_of, shells_of

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "Mended",
    "close_holes",
    "drop_collapsed",
    "drop_duplicates",
    "join_equal_corners",
    "join_near_corners",
    "stitch_edges",
    "turn_flipped",
]

_SHOWN = 3
_ROUNDS = 4  # an edge may be divided again where its face has another open edge
_MAJORITY = 0.75  # share of a shell's area that settles which way it looked


@dataclass(frozen=True)
class Mended:
    """One step of a repair.

    Attributes
    ----------
    kind : ``duplicate faces``, ``near corners``, ``small holes``, ``flipped faces``, ...
    count : how many; places : up to three, in the file's coordinates.
    words : what was done, for people.
    volume_bound : by how much the volume can have changed at most, file's unit cubed.
    """

    kind: str
    count: int
    places: tuple[Place, ...]
    words: str
    volume_bound: float = 0.0


Step = tuple[Surface, Mended | None]


def drop_collapsed(surface: Surface) -> Step:
    """Tell of the faces that reading has left out: two of their corners were one point."""
    if not surface.dropped:
        return surface, None
    words = f"{counted(surface.dropped, 'face', 'faces')} with two corners in one point left out"
    return Surface(surface.vertices, surface.faces), Mended(
        "collapsed faces", surface.dropped, (), words
    )


def drop_duplicates(surface: Surface) -> Step:
    """Leave one of faces that are equal, and none of two that lie back to back."""
    rows = np.sort(surface.faces, axis=1)
    _, group = np.unique(rows, axis=0, return_inverse=True)
    group = group.ravel()
    if group.max(initial=-1) + 1 == len(rows):
        return surface, None
    # +1 for faces whose corners run as the sorted row does, -1 for the others
    first = np.argmin(surface.faces, axis=1)
    after = np.take_along_axis(surface.faces, ((first + 1) % 3)[:, None], axis=1)[:, 0]
    sense = np.where(after == rows[:, 1], 1, -1)
    net = np.zeros(group.max() + 1, np.int64)
    np.add.at(net, group, sense)
    order = np.argsort(group * 4 - sense * np.sign(net[group]), kind="stable")
    leading = np.ones(len(order), bool)
    leading[1:] = group[order][1:] != group[order][:-1]
    keep = np.zeros(len(rows), bool)
    keep[order[leading]] = True
    keep &= net[group] != 0
    gone = np.flatnonzero(~keep)
    words = f"{counted(len(gone), 'face', 'faces')} that lay on another left out"
    return Surface(surface.vertices, surface.faces[keep]), Mended(
        "duplicate faces", len(gone), _middles(surface, gone), words
    )


def join_equal_corners(surface: Surface) -> Step:
    """Where a mesh leaks or is crowded, join all corners that are equal but for rounding.

    Rounding is the surface's tolerance, a millionth of its size; faces narrower than that vanish.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    edges = edges_of(surface.faces)
    if (edges.twin >= 0).all():
        return surface, None
    number = len(surface.vertices)
    pairs = cKDTree(surface.vertices).query_pairs(surface.tolerance, output_type="ndarray")
    if len(pairs) == 0:
        return surface, None
    graph = coo_array((np.ones(len(pairs)), (pairs[:, 0], pairs[:, 1])), shape=(number, number))
    _, cluster = connected_components(graph, directed=False)
    _, first = np.unique(cluster, return_index=True)
    target = first[cluster]
    moved = np.flatnonzero(target != np.arange(number))
    ways = np.linalg.norm(surface.vertices[moved] - surface.vertices[target[moved]], axis=1)
    faces = target[surface.faces]
    whole = (faces != np.roll(faces, 1, axis=1)).all(axis=1)
    touched = np.isin(surface.faces, moved).any(axis=1)
    bound = float(ways.max()) * float(_areas(surface)[touched].sum())
    words = (
        f"{counted(len(moved), 'corner', 'corners')} joined to another that was equal but for "
        f"{float(ways.max()):.2g}"
    )
    places = tuple(_place(surface.vertices[v]) for v in moved[:_SHOWN])
    return Surface(surface.vertices, faces[whole]), Mended(
        "equal corners", len(moved), places, words, bound
    )


def join_near_corners(surface: Surface, gap: float) -> Step:
    """Join corners of open edges that lie within ``gap`` of each other, each cluster in its middle.

    A cluster wider than four gaps, or one that would collapse a face, is left alone. A moved corner
    can sweep no more than a third of the area of the faces on it times its way.
    """
    from scipy.sparse import coo_array
    from scipy.sparse.csgraph import connected_components
    from scipy.spatial import cKDTree

    corners = _open_corners(surface)
    if len(corners) == 0 or gap <= 0.0:
        return surface, None
    points = surface.vertices[corners]
    pairs = cKDTree(points).query_pairs(gap, output_type="ndarray")
    if len(pairs) == 0:
        return surface, None
    graph = coo_array((np.ones(len(pairs)), tuple(pairs.T)), shape=(len(corners), len(corners)))
    count, label = connected_components(graph, directed=False)
    size = np.bincount(label)
    middle = np.stack([np.bincount(label, points[:, k]) / size for k in range(3)], axis=1)
    way = np.linalg.norm(points - middle[label], axis=1)
    fits = (size > 1) & (np.bincount(label, way > 2.0 * gap) == 0)
    cluster = np.full(len(surface.vertices), -1)
    cluster[corners] = np.where(fits[label], label, -1)
    of_face = cluster[surface.faces]
    for k in range(3):
        twice = (of_face[:, k] >= 0) & (of_face[:, k] == of_face[:, (k + 1) % 3])
        fits[of_face[twice, k]] = False
    joined = fits[label]
    if not joined.any():
        return surface, None
    target = np.arange(len(surface.vertices))
    first = np.full(count, -1)
    first[label[::-1]] = corners[::-1]
    target[corners[joined]] = first[label[joined]]
    vertices = surface.vertices.copy()
    vertices[first[fits]] = middle[fits]
    moved = np.isin(surface.faces, corners[joined]).any(axis=1)
    farthest = float(way[joined].max())
    bound = farthest * float(_areas(surface)[moved].sum())
    places = tuple(_place(middle[k]) for k in np.flatnonzero(fits)[:_SHOWN])
    words = (
        f"{counted(int(fits.sum()), 'group', 'groups')} of corners joined, moved by at most "
        f"{farthest:.3g}"
    )
    mended = Mended("near corners", int(fits.sum()), places, words, bound)
    return Surface(vertices, target[surface.faces]), mended


def _open_corners(surface: Surface) -> Ints:
    loose = np.flatnonzero(edges_of(surface.faces).twin == NO_TWIN)
    ends = surface.faces[loose // 3, loose % 3], surface.faces[loose // 3, (loose + 1) % 3]
    return np.unique(np.concatenate(ends))


def stitch_edges(surface: Surface, gap: float) -> Step:
    """Divide open edges at the corners of other faces that lie on them (within ``gap``).

    Where three faces meet two along one line, the slit between them has no width but leaks.
    """
    from scipy.spatial import cKDTree

    divided, places, farthest, swept = 0, list[Place](), 0.0, 0.0
    for _ in range(_ROUNDS):
        edges = edges_of(surface.faces)
        loose = np.flatnonzero(edges.twin == NO_TWIN)
        corners = _open_corners(surface)
        if len(loose) == 0:
            break
        tree = cKDTree(surface.vertices[corners])
        new, gone = list[list[int]](), set[int]()
        for h in loose.tolist():
            f, k = divmod(h, 3)
            if f in gone:
                continue
            a, b, c = (int(surface.faces[f, (k + m) % 3]) for m in range(3))
            start, end = surface.vertices[a], surface.vertices[b]
            step = end - start
            length = float(np.linalg.norm(step))
            near = corners[tree.query_ball_point(0.5 * (start + end), 0.5 * length + gap)]
            near = near[~np.isin(near, (a, b, c))]
            share = (surface.vertices[near] - start) @ step / max(length * length, 1e-300)
            off = np.linalg.norm(surface.vertices[near] - start - share[:, None] * step, axis=1)
            on = (off <= gap) & (share * length > gap) & ((1.0 - share) * length > gap)
            if not on.any():
                continue
            row = [a, *near[on][np.argsort(share[on])].tolist(), b]
            new += [[p, q, c] for p, q in pairwise(row)]
            gone.add(f)
            divided += 1
            places.append(_place(surface.vertices[row[1]]))
            farthest = max(farthest, float(off[on].max()))
        if not new:
            break
        swept += float(_areas(surface)[sorted(gone)].sum())
        kept = np.delete(surface.faces, sorted(gone), axis=0)
        surface = Surface(surface.vertices, np.vstack([kept, np.asarray(new, np.int64)]))
    if divided == 0:
        return surface, None
    words = f"{counted(divided, 'edge', 'edges')} divided where corners of others lie on them"
    return surface, Mended("T-junctions", divided, tuple(places[:_SHOWN]), words, farthest * swept)


def close_holes(surface: Surface, widest: float) -> Step:
    """Close nearly flat holes up to ``widest`` with triangles between their corners.

    What the missing surface held is not known: a bulge as deep as the hole is wide is the bound.
    """
    holes = [
        hole
        for hole in find_holes(surface, edges_of(surface.faces))
        if hole.closed and hole.width <= widest
    ]
    patches, closed, bound = [], [], 0.0
    for hole in holes:
        cap = _cap(surface, hole)
        if cap is not None:
            patches.append(cap)
            closed.append(hole)
            bound += hole.width * float(_areas(Surface(surface.vertices, cap)).sum())
    if not closed:
        return surface, None
    words = (
        f"{counted(len(closed), 'hole', 'holes')} closed, the widest {closed[0].width:.3g} across"
    )
    mended = Mended(
        "small holes", len(closed), tuple(hole.centre for hole in closed[:_SHOWN]), words, bound
    )
    return Surface(surface.vertices, np.concatenate([surface.faces, *patches])), mended


def _cap(surface: Surface, hole: Hole) -> Ints | None:
    from manifold3d import triangulate

    points = surface.vertices[hole.vertices]
    spokes = points - points.mean(axis=0)
    normal = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0)).sum(axis=0)
    area = float(np.linalg.norm(normal))
    if area <= 0.0:
        return None
    normal /= area
    side = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    side /= np.linalg.norm(side)
    flat = np.stack([spokes @ side, spokes @ np.cross(normal, side)], axis=1)
    triangles = np.asarray(triangulate([flat]), np.int64)
    if len(triangles) != len(hole.vertices) - 2:
        return None
    return np.asarray(hole.vertices[triangles])


def turn_flipped(surface: Surface) -> Step:
    """Turn faces that are wound against their shell; the way that most of its area looks holds.

    A shell whose sides are nearly even is left as it is, and the check afterwards refuses it.
    """
    edges = edges_of(surface.faces)
    shells = shells_of(edges)
    areas = _areas(surface)
    total, against = np.zeros(shells.number), np.zeros(shells.number)
    np.add.at(total, shells.label, areas)
    np.add.at(against, shells.label, np.where(shells.flipped, areas, 0.0))
    share = against / np.maximum(total, 1e-300)
    turn_minority = (share > 0.0) & (share <= 1.0 - _MAJORITY)
    turn_others = share >= _MAJORITY
    turned = np.where(
        shells.flipped, turn_minority[shells.label], (turn_others & (share < 1.0))[shells.label]
    )
    wrong = np.flatnonzero(turned)
    if len(wrong) == 0:
        return surface, None
    faces = surface.faces.copy()
    faces[wrong] = faces[wrong][:, ::-1]
    words = f"{counted(len(wrong), 'face', 'faces')} turned to look as the neighbours do"
    return Surface(surface.vertices, faces), Mended(
        "flipped faces", len(wrong), _middles(surface, wrong), words
    )


def _areas(surface: Surface) -> Array:
    a, b, c = (surface.vertices[surface.faces[:, k]] for k in range(3))
    return np.asarray(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1))


def _place(point: Array) -> Place:
    return float(point[0]), float(point[1]), float(point[2])


def _middles(surface: Surface, faces: Ints) -> tuple[Place, ...]:
    return tuple(
        _place(middle) for middle in surface.vertices[surface.faces[faces[:_SHOWN]]].mean(axis=1)
    )
