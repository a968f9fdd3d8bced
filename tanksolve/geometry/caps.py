"""Closes the mouths of a metal wall on its mesh: a cap over a loop, a band between two along a gap."""

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.findings import place_words
from tanksolve.geometry.outline import outline_corners

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Opening", "close_mouths"]

_ALONGSIDE = (
    0.15  # of the loop's width: two loops nearer than that all along are the sides of a gap
)
_ROUND = 1.06  # of the circle of the same area: eight sides are a circle still


@dataclass(frozen=True)
class Opening:
    """An opening that was closed.

    Attributes
    ----------
    centre : (3,) a place on the cap, in its middle; facing : (3,) unit, out of the liquid; file's frame and
        unit.
    area : of the cap, file's unit squared; reach : from the centre to the farthest point of the rim.
    rim : corners whose convex hull holds the opening, of a gap that of this side.
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
class _Mouth:
    """A loop of vertices (K,), with the wetted metal on its left; its area vector and centre."""

    vertices: Ints
    vector: Array
    centre: Array

    @property
    def area(self) -> float:
        return float(np.linalg.norm(self.vector))


def close_mouths(
    vertices: Array, faces: Ints, loops: list[Ints], where: str = ""
) -> tuple[list[Opening], list[Ints]]:
    """Close all mouths: openings, and for each the faces (T, 3) of its cap, turned as the metal is.

    Raises MeshError where a loop winds about so that no flat cap closes it.
    """
    mouths = [_mouth(vertices, faces[loop // 3, loop % 3]) for loop in loops]
    openings, caps = [], []
    left = sorted(range(len(mouths)), key=lambda k: -mouths[k].area)
    while left:
        one = mouths[left.pop(0)]
        other = next((k for k in left if _alongside(vertices, one, mouths[k])), None)
        if other is not None:
            left.remove(other)
            caps.append(_band(vertices, one, mouths[other]))
            openings.append(_gap(vertices, one, mouths[other], caps[-1]))
        else:
            caps.append(_disc(vertices, one, where))
            # the cap's faces look out of the metal's side, into the liquid
            facing = -one.vector / max(one.area, 1e-300)
            middle = _on_cap(vertices[caps[-1]], one.centre, facing)
            reach = _reach(middle, vertices[one.vertices])
            rim = _corners(vertices, one)
            openings.append(Opening(_triple(middle), _triple(facing), one.area, reach, rim=rim))
    return openings, caps


def _mouth(vertices: Array, ring: Ints) -> _Mouth:
    """The cap closes the metal, so its border runs against the loop."""
    ring = ring[::-1]
    points = vertices[ring]
    middle = points.mean(axis=0)
    spokes = points - middle
    parts = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0))
    vector = parts.sum(axis=0)
    area = float(np.linalg.norm(vector))
    weights = parts @ (vector / max(area, 1e-300))
    centre = middle + (spokes + np.roll(spokes, -1, axis=0)).T @ weights / max(3.0 * area, 1e-300)
    return _Mouth(ring, vector, centre)


def _disc(vertices: Array, mouth: _Mouth, where: str) -> Ints:
    from manifold3d import triangulate

    normal = mouth.vector / max(mouth.area, 1e-300)
    side = np.cross(normal, np.eye(3)[int(np.argmin(np.abs(normal)))])
    side /= max(float(np.linalg.norm(side)), 1e-300)
    flat = (vertices[mouth.vertices] - mouth.centre) @ np.stack([side, np.cross(normal, side)]).T
    ring = mouth.vertices
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


def _alongside(vertices: Array, one: _Mouth, other: _Mouth) -> bool:
    """Tell whether two loops run beside each other, opposite ways: the sides of a gap all round."""
    from scipy.spatial import cKDTree

    if float(one.vector @ other.vector) > -0.5 * one.area * other.area:
        return False
    near = _ALONGSIDE * np.sqrt(other.area)
    a, b = _points_along(vertices, one), _points_along(vertices, other)
    return bool(cKDTree(a).query(b)[0].max() < near and cKDTree(b).query(a)[0].max() < near)


def _points_along(vertices: Array, mouth: _Mouth) -> Array:
    start = vertices[mouth.vertices]
    step = np.roll(start, -1, axis=0) - start
    share = np.arange(0.0, 1.0, 1.0 / 24.0)[:, None, None]
    return np.asarray((start + share * step).reshape(-1, 3))


def _band(vertices: Array, one: _Mouth, other: _Mouth) -> Ints:
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


def _gap(vertices: Array, one: _Mouth, other: _Mouth, cap: Ints) -> Opening:
    corners = vertices[cap]
    parts = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    area = float(np.linalg.norm(parts, axis=1).sum())
    points = vertices[one.vertices]
    round_it = float(np.linalg.norm(points - np.roll(points, 1, axis=0), axis=1).sum())
    reach = max(_reach(a.centre, vertices[b.vertices]) for a in (one, other) for b in (one, other))
    outer, inner = (
        Opening(
            *(_triple(side.centre), _triple(-side.vector / max(side.area, 1e-300)), area, reach),
            rim=_corners(vertices, side),
            gap=area / round_it,
        )
        for side in (one, other)
    )
    sill = bool((parts @ np.asarray(inner.facing) > 0.0).all())  # the cap looks into the liquid
    return replace(inner, across=outer, sill=sill)


def _corners(vertices: Array, mouth: _Mouth) -> tuple[tuple[float, float, float], ...]:
    normal = mouth.vector / max(mouth.area, 1e-300)
    return tuple(_triple(point) for point in outline_corners(vertices[mouth.vertices], normal))


def _reach(centre: Array, rim: Array) -> float:
    return float(np.linalg.norm(rim - centre, axis=1).max())


def _on_cap(corners: Array, middle: Array, normal: Array) -> Array:
    """Where the line through ``middle`` along ``normal`` meets a cap (T, 3, 3) that need not be flat."""
    best, nearest = middle, np.inf
    for a, b, c in corners:
        weights = np.linalg.lstsq(np.column_stack([b - a, c - a, -normal]), middle - a, rcond=None)[
            0
        ]
        outside = max(0.0, -weights[0], -weights[1], weights[0] + weights[1] - 1.0)
        if outside < nearest:
            nearest = outside
            u, v = np.clip(weights[:2], 0.0, 1.0)
            over = max(1.0, u + v)
            best = a + u / over * (b - a) + v / over * (c - a)
    return np.asarray(best)


def _triple(vector: Array) -> tuple[float, float, float]:
    return float(vector[0]), float(vector[1]), float(vector[2])
