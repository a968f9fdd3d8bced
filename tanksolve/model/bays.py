"""The bays of a tank and the openings between them, for liquid that flows from one to another."""

from dataclasses import dataclass, field, replace
from functools import cached_property

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["Bays", "Gap"]


@dataclass(frozen=True, eq=False)
class Gap:
    """An opening in a plate, between two bays.

    Attributes
    ----------
    name : the plate and what is cut into it, in words.
    joins : the two bays, as places in the list of bays.
    one_way : whether a flap lets liquid from the first to the second only.
    corners : (T, 3, 3) float [m], triangles that make it up, in the plate's near face.
    volume_m3 : liquid that finds room in it; none where it has a flap, whose room counts as plate.
    """

    name: str
    joins: tuple[int, int]
    corners: Array = field(repr=False, metadata={"json": False})
    volume_m3: float
    one_way: bool = False

    @cached_property
    def area_m2(self) -> float:
        """Area in the plate [m²]."""
        a, b, c = (self.corners[:, k] for k in range(3))
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
        gaps = tuple(replace(gap, corners=gap.corners @ back.T) for gap in self.gaps)
        return Bays(bays, gaps)
