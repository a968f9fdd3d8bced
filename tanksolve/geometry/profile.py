"""Closed outlines in a plane: the cross-sections that parts are extruded or revolved from.

An arc becomes straight facets whose corners stand a little outside the circle, so that the polygon
holds *exactly* the area of the arc it stands for: no signed error in the capacity of a prism.
How far the facets stray from the circle is the chord tolerance.
"""

import math
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.errors import TankError
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = [
    "CHORD_TOLERANCE",
    "Profile",
    "arc",
    "circle",
    "circle_facets",
    "ellipse",
    "inset",
    "polygon",
    "polygon_area",
    "rectangle",
    "rounded_rectangle",
]

CHORD_TOLERANCE = 1e-4  # m; 0.1 mm is finer than a tank is bent to
_FEWEST, _MOST = 16, 2048  # facets of a full circle


@dataclass(frozen=True)
class Profile:
    """A closed outline.

    Attributes
    ----------
    points : (N, 2) float [m], counter-clockwise, no point repeated.
    area_error : area of the polygon less that of the curved outline [m²].
    partial_bound : greatest possible error of the area of any part of the section [m²].
    """

    points: Array = field(repr=False)
    area_error: float = 0.0
    partial_bound: float = 0.0

    @property
    def area(self) -> float:
        """Area of the polygon [m²]."""
        return polygon_area(self.points)

    def moved(self, right: float, up: float) -> "Profile":
        """The same outline moved in its plane [m]."""
        return Profile(self.points + np.array([right, up]), self.area_error, self.partial_bound)


def polygon_area(points: Array) -> float:
    """Signed area [m²] of a polygon (N, 2), positive when counter-clockwise."""
    p = points - points.mean(axis=0)
    q = np.roll(p, -1, axis=0)
    return 0.5 * float(np.sum(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0]))


def circle_facets(radius: float, tolerance: float = CHORD_TOLERANCE) -> int:
    """Facets of a full circle that stay within ``tolerance`` [m] of it: a multiple of 8, at least 16.

    An equal-area polygon of N sides stands ``R (pi/N)²/3`` outside at its corners and half of that
    inside at mid-side (leading order; own derivation).
    """
    if not tolerance > 0.0:
        raise TankError(
            f"a chord tolerance of {stated(tolerance, 'length')} is not positive",
            allowed="as in 0.1 mm",
        )
    wanted = math.pi * math.sqrt(radius / (3.0 * tolerance))
    return min(_MOST, max(_FEWEST, 8 * math.ceil(wanted / 8.0)))


def circle(radius: float, tolerance: float = CHORD_TOLERANCE) -> Profile:
    """A circle about the origin as a regular polygon of equal area."""
    n = circle_facets(radius, tolerance)
    corner = radius * equal_area_factor(n)
    angle = 2.0 * math.pi * np.arange(n) / n
    points = corner * np.column_stack([np.cos(angle), np.sin(angle)])
    stray = max(corner - radius, radius - corner * math.cos(math.pi / n))
    return Profile(points, 0.0, math.pi * radius * stray)


def equal_area_factor(n: int) -> float:
    """Corner radius of the regular n-gon that has the area of the unit circle."""
    step = 2.0 * math.pi / n
    return math.sqrt(step / math.sin(step))


def arc(
    centre: tuple[float, float],
    radius: float,
    start: float,
    stop: float,
    tolerance: float = CHORD_TOLERANCE,
) -> tuple[Array, float]:
    """Points of an arc from angle ``start`` to ``stop`` [rad] (either way round), both ends included.

    The ends lie on the circle; the corners between them stand outside it by as much as makes the
    sector's area exact. Returns the points (K, 2) and the bound on the area of any part [m²].
    """
    sweep = abs(stop - start)
    n = max(2, math.ceil(circle_facets(radius, tolerance) * sweep / (2.0 * math.pi) - 1e-9))
    step = sweep / n
    # (n - 2) t² + 2 t = step n / sin(step) for corner radius t, in units of the radius
    full = sweep / math.sin(step)
    t = 0.5 * full if n == 2 else (math.sqrt(1.0 + (n - 2) * full) - 1.0) / (n - 2)
    angle = np.linspace(start, stop, n + 1)
    reach = np.full(n + 1, radius * t)
    reach[0] = reach[-1] = radius
    points = np.asarray(centre) + reach[:, None] * np.column_stack([np.cos(angle), np.sin(angle)])
    stray = radius * max(t - 1.0, 1.0 - math.cos(0.5 * step))
    return points, 0.5 * stray * radius * sweep


def ellipse(width: float, height: float, tolerance: float = CHORD_TOLERANCE) -> Profile:
    """An ellipse about the origin: an equal-area circle, stretched (which keeps it equal in area)."""
    big = 0.5 * max(width, height)
    round_one = circle(big, tolerance)
    stretch = np.array([0.5 * width / big, 0.5 * height / big])
    shrink = float(stretch.prod())
    return Profile(round_one.points * stretch, 0.0, round_one.partial_bound * shrink)


