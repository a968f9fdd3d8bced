"""The bays of a tank, and the openings and pipes between them, for liquid that flows from one to another."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["Bays", "Gap"]


@dataclass(frozen=True, eq=False)
class Gap:
    """An opening in a plate, or a balance pipe, between two bays.

    Attributes
    ----------
    name : the plate and what is cut into it, in words.
    joins : the two bays, as places in the list of bays.
    one_way : whether a flap lets liquid from the first to the second only.
    corners : (T, 3, 3) float [m], triangles that make it up, in the plate's near face; of a pipe those of
        all its stations.
    volume_m3 : liquid that finds room in it; none where it has a flap, whose room counts as plate, or in a
        pipe.
    stations : of a pipe, outlines that liquid gets through one after the other, each (T, 3, 3).
    loss : of a pipe, head lost over velocity head, entry to exit; None for an opening in a plate.
    """

    name: str
    joins: tuple[int, int]
    corners: Array = field(repr=False, metadata={"json": False})
    volume_m3: float
    one_way: bool = False
    stations: tuple[Array, ...] = field(default=(), repr=False, metadata={"json": False})
    loss: float | None = None

    @property
    def runs(self) -> tuple[Array, ...]:
        """Outlines one after the other: a pipe's stations, or the one opening."""
        return self.stations or (self.corners,)

    def sill(self, up: Array) -> Array:
        """Height (D,) [m] along ``up`` (D, 3) that liquid must stand above to get through."""
        each = [(up @ run.reshape(-1, 3).T).min(axis=1) for run in self.runs]
        return np.asarray(np.max(each, axis=0))

    @cached_property
    def area_m2(self) -> float:
        """Area in the plate, or of a pipe's first mouth [m²]."""
        a, b, c = (self.runs[0][:, k] for k in range(3))
        return float(0.5 * np.linalg.norm(np.cross(b - a, c - a), axis=1).sum())


@dataclass(frozen=True, eq=False)
class Bays:
    """What the plates of a tank part, each as a tank of its own, and the openings between."""

    bays: tuple[Tank, ...]
    gaps: tuple[Gap, ...]

    @classmethod
    def undivided(cls, tank: Tank) -> "Bays":
        """One bay: a tank without plates."""
        return cls((tank,), ())

    def bay_of(self, point: tuple[float, float, float]) -> int:
        """The bay that a point [m] lies in, or is nearest to (a point on a wall, or in an opening)."""
        if len(self.bays) == 1:
            return 0
        inside = [abs(float(bay.winding(point)[0])) for bay in self.bays]
        gaps = [
            0.0 if within > 0.999 else bay.distance_to_wall(point)
            for within, bay in zip(inside, self.bays, strict=True)
        ]
        return int(np.argmin(gaps))

    def turned(self, back: Array) -> "Bays":
        """The same with every point p moved to ``back @ p``; (3, 3), a rotation."""
        bays = tuple(
            Tank(bay.name, bay.vertices @ back.T, bay.faces, bay.notes, bay.volume_error)
            for bay in self.bays
        )
        gaps = tuple(
            replace(
                gap,
                corners=gap.corners @ back.T,
                stations=tuple(run @ back.T for run in gap.stations),
            )
            for gap in self.gaps
        )
        return Bays(bays, gaps)
