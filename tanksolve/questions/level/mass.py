"""What the tank weighs and where its weight acts, and how much wall the liquid wets."""

import math
from dataclasses import dataclass

import numpy as np

from tanksolve.errors import QuantityError
from tanksolve.kernel.capacity.wetted import face_areas, wet_shares
from tanksolve.model.attitude import Attitude
from tanksolve.model.tank import Tank
from tanksolve.questions.level.surface import level

__all__ = ["Mass", "mass"]

Point = tuple[float, float, float]


@dataclass(frozen=True)
class Mass:
    """Weights, centres of gravity and wall areas at one fill and attitude; tank frame, SI.

    Attributes
    ----------
    wetted_area_m2 : wall under liquid, baffles and other internals included: what cools the liquid.
    wall_area_m2 : all of the wall, both sides of baffles.
    metal_mass_kg, metal_centroid_m : of plate of one thickness on all of that wall; None where no
        plate is given. A baffle has wall on both of its sides and so counts with twice its area.
    total_mass_kg, total_centroid_m : liquid and metal together; of the liquid alone without plate.
    """

    volume_m3: float
    liquid_mass_kg: float
    liquid_centroid_m: Point
    wetted_area_m2: float
    wall_area_m2: float
    metal_mass_kg: float | None
    metal_centroid_m: Point | None
    total_mass_kg: float
    total_centroid_m: Point


def mass(
    tank: Tank,
    volume: float,
    attitude: Attitude | None = None,
    *,
    density: float,
    plate: float | None = None,
    metal_density: float | None = None,
) -> Mass:
    """Weigh the liquid, and the metal if its plate is given.

    Parameters
    ----------
    volume : of liquid [m³]; attitude : level ground by default.
    density : of the liquid [kg/m³].
    plate : thickness of the wall [m]; metal_density : of its metal [kg/m³]; both or neither.

    The metal is taken as a thin sheet on the wetted surface: for a wall of thickness t on a tank of
    size L that is short by about t / L of its mass.

    Raises FillError for a volume that does not fit, QuantityError for a thickness or density that
    is not positive, or one without the other.
    """
    for name, value in (("density", density), ("plate", plate), ("metal density", metal_density)):
        if value is not None and not (math.isfinite(value) and value > 0.0):
            raise QuantityError(f"{value:g} is not positive", where=name)
    if (plate is None) != (metal_density is None):
        raise QuantityError(
            "the metal's mass needs both the plate's thickness and the metal's density",
            next_step="give both, for instance 3mm and 7850 kg/m3",
        )
    at = level(tank, volume, attitude, density=density)
    areas = face_areas(tank.vertices, tank.faces)
    shares = wet_shares(tank.vertices, tank.faces, np.asarray(at.up), at.level_height_m)
    liquid_mass = density * volume
    metal_mass = metal_centroid = None
    total, centroid = liquid_mass, np.asarray(at.liquid_centroid_m)
    if plate is not None and metal_density is not None:
        metal_mass = float(areas.sum()) * plate * metal_density
        middles = tank.vertices[tank.faces].mean(axis=1)
        metal = areas @ middles / areas.sum()
        metal_centroid = _point(metal)
        total = liquid_mass + metal_mass
        # An empty tank has no liquid centroid to weigh in.
        moment = liquid_mass * centroid if liquid_mass > 0.0 else np.zeros(3)
        centroid = (moment + metal_mass * metal) / total
    return Mass(
        volume_m3=volume,
        liquid_mass_kg=liquid_mass,
        liquid_centroid_m=at.liquid_centroid_m,
        wetted_area_m2=float(areas @ shares) if volume > 0.0 else 0.0,
        wall_area_m2=float(areas.sum()),
        metal_mass_kg=metal_mass,
        metal_centroid_m=metal_centroid,
        total_mass_kg=total,
        total_centroid_m=_point(centroid),
    )


def _point(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Point:
    x, y, z = (float(v) for v in values)
    return x, y, z
