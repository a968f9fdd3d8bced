"""Closes the mouths of a metal wall on its mesh: a cap over a loop, a band between two along a gap."""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.findings import place_words

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "ALONGSIDE",
    "Closed",
    "Mouth",
    "Opening",
    "band_area",
    "close_mouths",
    "mouth_of",
    "opposite",
]

ALONGSIDE = 0.15  # of the loop's width: two loops nearer than that all along are the sides of a gap
_ROUND = 1.06  # of the circle of the same area: eight sides are a circle still
_FLAT = 1e-4  # of a mouth's width: a rim no farther out of its plane is closed in that plane


@dataclass(frozen=True)
class Opening:
    """An opening that was closed.

    Attributes
    ----------
    centre : (3,) in its middle, as deep as its rim reaches into the liquid; facing : (3,) unit, out of the
        liquid; file's frame and unit. Of a rim that is bent, as in a round wall, no point lies deeper: a
        breather there is not told to flood later than its rim.
    area : seen along ``facing``, file's unit squared; reach : from the centre to the farthest point of the rim.
    rim : its corners, of a gap those of this side.
    gap : width of a gap that runs all round, else 0; across : its other side, the outer one.
    sill : whether a gap is reached over this side alone, where this side faces up: the gap looks back.
    """

    centre: tuple[float, float, float]
    facing: tuple[float, float, float]
    area: float
    reach: float
    rim: tuple[tuple[float, float, float], ...] = ()
    gap: float = 0.0
    across: "Opening | None" = None
    sill: bool = False

    @property
    def round(self) -> bool:
        """Whether it is a circle, to within its facets."""
        return not self.gap and self.reach < _ROUND * float(np.sqrt(self.area / np.pi))

    @property
    def bore(self) -> float:
        """Diameter of the circle of the same area; of a hatch or a gap, of the circle round it: file's unit."""
        return float(2.0 * (np.sqrt(self.area / np.pi) if self.round else self.reach))


@dataclass(frozen=True)
class Closed:
    """Mouths that were closed.

    Attributes
    ----------
    openings : one for each cap; caps : of each the faces (T, 3), turned as the metal is.
    vertices : (N + M, 3) those of the metal, and the middles of caps over bent rims.
    """

    openings: list[Opening]
    caps: list[Ints] = field(repr=False)
    vertices: Array = field(repr=False)


@dataclass(frozen=True)
class Mouth:
    """A loop of vertices (K,), with the wetted metal on its left; its area vector and centre."""

    vertices: Ints
    vector: Array
    centre: Array

    @property
    def area(self) -> float:
        """Area seen square on, file's unit squared."""
        return float(np.linalg.norm(self.vector))


