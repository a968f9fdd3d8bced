"""Closed triangle meshes from profiles, without a boolean: extruded, revolved, box and frustum."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.profile import Profile, circle_facets, equal_area_factor

Array = NDArray[np.float64]
Faces = NDArray[np.int64]

__all__ = ["AXES", "Solid", "axis_of", "cuboid", "extrude", "loft", "prism", "revolve"]

# Which tank axes the local axes become: local z runs along the named direction.
AXES = {
    "along": np.array([[0.0, 0.0, 1.0], [1.0, 0.0, 0.0], [0.0, 1.0, 0.0]]),
    "across": np.array([[0.0, 1.0, 0.0], [0.0, 0.0, 1.0], [1.0, 0.0, 0.0]]),
    "upright": np.eye(3),
}


@dataclass(frozen=True)
class Solid:
    """A closed triangle mesh with outward faces, on its way to become part of a tank.

    Attributes
    ----------
    vertices, faces : (N, 3) float [m] and (F, 3) int.
    volume_error : volume of the mesh less that of the curved solid [m³].
    partial_bound : greatest possible error of the volume of any part of it [m³].
    """

    vertices: Array = field(repr=False)
    faces: Faces = field(repr=False)
    volume_error: float = 0.0
    partial_bound: float = 0.0

    @property
    def volume(self) -> float:
        """Volume of the mesh [m³]."""
        corners = (self.vertices - self.vertices.mean(axis=0))[self.faces]
        a, b, c = corners[:, 0], corners[:, 1], corners[:, 2]
        return float(np.einsum("ij,ij->", a, np.cross(b, c)) / 6.0)

    def moved(self, by: ArrayLike) -> "Solid":
        """The same solid moved by (3,) [m]."""
        return replace(self, vertices=self.vertices + np.asarray(by, float))

    def turned(self, rotation: ArrayLike) -> "Solid":
        """The same solid turned about the origin by a rotation (3, 3), or mirrored by a reflection."""
        matrix = np.asarray(rotation, float)
        faces = self.faces if np.linalg.det(matrix) > 0.0 else self.faces[:, ::-1]
        return replace(self, vertices=self.vertices @ matrix.T, faces=faces)

    def lying(self, along: str) -> "Solid":
        """The solid with its local z axis laid ``along``, ``across`` or kept ``upright``.

        Lying along, local x points left and local y up; lying across, local x points up and
        local y forward.
        """
        axis_of(along)
        return self.turned(AXES[along])


def cuboid(lower: ArrayLike, upper: ArrayLike) -> Solid:
    """A box between two opposite corners (3,) [m]."""
    low, high = np.asarray(lower, float), np.asarray(upper, float)
    x0, y0, z0 = low
    x1, y1, z1 = high
    floor = np.array([[x0, y0], [x1, y0], [x1, y1], [x0, y1]])
    return loft([floor, floor], [z0, z1])


def loft(rings: Sequence[Array], heights: Sequence[float]) -> Solid:
    """A solid between convex polygons (N, 2) [m], all with as many corners, one above the other.

    The sides must be plane: equal polygons, or sides parallel in pairs (a frustum).
    """
    n = len(rings[0])
    vertices = np.vstack(
        [np.column_stack([ring, np.full(n, z)]) for ring, z in zip(rings, heights, strict=True)]
    )
    cap = _convex_cap(n)
    first = np.arange(n)
    sides = [_side(first + k * n, first + (k + 1) * n) for k in range(len(rings) - 1)]
    return Solid(vertices, np.vstack([cap[:, ::-1], cap + n * (len(rings) - 1), *sides]))


def extrude(profile: Profile, length: float) -> Solid:
    """A prism over ``profile`` in the local x-y plane, from z = 0 to ``length`` [m]."""
    points = profile.points
    n = len(points)
    cap = _convex_cap(n) if _is_convex(points) else _any_cap(points)
    vertices = np.vstack([np.column_stack([points, np.full(n, z)]) for z in (0.0, length)])
    faces = np.vstack([cap[:, ::-1], cap + n, _side(np.arange(n), np.arange(n) + n)])
    return Solid(vertices, faces, profile.area_error * length, profile.partial_bound * length)


def prism(profile: Profile, length: float, along: str) -> Solid:
    """An extruded profile laid in tank axes, from the origin along positive x, y or z.

    The profile's points are (left, up) for a prism ``along`` the machine, (forward, up) for one
    ``across`` it, (forward, left) for an ``upright`` one.
    """
    if along == "across":  # forward, up, left is a left-handed triple: swap two, keep the sense
        profile = replace(profile, points=profile.points[::-1, ::-1].copy())
    return extrude(profile, length).lying(along)


def revolve(
    outline: ArrayLike, tolerance: float, exact_volume: float | None = None, stray: float = 0.0
) -> Solid:
    """A solid of revolution about the local z axis.

    Parameters
    ----------
    outline : (N, 2) float [m], radius and height in order, the solid to the left of the way
        round; it starts and ends on the axis (radius 0), or closes on itself off the axis.
    tolerance : chord tolerance round the axis [m].
    exact_volume : volume of the curved solid [m³], where the outline itself is faceted.
    stray : how far the outline's own facets are from the curve [m].

    Each ring is a polygon equal in area to its circle, so every cone between rings has its exact
    volume, and only the facets of the outline err.
    """
    points = np.asarray(outline, float)
    points = points[np.r_[True, np.any(np.diff(points, axis=0) != 0.0, axis=1)]]
    widest = float(points[:, 0].max())
    n = circle_facets(widest, tolerance)
    angle = 2.0 * np.pi * np.arange(n) / n
    factor = equal_area_factor(n)
    ring = factor * np.column_stack([np.cos(angle), np.sin(angle)])
    vertices: list[Array] = []
    rows: list[Faces] = []  # vertex numbers of each ring; one number throughout on the axis
    count = 0
    for radius, height in points:
        on_axis = radius == 0.0
        corners = np.zeros((1, 2)) if on_axis else radius * ring
        vertices.append(np.column_stack([corners, np.full(len(corners), height)]))
        rows.append(np.full(n, count) if on_axis else count + np.arange(n))
        count += len(corners)
    bands = [_side(lower, upper) for lower, upper in zip(rows, rows[1:] + rows[:1], strict=True)]
    faces = np.vstack(bands if points[0, 0] > 0.0 else bands[:-1])
    solid = Solid(np.vstack(vertices), faces[(faces != np.roll(faces, 1, axis=1)).all(axis=1)])
    error = 0.0 if exact_volume is None else solid.volume - exact_volume
    lateral = _area_of_revolution(points)
    off = max(factor - 1.0, 1.0 - factor * math.cos(math.pi / n)) * widest + stray
    return replace(solid, volume_error=error, partial_bound=abs(error) + 0.5 * off * lateral)


def _area_of_revolution(points: Array) -> float:
    """Area [m²] swept by the sides of an outline, plane end discs left out."""
    steps = np.diff(points, axis=0)
    slant = np.linalg.norm(steps, axis=1) * (steps[:, 1] != 0.0)
    return float(np.sum(math.pi * (points[:-1, 0] + points[1:, 0]) * slant))


def axis_of(direction: str) -> int:
    """Number of the tank axis that ``along``, ``across`` or ``upright`` names. Raises TankError."""
    if direction not in AXES:
        raise TankError(f"'{direction}' is not a direction", allowed=", ".join(AXES))
    return int(np.argmax(AXES[direction][:, 2]))


def _side(lower: Faces, upper: Faces) -> Faces:
    """Two triangles for each pair of edges of two rings with as many corners."""
    a, b = lower, np.roll(lower, -1)
    c, d = upper, np.roll(upper, -1)
    return np.vstack([np.column_stack([a, b, d]), np.column_stack([a, d, c])])


def _convex_cap(n: int) -> Faces:
    """Triangles of a convex polygon, zigzag across it so that none is needlessly thin."""
    low, high, faces = 0, n - 1, []
    while high - low >= 2:
        faces.append((low, low + 1, high))
        low += 1
        if high - low >= 2:
            faces.append((low, high - 1, high))
            high -= 1
    return np.array(faces, dtype=np.int64)


def _any_cap(points: Array) -> Faces:
    """Triangles of any simple polygon, by manifold3d's triangulation."""
    from manifold3d import triangulate

    return np.asarray(triangulate([points]), dtype=np.int64)


def _is_convex(points: Array) -> bool:
    side = np.roll(points, -1, axis=0) - points
    after = np.roll(side, -1, axis=0)
    return bool((side[:, 0] * after[:, 1] - side[:, 1] * after[:, 0]).min() > 0.0)
