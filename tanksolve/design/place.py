"""Where a port may sit to meet a requirement: the zone, the best and the recommended place."""

import math
from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.fill_limits import SetBy
from tanksolve.analysis.paper import PaperHeight, paper_height
from tanksolve.analysis.place import Opening, best_place, heights_at, zone_half_spaces
from tanksolve.build.zone import Region, carved, room
from tanksolve.design.drop_tube import DropTube, TubeLimits
from tanksolve.errors import AttitudeError, PortError
from tanksolve.kernel.direction import slope_heading_from_up
from tanksolve.kernel.halfspaces import corners_of
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
Point = tuple[float, float, float]

__all__ = ["Heights", "Place", "heights", "place"]

LEAST_OFF_FLOOR = 0.025  # m, for dirt; common practice, no source


@dataclass(frozen=True, eq=False)
class Place:
    """Where a port may be; see :func:`place`. Positions in the tank frame [m].

    Attributes
    ----------
    best_point_m, best_margin_m : the position with the greatest margin, and that margin, bounded.
    best_set_by : the attitude at which it is least.
    recommended_point_m, recommended_margin_m : the same, kept off floor and walls and within the
        limits; None where no such position is in the tank.
    zone_volume_m3 : of the zone, all of it proved; 0 where there is none.
    feasible : whether the recommended position has a margin of 0 or more.
    zone_from_m, zone_to_m : corners of the zone's enclosing box; None where there is no zone.
    gap_m : no position farther than this outside a face of the zone meets the requirement.
    tube : proposal for the recommended position.
    """

    tank: str
    port: str
    requirement: tuple[str, ...]
    source: str
    feasible: bool
    best_point_m: Point
    best_margin_m: float
    best_set_by: SetBy
    recommended_point_m: Point | None
    recommended_margin_m: float | None
    off_floor_m: float
    zone_volume_m3: float
    zone_from_m: Point | None
    zone_to_m: Point | None
    gap_m: float
    evaluations: int
    tube: DropTube | None
    zone: Region | None = field(repr=False, metadata={"json": False})


def place(
    tank: Tank,
    port: Port,
    fill: Fill | float,
    requirement: Requirement,
    *,
    off_floor: float | None = None,
    within: tuple[Point, Point] | None = None,
    tube: TubeLimits | None = None,
    tolerance_deg: float = 0.1,
) -> Place:
    """Find where ``port`` keeps its rule at every required attitude; its position does not matter.

    off_floor : how far the recommended place is kept off the floor (a dry port: off the roof) [m];
        default half a bore, for a wet port at least 25 mm.
    within : lower and upper corner of a box to stay in [m].
    tube : from where and how far a drop tube may reach.
    tolerance_deg : bounds are as close as this change of attitude moves the liquid at the end of
        the tank's diagonal.

    Raises PortError for a port without a rule or limits outside the tank, FillError.
    """
    if not 1e-4 <= tolerance_deg <= 5.0:
        raise AttitudeError(
            f"a tolerance of {tolerance_deg:g}° cannot be used", allowed="0.0001° to 5°"
        )
    opening = Opening.of(tank, port, fill)
    shrink = 0.5 * math.radians(tolerance_deg) * float(np.linalg.norm(tank.upper - tank.lower))
    limits = _box(within, tube, tank)
    radius = 0.5 * (port.bore or 0.0)
    off = (
        off_floor if off_floor is not None else max(radius, 0.0 if opening.dry else LEAST_OFF_FLOOR)
    )
    anywhere = room(tank, within=limits)
    if anywhere is None:
        raise PortError("the limits leave nothing of the tank", next_step="widen them")
    best, worst = best_place(opening, requirement, anywhere.corners, shrink)
    off_floor_room = room(tank, _shifts(off, radius, opening.dry), limits)
    advised = None
    if off_floor_room is not None:
        advised = best_place(opening, requirement, off_floor_room.corners, shrink)[0]
    spaces = zone_half_spaces(opening, requirement, shrink) if best.margin > 0.0 else None
    corners = corners_of(spaces.normals, spaces.offsets) if spaces else None
    zone = carved(tank, corners, limits) if corners is not None else None
    return Place(
        tank=tank.name,
        port=port.name,
        requirement=requirement.words,
        source=requirement.source,
        feasible=advised is not None and advised.margin >= 0.0,
        best_point_m=_point(best.place),
        best_margin_m=best.margin,
        best_set_by=_set_by(port.name, worst.up),
        recommended_point_m=_point(advised.place) if advised else None,
        recommended_margin_m=advised.margin if advised else None,
        off_floor_m=off,
        zone_volume_m3=zone.volume if zone else 0.0,
        zone_from_m=_point(zone.vertices.min(axis=0)) if zone else None,
        zone_to_m=_point(zone.vertices.max(axis=0)) if zone else None,
        gap_m=shrink,
        evaluations=worst.evaluations + (spaces.evaluations if spaces else 0),
        tube=DropTube.to(tank, advised.place, tube) if advised else None,
        zone=zone,
    )


