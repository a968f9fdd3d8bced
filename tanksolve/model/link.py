"""What lets liquid from one part of a tank to another and is not in its mesh: flaps and pipes."""

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import Literal

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.pools.links import NO_LINKS, Links

Array = NDArray[np.float64]

__all__ = ["Link", "corners", "mapped", "pipe", "stations_of"]


@dataclass(frozen=True, eq=False)
class Link:
    """A flap, which lets liquid through one way, or a balance pipe, which does both ways.

    The mesh is closed at a flap and knows nothing of a pipe.

    Attributes
    ----------
    name : what it is, in words.
    way : which way it lets liquid through: ``forward``, ..., or ``both ways``.
    stations : outlines of the opening on the way through, from where it lets in to where it lets
        out: rows (R, 9) of centre and two half axes of ellipses [m], tank frame; corners have none.
    mouths : the centres (R, 3) of the first and of the last station, moved into the liquid space.
    """

    name: str
    kind: Literal["flap", "balance pipe"]
    way: str
    stations: tuple[Array, ...] = field(repr=False, metadata={"json": False})
    mouths: tuple[Array, Array] = field(repr=False, metadata={"json": False})

    def sill(self, up: ArrayLike) -> float:
        """Height [m] along ``up`` (3,) that liquid must stand above to get through, tank frame.

        It is the highest of the lowest points on the way: a pipe is not taken to be full of liquid,
        so that it would draw over a rise as a siphon.
        """
        u = np.asarray(up, np.float64)
        return max(
            float((rows[:, :3] @ u - np.hypot(rows[:, 3:6] @ u, rows[:, 6:] @ u)).min())
            for rows in self.stations
        )


def mapped(link: Link, matrix: ArrayLike, about: ArrayLike = (0.0, 0.0, 0.0)) -> Link:
    """The link turned or stretched by ``matrix`` (3, 3) about a place (3,) [m] that stays."""
    m, still = np.asarray(matrix, np.float64).T, np.asarray(about, np.float64)

    def places(at: Array) -> Array:
        return np.asarray(still + (at - still) @ m)

    rings = tuple(
        np.hstack([places(rows[:, :3]), rows[:, 3:6] @ m, rows[:, 6:] @ m])
        for rows in link.stations
    )
    return replace(link, stations=rings, mouths=(places(link.mouths[0]), places(link.mouths[1])))


def corners(points: ArrayLike) -> Array:
    """The outline (R, 9) of a polygon with these corners (R, 3) [m]."""
    at = np.asarray(points, np.float64)
    return np.hstack([at, np.zeros((len(at), 6))])


def pipe(name: str, run: ArrayLike, bore: float, into: float) -> Link:
    """A round pipe along the corners ``run`` (N, 3) [m] of its centre line, N at least 2.

    Its ends are cut square, its bends mitred. ``into`` [m] is how far inside its mouths the liquid is
    looked for.
    """
    points = np.asarray(run, np.float64)
    along = np.diff(points, axis=0)
    along /= np.linalg.norm(along, axis=1)[:, None]
    before, after = np.vstack([along[:1], along]), np.vstack([along, along[-1:]])
    outlines = []
    for point, one, other in zip(points, before, after, strict=True):
        middle = (one + other) / np.linalg.norm(one + other)  # normal of the mitre
        bend = np.cross(one, other)
        if np.linalg.norm(bend) < 1e-9:
            bend = np.cross(one, np.eye(3)[np.argmin(np.abs(one))])
        side = bend / np.linalg.norm(bend)
        long_ = np.cross(middle, side) / float(middle @ one)
        outlines.append(np.concatenate([point, 0.5 * bore * side, 0.5 * bore * long_])[None])
    mouths = (points[:1] - into * along[:1], points[-1:] + into * along[-1:])
    return Link(name, "balance pipe", "both ways", tuple(outlines), mouths)


def stations_of(links: Sequence[Link]) -> Links:
    """The links as arrays, tank frame; a pipe is one link each way."""
    runs = []
    for link in links:
        runs.append((link.stations, link.mouths))
        if link.kind == "balance pipe":
            runs.append((link.stations[::-1], link.mouths[::-1]))
    if not runs:
        return NO_LINKS
    stations = [rows for run, _ in runs for rows in run]
    inside = [rows[:, :3] for rows in stations]
    first_station = np.cumsum([0, *(len(run) for run, _ in runs)])
    for k, (_, mouths) in enumerate(runs):
        inside[first_station[k]], inside[first_station[k + 1] - 1] = mouths
    first_ring = np.cumsum([0, *(len(rows) for rows in stations)])
    return Links(
        np.ascontiguousarray(np.vstack(stations)),
        np.ascontiguousarray(np.vstack(inside)),
        first_ring.astype(np.int64),
        first_station.astype(np.int64),
    )