def close_mouths(vertices: Array, faces: Ints, loops: list[Ints], where: str = "") -> Closed:
    """Close all mouths with caps that do not depend on where the file begins a rim or how it is turned.

    Raises MeshError where a loop winds about so that no flat cap closes it.
    """
    mouths = [mouth_of(vertices, faces[loop // 3, loop % 3]) for loop in loops]
    done = Closed([], [], vertices)
    left = sorted(range(len(mouths)), key=lambda k: -mouths[k].area)
    while left:
        one = mouths[left.pop(0)]
        other = next((k for k in left if _alongside(vertices, one, mouths[k])), None)
        if other is not None:
            left.remove(other)
            done.caps.append(_band(vertices, one, mouths[other]))
            done.openings.append(_gap(vertices, one, mouths[other], done.caps[-1]))
        else:
            done = _with_disc(done, one, where)
    return done


def mouth_of(vertices: Array, ring: Ints) -> Mouth:
    """The mouth that a loop of vertices (K,), walked with the wetted metal on its left, goes round.

    Its middle is that of the fan of faces from the middle of its edges: more vertices along the same edges,
    or another one to begin with, do not move it.
    """
    ring = ring[::-1]  # the cap closes the metal, so its border runs against the loop
    points = vertices[ring]
    ahead = np.roll(points, -1, axis=0)
    lengths = np.linalg.norm(ahead - points, axis=1)
    middle = 0.5 * lengths @ (points + ahead) / max(float(lengths.sum()), 1e-300)
    spokes = points - middle
    parts = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0))
    vector = parts.sum(axis=0)
    area = float(np.linalg.norm(vector))
    weights = parts @ (vector / max(area, 1e-300))
    centre = middle + (spokes + np.roll(spokes, -1, axis=0)).T @ weights / max(3.0 * area, 1e-300)
    return Mouth(ring, vector, centre)


def _with_disc(done: Closed, mouth: Mouth, where: str) -> Closed:
    """Close a mouth by itself."""
    ring, facing = mouth.vertices, -mouth.vector / max(mouth.area, 1e-300)
    rim = done.vertices[ring] - mouth.centre
    side = np.cross(-facing, np.eye(3)[int(np.argmin(np.abs(facing)))])
    side /= max(float(np.linalg.norm(side)), 1e-300)
    flat, out = rim @ np.stack([side, np.cross(-facing, side)]).T, rim @ facing
    vertices = done.vertices
    if np.abs(out).max() > _FLAT * np.sqrt(mouth.area) and _seen_from_middle(flat):
        # which diagonals a flat cap is given hangs on the last bit of round rims; a fan on nothing
        cap = np.stack([ring, np.roll(ring, -1), np.full(len(ring), len(vertices))], axis=1)
        vertices = np.concatenate([vertices, mouth.centre[None]])
    else:
        cap = _flat_cap(ring, flat, mouth, where)
    middle = mouth.centre + float(out.min()) * facing
    reach = _reach(middle, done.vertices[ring])
    along = _rim(done.vertices, mouth)
    opening = Opening(_triple(middle), _triple(facing), mouth.area, reach, rim=along)
    return Closed([*done.openings, opening], [*done.caps, cap], vertices)


def _seen_from_middle(flat: Array) -> bool:
    """Tell whether a ring (K, 2) about the origin is walked once and never back, seen from there."""
    ahead = np.roll(flat, -1, axis=0)
    turned = flat[:, 0] * ahead[:, 1] - flat[:, 1] * ahead[:, 0]
    angle = np.arctan2(turned, np.einsum("ij,ij->i", flat, ahead))
    return bool(angle.min() > 0.0 and abs(angle.sum() - 2.0 * np.pi) < 1e-6)


def _flat_cap(ring: Ints, flat: Array, mouth: Mouth, where: str) -> Ints:
    from manifold3d import triangulate

    if len(set(ring.tolist())) == len(ring):
        cap = np.asarray(triangulate([flat]), np.int64).reshape(-1, 3)
        if len(cap) == len(ring) - 2:
            return np.asarray(ring[cap])
    raise MeshError(
        f"a mouth of the wall winds about so that no flat cap closes it, at "
        f"{place_words(_triple(mouth.centre), '')} (the file's unit)",
        where=where,
        allowed="openings with a rim that a cap can close",
        next_step="close that opening in the drawing",
    )


def opposite(one: Mouth, other: Mouth) -> bool:
    """Tell whether two loops run opposite ways, as the sides of a gap all round do."""
    return float(one.vector @ other.vector) <= -0.5 * one.area * other.area


def _alongside(vertices: Array, one: Mouth, other: Mouth) -> bool:
    """Tell whether two loops run beside each other, opposite ways: the sides of a gap all round."""
    from scipy.spatial import cKDTree

    if not opposite(one, other):
        return False
    near = ALONGSIDE * np.sqrt(other.area)
    a, b = _points_along(vertices, one), _points_along(vertices, other)
    return bool(cKDTree(a).query(b)[0].max() < near and cKDTree(b).query(a)[0].max() < near)


def _points_along(vertices: Array, mouth: Mouth) -> Array:
    start = vertices[mouth.vertices]
    step = np.roll(start, -1, axis=0) - start
    share = np.arange(0.0, 1.0, 1.0 / 24.0)[:, None, None]
    return np.asarray((start + share * step).reshape(-1, 3))


def _band(vertices: Array, one: Mouth, other: Mouth) -> Ints:
    """Triangles between two loops, by the shorter diagonal at each step."""
    a, b = one.vertices, other.vertices[::-1]
    p, q = vertices[a], vertices[b]
    apart = np.linalg.norm(p[:, None] - q[None], axis=2)
    i0, j0 = np.unravel_index(int(np.argmin(apart)), apart.shape)
    a, b = np.roll(a, -i0), np.roll(b, -j0)
    p, q = vertices[a], vertices[b]
    n, m, i, j, cap = len(a), len(b), 0, 0, []
    while i < n or j < m:
        ahead = np.linalg.norm(p[(i + 1) % n] - q[j % m]) if i < n else np.inf
        across = np.linalg.norm(p[i % n] - q[(j + 1) % m]) if j < m else np.inf
        if ahead <= across:
            cap.append((a[i % n], a[(i + 1) % n], b[j % m]))
            i += 1
        else:
            cap.append((a[i % n], b[(j + 1) % m], b[j % m]))
            j += 1
    return np.asarray(cap, np.int64)


def band_area(vertices: Array, one: Mouth, other: Mouth) -> float:
    """Area of the band that closes the gap between two loops."""
    return float(np.linalg.norm(_vectors(vertices, _band(vertices, one, other)), axis=1).sum())


def _vectors(vertices: Array, faces: Ints) -> Array:
    corners = vertices[faces]
    return np.asarray(0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0]))


def _gap(vertices: Array, one: Mouth, other: Mouth, cap: Ints) -> Opening:
    parts = _vectors(vertices, cap)
    area = float(np.linalg.norm(parts, axis=1).sum())
    points = vertices[one.vertices]
    round_it = float(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum())
    reach = max(_reach(a.centre, vertices[b.vertices]) for a in (one, other) for b in (one, other))
    outer, inner = (
        Opening(
            *(_triple(side.centre), _triple(-side.vector / max(side.area, 1e-300)), area, reach),
            rim=_rim(vertices, side),
            gap=area / round_it,
        )
        for side in (one, other)
    )
    sill = bool((parts @ np.asarray(inner.facing) > 0.0).all())  # the cap looks into the liquid
    return replace(inner, across=outer, sill=sill)


def _rim(vertices: Array, mouth: Mouth) -> tuple[tuple[float, float, float], ...]:
    return tuple(_triple(point) for point in vertices[mouth.vertices])


def _reach(centre: Array, rim: Array) -> float:
    return float(np.linalg.norm(rim - centre, axis=1).max())


def _triple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