def rectangle(width: float, height: float) -> Profile:
    """A rectangle with one corner at the origin, the others at positive coordinates."""
    return Profile(np.array([[0.0, 0.0], [width, 0.0], [width, height], [0.0, height]]))


def rounded_rectangle(
    width: float, height: float, radius: float, tolerance: float = CHORD_TOLERANCE
) -> Profile:
    """A rectangle whose corners are rounded; ``2 radius = height`` makes an obround.

    Raises TankError where the radius is more than half of the shorter side.
    """
    if radius == 0.0:
        return rectangle(width, height)
    if not 0.0 < radius <= 0.5 * min(width, height) * (1.0 + 1e-12):
        raise TankError(
            f"a corner radius of {stated(radius, 'length')} does not fit {stated((width, height), 'length')}",
            allowed=f"0 to {stated(0.5 * min(width, height), 'length')}",
        )
    quarter = 0.5 * math.pi
    corners = [
        (width - radius, radius),
        (width - radius, height - radius),
        (radius, height - radius),
        (radius, radius),
    ]
    parts, bound = [], 0.0
    for k, centre in enumerate(corners):
        points, bound_of_one = arc(centre, radius, (k - 1) * quarter, k * quarter, tolerance)
        parts.append(points)
        bound += bound_of_one
    return Profile(_without_repeats(np.vstack(parts)), 0.0, bound)


def polygon(points: ArrayLike, where: str = "profile") -> Profile:
    """A closed outline from its corners (N, 2) [m], in either sense, the first not repeated.

    Raises TankError for fewer than three corners, no area, or sides that cross.
    """
    p = np.asarray(points, dtype=float)
    if p.ndim != 2 or p.shape[1] != 2:
        raise ValueError("a profile is (N, 2)")
    if not np.all(np.isfinite(p)):
        raise TankError("a corner is not a finite number", where=where)
    p = _without_repeats(p)
    size = float(np.ptp(p, axis=0).max()) if len(p) else 0.0
    if len(p) < 3 or abs(polygon_area(p)) <= 1e-9 * size * size:
        raise TankError(
            f"{len(p)} corners that enclose no area",
            where=where,
            allowed="three or more corners in order",
        )
    if polygon_area(p) < 0.0:
        p = p[::-1].copy()
    crossing = _first_crossing(p)
    if crossing is not None:
        i, j = crossing
        raise TankError(
            f"the side after corner {i + 1} crosses or touches the side after corner {j + 1}",
            where=where,
            next_step="list the corners in order round the outline",
        )
    return Profile(p)


def inset(profile: Profile, distance: float, where: str = "profile") -> Profile:
    """The outline moved inward by a wall thickness [m], corners kept sharp.

    Raises TankError where the wall leaves no room.
    """
    p = profile.points
    side = np.roll(p, -1, axis=0) - p
    side /= np.linalg.norm(side, axis=1)[:, None]
    inward = np.column_stack([-side[:, 1], side[:, 0]])
    before = np.roll(inward, 1, axis=0)
    moved = (
        p + distance * (before + inward) / (1.0 + np.einsum("ij,ij->i", before, inward))[:, None]
    )
    kept = np.einsum("ij,ij->i", np.roll(moved, -1, axis=0) - moved, side)
    if kept.min() <= 0.0 or _first_crossing(moved) is not None:
        raise TankError(
            f"a wall of {stated(distance, 'length')} leaves no room at a side of the outline",
            where=where,
            next_step="give the inside sizes instead",
        )
    return Profile(moved, profile.area_error, profile.partial_bound)


def _without_repeats(p: Array) -> Array:
    """Drop points that stand on the next one round the outline."""
    size = float(np.ptp(p, axis=0).max()) if len(p) else 0.0
    gap = np.linalg.norm(np.roll(p, -1, axis=0) - p, axis=1)
    return np.asarray(p[gap > 1e-12 * size])


def _first_crossing(p: Array) -> tuple[int, int] | None:
    """The first two sides of a polygon that meet although they are not neighbours, if any."""
    a, b = p, np.roll(p, -1, axis=0)
    n = len(p)
    for i in range(n - 2):
        j = np.arange(i + 2, n if i else n - 1)
        c, d = a[j], b[j]
        apart = _turn(a[i], b[i], c) * _turn(a[i], b[i], d)
        across = _turn(c, d, a[i]) * _turn(c, d, b[i])
        boxes = np.all(np.minimum(c, d) <= np.maximum(a[i], b[i]), axis=1)
        boxes &= np.all(np.maximum(c, d) >= np.minimum(a[i], b[i]), axis=1)
        hit = np.flatnonzero((apart <= 0.0) & (across <= 0.0) & boxes)
        if len(hit):
            return i, int(j[hit[0]])
    return None


def _turn(a: Array, b: Array, c: Array) -> Array:
    """Twice the signed area of the triangles a, b, c: positive where c is left of a-b."""
    u, v = b - a, c - a
    return np.asarray(u[..., 0] * v[..., 1] - u[..., 1] * v[..., 0])
