"""Finds openings in a metal wall: rims of sharp edges that a flat cap can close.

The faces are sorted into smooth patches, parted by sharp edges. Each border of a patch is a
candidate rim; it is an opening where a cap over it lies free, with no metal on it or beside it.
"""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.mesh_checks import Surface
from tanksolve.kernel.topology.edges import Edges, winding

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Rim", "find_rims"]

_SHARP = np.cos(np.radians(25.0))  # facets of a round bore turn by less
_BENT = 0.2  # how far a rim may stray from a plane, relative to its width
_SAMPLES = 12
_MOST_RIMS = 400  # candidates looked at, to bound the time


@dataclass(frozen=True)
class Rim:
    """A closed ring of sharp edges with a cap over it.

    Attributes
    ----------
    half_edges : (K,) int, the ring, with one of the two patches on its left; vertices : (K,) int,
        where each starts.
    cap : (K - 2, 3) int, triangles whose border runs along the half-edges.
    centre : (3,), area, normal : (3,) unit, by the right-hand rule from the ring; file's unit.
    """

    half_edges: Ints = field(repr=False)
    vertices: Ints = field(repr=False)
    cap: Ints = field(repr=False)
    centre: Array
    area: float
    normal: Array


def find_rims(surface: Surface, edges: Edges) -> list[Rim]:
    """Find all rims in a closed surface of metal that a free flat cap can close."""
    smooth = _cut_at_sharp_edges(surface, edges)
    corners = surface.vertices[surface.faces]
    found: list[Rim] = []
    seen: set[tuple[int, ...]] = set()
    tried = 0
    for ring in _borders(smooth):
        vertices = surface.faces[ring // 3, ring % 3]
        key = tuple(sorted(vertices.tolist()))
        if len(ring) < 3 or key in seen or len(set(key)) < len(key):
            continue
        seen.add(key)
        shape = _flat_shape(surface.vertices[vertices])
        if shape is None or _borders_flat_patch(surface, ring, shape[2]):
            continue
        tried += 1
        if tried > _MOST_RIMS:
            break
        rim = _rim(surface, ring, vertices, shape)
        if rim is not None and _is_free(surface, corners, rim):
            found.append(rim)
    return found


def _cut_at_sharp_edges(surface: Surface, edges: Edges) -> Ints:
    """Twins (3 F,), -1 at edges where the surface turns by more than 25 degrees."""
    normals = _normals_of(surface, np.arange(len(surface.faces)))
    half = np.arange(len(edges.twin))
    cosine = np.einsum("ij,ij->i", normals[half // 3], normals[np.maximum(edges.twin, 0) // 3])
    return np.where((edges.twin >= 0) & (cosine > _SHARP), edges.twin, -1)


def _borders(smooth: Ints) -> list[Ints]:
    """Rings of sharp half-edges, each walked round one patch with the patch on the left."""
    rings = []
    pending = dict.fromkeys(np.flatnonzero(smooth < 0).tolist())
    while pending:
        start = next(iter(pending))
        ring, h = [], start
        while h in pending:
            del pending[h]
            ring.append(h)
            h = 3 * (h // 3) + (h + 1) % 3
            while smooth[h] >= 0:
                h = int(smooth[h])
                h = 3 * (h // 3) + (h + 1) % 3
        rings.append(np.asarray(ring))
    return rings


def _flat_shape(points: Array) -> tuple[Array, float, Array] | None:
    """Centre, area and unit normal of a ring of points; None where it is bent or has no area."""
    middle = points.mean(axis=0)
    spokes = points - middle
    parts = 0.5 * np.cross(spokes, np.roll(spokes, -1, axis=0))
    vector = parts.sum(axis=0)
    area = float(np.linalg.norm(vector))
    if area <= 1e-12 * float(np.ptp(points, axis=0).max()) ** 2:
        return None
    normal = vector / area
    if float(np.abs(spokes @ normal).max()) > _BENT * np.sqrt(area):
        return None
    weights = parts @ normal
    centre = middle + (spokes + np.roll(spokes, -1, axis=0)).T @ weights / (3.0 * area)
    return centre, area, normal


def _borders_flat_patch(surface: Surface, ring: Ints, normal: Array) -> bool:
    """Tell whether a ring is the outer border of a flat patch, so that a cap would lie on it.

    Round an outer border the patch lies inside the ring, and its normal is the ring's own.
    """
    normals = _normals_of(surface, ring // 3)
    return bool((normals @ normal > 1.0 - 1e-6).all())


def _normals_of(surface: Surface, faces: Ints) -> Array:
    a, b, c = (surface.vertices[surface.faces[faces, k]] for k in range(3))
    n = np.cross(b - a, c - a)
    return np.asarray(n / np.maximum(np.linalg.norm(n, axis=1, keepdims=True), 1e-300))


def _rim(
    surface: Surface, ring: Ints, vertices: Ints, shape: tuple[Array, float, Array]
) -> Rim | None:
    from manifold3d import triangulate

    centre, area, normal = shape
    side = np.eye(3)[int(np.argmin(np.abs(normal)))]
    e1 = np.cross(normal, side)
    e1 /= np.linalg.norm(e1)
    plane = np.stack([e1, np.cross(normal, e1)])
    flat = (surface.vertices[vertices] - centre) @ plane.T
    cap = np.asarray(triangulate([flat]), np.int64)
    if len(cap) != len(ring) - 2:  # the ring crosses itself when seen from above
        return None
    return Rim(ring, vertices, vertices[cap], centre, area, normal)


def _is_free(surface: Surface, corners: Array, rim: Rim) -> bool:
    """Tell whether a cap lies in the open: no metal at points spread over it nor close by."""
    middles = surface.vertices[rim.cap].mean(axis=1)
    step = max(1, len(middles) // _SAMPLES)
    aside = 0.01 * np.sqrt(rim.area) * rim.normal
    samples = [rim.centre, *middles[::step]]
    return all(
        abs(winding(corners, point + offset)) < 0.5
        for point in samples
        for offset in (aside, -aside)
    )
