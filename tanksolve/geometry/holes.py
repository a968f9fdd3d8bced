"""Holes of a surface that leaks: rings of open edges, with their place and size."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.mesh_checks import Surface
from tanksolve.kernel.topology.edges import NO_TWIN, Edges

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Hole", "find_holes"]


@dataclass(frozen=True)
class Hole:
    """A ring of open edges.

    Attributes
    ----------
    vertices : (K,) int, round the hole; faces that close it run this way round.
    closed : false for a stretch that does not come back to its start (edges of several holes meet).
    centre : (3,) and width (diagonal of the enclosing box), file's unit.
    """

    vertices: Ints = field(repr=False)
    closed: bool
    centre: tuple[float, float, float]
    width: float


def find_holes(surface: Surface, edges: Edges) -> tuple[Hole, ...]:
    """Follow open edges round the holes that they border, the widest hole first."""
    open_edges = np.flatnonzero(edges.twin == NO_TWIN)
    # The missing face runs against the one that is there: from the end of its edge to the start.
    starts = surface.faces[open_edges // 3, (open_edges + 1) % 3].tolist()
    ends = surface.faces[open_edges // 3, open_edges % 3].tolist()
    onward: dict[int, list[int]] = {}
    for start, end in zip(starts, ends, strict=True):
        onward.setdefault(start, []).append(end)
    holes = []
    while onward:
        first = next(iter(onward))
        ring, here, closed = [first], first, False
        while here in onward:
            following = onward[here].pop()
            if not onward[here]:
                del onward[here]
            here = following
            if here == first:
                closed = True
                break
            ring.append(here)
        holes.append(_hole(surface, np.asarray(ring), closed and len(set(ring)) == len(ring)))
    return tuple(sorted(holes, key=lambda hole: -hole.width))


def _hole(surface: Surface, vertices: Ints, closed: bool) -> Hole:
    points = surface.vertices[vertices]
    x, y, z = points.mean(axis=0)
    width = float(np.linalg.norm(np.ptp(points, axis=0)))
    return Hole(vertices, closed, (float(x), float(y), float(z)), width)
