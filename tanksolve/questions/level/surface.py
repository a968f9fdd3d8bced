"""Where the liquid stands at one attitude, and how far each port is from its rule."""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from tanksolve.errors import FillError
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import height_bounds, levels
from tanksolve.kernel.capacity.volumes import moments
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import Port, Rule
from tanksolve.model.tank import Tank
from tanksolve.result import Result
from tanksolve.unit_systems import stated, told

__all__ = ["Level", "PortAtLevel", "level"]

Point = tuple[float, float, float]


@dataclass(frozen=True)
class PortAtLevel:
    """One port at one attitude.

    Attributes
    ----------
    margin_m : how far the rule is kept [m], cover or clearance taken off; negative where broken.
        For a port without a rule: liquid over its highest point.
    wet : whether any part of the opening is under liquid.
    covered : whether all of the opening is under liquid.
    holds : whether the port's rule is kept; true where it has none.
    """

    name: str
    kind: str
    rule: str
    margin_m: float
    wet: bool
    covered: bool
    holds: bool


@dataclass(frozen=True, eq=False, repr=False)
class Level(Result):
    """The free surface at one attitude; tank frame (x forward, y left, z up), SI.

    Attributes
    ----------
    up : unit vector opposite to gravity.
    level_height_m : height of the surface along ``up`` above the tank frame's origin [m].
    depth_m : depth of the surface over the lowest point of the tank, along ``up`` [m].
    ullage_m3 : air above the liquid [m³].
    surface_second_moment_m4 : integral of (x - c)(x - c)^T over the surface, 3 x 3 [m⁴].
    liquid_mass_kg : None where no density is known.
    """

    rows_of: ClassVar[str] = "ports"

    up: Point
    slope_deg: float
    heading_deg: float
    volume_m3: float
    ullage_m3: float
    level_height_m: float
    depth_m: float
    surface_area_m2: float
    surface_centroid_m: Point
    surface_second_moment_m4: tuple[Point, Point, Point]
    liquid_centroid_m: Point
    liquid_mass_kg: float | None
    ports: tuple[PortAtLevel, ...]


def level(
    tank: Tank,
    fill: float,
    attitude: Attitude | None = None,
    ports: Sequence[Port] = (),
    *,
    density: float | None = None,
) -> Level:
    """Find the free surface of ``fill`` [m³] at ``attitude`` (level ground by default).

    density : of the liquid [kg/m³], where the mass is wanted.
    Raises FillError for a volume below zero or above the capacity, PortError for ports outside.
    """
    volume, attitude = fill, attitude or Attitude.level()
    tank.check_ports(ports)
    if not 0.0 <= volume <= tank.capacity * (1.0 + 1e-12):
        raise FillError(
            f"a fill of {stated(volume, 'volume')} does not fit the tank",
            allowed=f"0 L to {told(tank.capacity, 'volume')}",
        )
    volume = min(volume, tank.capacity)
    up = np.array([attitude.up])
    low = float(levels(tank.tree, up, volume, lowest=True)[0][0])
    high = float(levels(tank.tree, up, volume, lowest=False)[0][0])
    below = moments(tank.tree, tank.tensors, up, np.array([low]))
    bottom = float(height_bounds(tank.tree, up)[0][0])
    second = below.surface_second[0]
    return Level(
        up=attitude.up,
        slope_deg=float(np.degrees(attitude.slope)),
        heading_deg=float(np.degrees(attitude.heading)),
        volume_m3=volume,
        ullage_m3=tank.capacity - volume,
        level_height_m=low,
        depth_m=low - bottom,
        surface_area_m2=float(below.area[0]),
        surface_centroid_m=_point(below.surface_centroid[0]),
        surface_second_moment_m4=(_point(second[0]), _point(second[1]), _point(second[2])),
        liquid_centroid_m=_point(below.liquid_centroid[0]),
        liquid_mass_kg=None if density is None else density * volume,
        ports=tuple(_port_at(port, up, low, high) for port in ports),
    )


def _point(values: np.ndarray[tuple[int, ...], np.dtype[np.float64]]) -> Point:
    x, y, z = (float(v) for v in values)
    return x, y, z


def _port_at(
    port: Port, up: np.ndarray[tuple[int, ...], np.dtype[np.float64]], low: float, high: float
) -> PortAtLevel:
    """Judge wet rules by the highest plane with the volume, dry rules by the lowest."""
    top = float(support_high(port.discs, up)[0])
    bottom = float(support_low(port.discs, up)[0])
    rule = port.effective_rule
    if rule is Rule.DRY:
        margin = bottom - port.required_cover - low
    elif rule is Rule.WET:
        margin = high - top - port.required_cover
    else:
        margin = high - top
    return PortAtLevel(
        name=port.name,
        kind=str(port.kind),
        rule=str(rule),
        margin_m=margin,
        wet=bottom < low,
        covered=top <= high,
        holds=rule is Rule.NONE or margin >= 0.0,
    )