@dataclass(frozen=True)
class Heights:
    """Lowest and highest place of a port on an upright line; z in the tank frame [m].

    Attributes
    ----------
    lowest_m, highest_m : solved; the floor or the roof at that spot is one of them.
    held_m : the bound of the one that the rule sets, on the safe side.
    set_by : the attitude that sets it; None where floor and roof are the only limits.
    feasible : whether the lowest is not above the highest, bound taken.
    paper : the height by the paper method at that attitude, moved by cover and opening.
    """

    x_m: float
    y_m: float
    lowest_m: float
    highest_m: float
    held_m: float
    set_by: SetBy
    feasible: bool
    paper: PaperHeight


def heights(
    tank: Tank,
    port: Port,
    fill: Fill | float,
    requirement: Requirement,
    x: float,
    y: float,
    tolerance: float = 1e-4,
) -> Heights:
    """Find the lowest and highest place of ``port`` at (x, y) [m] that meets the requirement.

    tolerance : how far the bound may lie beyond the solved height [m].
    Raises PortError for a spot that is not in the tank, ValueError for a port without a rule.
    """
    opening = Opening.of(tank, port, fill)
    floor, roof = _column(tank, x, y)
    found = heights_at(opening, requirement, x, y, tolerance)
    by = _set_by(port.name, found.up)
    slope, heading = math.radians(by.slope_deg), math.radians(by.heading_deg)
    on_paper = paper_height(tank, opening.volume, x, y, slope, heading)
    shift = float(opening.shift(np.array([found.up]))[0])
    low, high = (max(floor, found.root), roof) if opening.dry else (floor, min(roof, found.root))
    held = max(floor, found.bound) if opening.dry else min(roof, found.bound)
    return Heights(
        x_m=x,
        y_m=y,
        lowest_m=low,
        highest_m=high,
        held_m=held,
        set_by=by,
        feasible=(held <= roof) if opening.dry else (held >= floor),
        paper=replace(on_paper, height_m=on_paper.height_m + shift),
    )


def _column(tank: Tank, x: float, y: float) -> tuple[float, float]:
    """Lowest and highest z of the tank on the upright line through (x, y) [m]."""
    corners = tank.vertices[tank.faces]
    a, b, c = (corners[:, k, :2] - [x, y] for k in range(3))

    def cross(p: Array, q: Array) -> Array:
        return np.asarray(p[:, 0] * q[:, 1] - p[:, 1] * q[:, 0])

    areas = np.stack([cross(b, c), cross(c, a), cross(a, b)], axis=1)
    total = areas.sum(axis=1)
    close = 1e-12 * float(np.ptp(tank.vertices)) ** 2
    inside = (areas >= -close).all(axis=1) | (areas <= close).all(axis=1)
    inside &= np.abs(total) > close
    if not inside.any():
        raise PortError(
            f"the spot {1000 * x:.1f}, {1000 * y:.1f} mm is not in the tank",
            next_step="measure from the rear wall and the right wall",
        )
    z = (areas[inside] / total[inside, None] * corners[inside, :, 2]).sum(axis=1)
    return float(z.min()), float(z.max())


def _shifts(off: float, radius: float, dry: bool) -> list[Point]:
    upright = [(0.0, 0.0, -off if dry else off)] if off > 0.0 else []
    if radius <= 0.0:
        return list(upright)
    r = radius
    return [*upright, (r, 0.0, 0.0), (-r, 0.0, 0.0), (0.0, r, 0.0), (0.0, -r, 0.0)]


def _box(
    within: tuple[Point, Point] | None, tube: TubeLimits | None, tank: Tank
) -> tuple[Array, Array] | None:
    boxes = [tuple(np.array(end) for end in within)] if within else []
    if tube is not None:
        boxes.append(tube.box(tank))
    if not boxes:
        return None
    lower = np.max([box[0] for box in boxes], axis=0)
    upper = np.min([box[1] for box in boxes], axis=0)
    if not (lower < upper).all():
        raise PortError("the limits leave no room", next_step="widen them")
    return lower, upper


def _set_by(name: str, up: Point) -> SetBy:
    slope, heading = slope_heading_from_up(np.array(up))
    return SetBy(name, float(np.degrees(slope)), float(np.degrees(heading)))


def _point(values: Array) -> Point:
    x, y, z = (float(v) for v in values)
    return x, y, z
