"""What a search for places ends with: zones, the best place and the recommended one."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.zone import Region
from tanksolve.questions.marks.fill_limits import SetBy

Array = NDArray[np.float64]
Point = tuple[float, float, float]

__all__ = ["Places", "Point", "Spot", "ZonePart", "as_point"]


def as_point(values: Array) -> Point:
    """Coordinates (3,) as plain numbers."""
    x, y, z = (float(v) for v in values)
    return x, y, z


@dataclass(frozen=True)
class Spot:
    """A place [m], its least margin [m], bounded, and what sets it."""

    place: Point
    margin: float
    set_by: SetBy


@dataclass(frozen=True, eq=False)
class ZonePart:
    """The zone in one compartment; positions in the tank frame [m].

    Attributes
    ----------
    best_point_m, best_margin_m : the place with the greatest margin; its attitude is ``best_set_by``.
    recommended_point_m, recommended_margin_m : the same, kept off floor and walls; None where
        nothing of this part is that far off.
    from_m, to_m : corners of its enclosing box.
    """

    name: str
    best_point_m: Point
    best_margin_m: float
    best_set_by: SetBy
    recommended_point_m: Point | None
    recommended_margin_m: float | None
    volume_m3: float
    from_m: Point
    to_m: Point
    region: Region = field(repr=False, metadata={"json": False})

    @classmethod
    def of(cls, number: int, region: Region, best: Spot, advised: Spot | None) -> "ZonePart":
        """Part ``number``, counted from 1."""
        return cls(
            name=f"zone {number}",
            best_point_m=best.place,
            best_margin_m=best.margin,
            best_set_by=best.set_by,
            recommended_point_m=advised.place if advised else None,
            recommended_margin_m=advised.margin if advised else None,
            volume_m3=region.volume,
            from_m=as_point(region.vertices.min(axis=0)),
            to_m=as_point(region.vertices.max(axis=0)),
            region=region,
        )


@dataclass(frozen=True, eq=False)
class Places:
    """Zones of all compartments, that of the recommended place first; the best place of all.

    Attributes
    ----------
    region : all zones as one.
    evaluations : attitudes, or cells of them, valued.
    """

    parts: tuple[ZonePart, ...]
    best: Spot
    recommended: Spot | None
    region: Region | None
    evaluations: int
