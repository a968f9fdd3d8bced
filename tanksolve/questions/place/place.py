"""Where a port may sit to meet a requirement: the zone, the best and the recommended place."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import AttitudeError, PortError
from tanksolve.geometry.booleans import Body, intersection, joined_mesh, pieces, to_body, union
from tanksolve.geometry.pieces import connected, place_inside
from tanksolve.geometry.solids import Solid
from tanksolve.geometry.zone import Region, carved, region_of, room_body
from tanksolve.kernel.attitude.direction import slope_heading_deg
from tanksolve.kernel.attitude.halfspaces import corners_of
from tanksolve.kernel.pools.pool_levels import space_of, spaces_of
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import LEAST_OFF_FLOOR, Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.place.compartments import parted_places
from tanksolve.questions.place.drop_tube import DropTube, TubeLimits, outside_of
from tanksolve.questions.place.points import Opening, best_place, zone_half_spaces
from tanksolve.questions.place.zone_parts import Places, Point, Spot, ZonePart, as_point
from tanksolve.result import Result
from tanksolve.state.one_surface import one_surface_certain

Array = NDArray[np.float64]

__all__ = ["Place", "place"]

_SPECK = 1e-9  # of the tank: rooms that are left out


@dataclass(frozen=True, eq=False, repr=False)
class Place(Result):
    """Where a port may be; see :func:`place`. Positions in the tank frame [m].

    Attributes
    ----------
    best_point_m, best_margin_m : the position with the greatest margin, and that margin, bounded.
    best_set_by : the attitude at which it is least.
    recommended_point_m, recommended_margin_m : the same, kept off floor and walls and within the
        limits; None where no such position is in the tank.
    zone_volume_m3 : of the zone, all compartments together; 0 where there is none.
    feasible : whether the recommended position has a margin of 0 or more.
    zone_from_m, zone_to_m : corners of the zone's enclosing box; None where there is no zone.
    gap_m : where one surface is certain, no position farther than this outside a face of the zone
        meets the requirement; else None: what was too costly to prove is left out.
    one_surface : whether one free surface is certain at every required attitude. Elsewhere the zones
        are for the worst that any route can leave. They are proved either way.
    zones : the zone in each compartment, that of the recommended position first.
    tube : proposal for the recommended position, where that is feasible.
    """

    rows_of: ClassVar[str] = "zones"

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
    gap_m: float | None
    evaluations: int
    one_surface: bool
    zones: tuple[ZonePart, ...]
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
    others: Sequence[Port] = (),
    tolerance_deg: float = 0.1,
) -> Place:
    """Find where ``port`` keeps its rule at every required attitude; its position does not matter.

    The zone is proved, whatever the machine did before. Where walls may part the liquid it has a
    part in each compartment; a dry port is kept above the highest level anywhere in its liquid space.

    off_floor : how far the recommended place is kept off the floor (a dry port: off the roof) [m];
        default half a bore, for a wet port at least ``LEAST_OFF_FLOOR``, as ``check`` asks.
    within : lower and upper corner of a box to stay in [m].
    tube : from where and how far a drop tube may reach. others : ports that it must stay clear of.
    tolerance_deg : bounds are as close as this change of attitude moves the liquid at the end of
        the tank's diagonal.

    Raises PortError for limits outside the tank, FillError, ValueError for a port without a rule.
    """
    if not 0.02 <= tolerance_deg <= 5.0:  # finer takes minutes and gigabytes
        raise AttitudeError(
            f"a tolerance of {tolerance_deg:g}° cannot be used", allowed="0.02° to 5°"
        )
    opening = Opening.of(tank, port, fill)
    shrink = 0.5 * math.radians(tolerance_deg) * float(np.linalg.norm(tank.upper - tank.lower))
    limits = _box(within, tube, tank)
    radius = 0.5 * (port.bore or 0.0)
    off = (
        off_floor if off_floor is not None else max(radius, 0.0 if opening.dry else LEAST_OFF_FLOOR)
    )
    anywhere = room_body(tank, within=limits)
    kept_off = room_body(tank, _shifts(off, 0.5 * outside_of(port.bore), opening.dry), limits)
    if anywhere.volume() <= 0.0:
        raise PortError("the limits leave nothing of the tank", next_step="widen them")
    certain = one_surface_certain(tank, requirement, opening.volume)
    if certain:
        found = _by_one_level(port.name, opening, requirement, anywhere, kept_off, shrink)
    elif opening.dry:
        found = _above_all(port.name, opening, requirement, anywhere, kept_off, shrink)
    else:
        found = parted_places(port.name, opening, requirement, anywhere, kept_off, shrink)
    best, advised, zone = found.best, found.recommended, found.region
    feasible = advised is not None and advised.margin >= 0.0
    clear_of = [other for other in others if other.name != port.name]
    return Place(
        tank=tank.name,
        port=port.name,
        requirement=requirement.words,
        source=requirement.source,
        feasible=feasible,
        best_point_m=best.place,
        best_margin_m=best.margin,
        best_set_by=best.set_by,
        recommended_point_m=advised.place if advised else None,
        recommended_margin_m=advised.margin if advised else None,
        off_floor_m=off,
        zone_volume_m3=zone.volume if zone else 0.0,
        zone_from_m=as_point(zone.vertices.min(axis=0)) if zone else None,
        zone_to_m=as_point(zone.vertices.max(axis=0)) if zone else None,
        gap_m=shrink if certain else None,
        evaluations=found.evaluations,
        one_surface=certain,
        zones=found.parts,
        tube=DropTube.to(tank, np.array(advised.place), tube, port.bore, clear_of)
        if advised and feasible
        else None,
        zone=zone,
    )


def _by_one_level(
    name: str,
    opening: Opening,
    requirement: Requirement,
    anywhere: Body,
    kept_off: Body,
    shrink: float,
) -> Places:
    """One convex set of half-spaces, proved for one level at every required attitude."""

    def best_in(body: Body) -> tuple[Spot, int] | None:
        kept = pieces(body) if body.volume() > 0.0 else []
        if not kept:
            return None
        vertices, faces = joined_mesh(kept)
        found, worst = best_place(opening, requirement, vertices[faces], shrink)
        by = SetBy(name, *slope_heading_deg(np.array(worst.up)))
        return Spot(as_point(found.place), found.margin, by), worst.evaluations

    first = best_in(anywhere)
    if first is None:
        raise ValueError("there is no room to look for a place in")
    best, spent = first
    second = best_in(kept_off)
    advised = second[0] if second else None
    spaces = zone_half_spaces(opening, requirement, shrink) if best.margin > 0.0 else None
    corners = corners_of(spaces.normals, spaces.offsets) if spaces else None
    zone = carved(anywhere, corners) if corners is not None else None
    parts = (ZonePart.of(1, zone, best, advised),) if zone is not None else ()
    return Places(parts, best, advised, zone, spent + (spaces.evaluations if spaces else 0))


def _above_all(
    name: str,
    opening: Opening,
    requirement: Requirement,
    anywhere: Body,
    kept_off: Body,
    shrink: float,
) -> Places:
    """A dry port's zone in each separate liquid space: above the highest level anywhere in it."""
    graph = opening.tank.graph
    spaces, rooms = spaces_of(graph), dict[int, tuple[Array, list[Body]]]()
    for body in connected(anywhere, _SPECK * opening.tank.capacity):
        inside = place_inside(body)
        if inside is not None:
            number = space_of(graph, spaces, inside)
            rooms.setdefault(number, (inside, []))[1].append(body)
    found = []
    for inside, bodies in rooms.values():
        room = union(bodies)
        off = intersection(kept_off, room)
        found.append(_by_one_level(name, opening.at(inside), requirement, room, off, shrink))
    if not found:
        raise PortError("the limits leave nothing of the tank", next_step="widen them")
    found.sort(key=lambda one: -(one.recommended.margin if one.recommended else -math.inf))
    parts = [part for one in found for part in one.parts]
    regions = [part.region for part in parts]
    whole = [to_body(Solid(region.vertices, region.faces)) for region in regions]
    return Places(
        parts=tuple(replace(part, name=f"zone {count}") for count, part in enumerate(parts, 1)),
        best=max((one.best for one in found), key=lambda spot: spot.margin),
        recommended=found[0].recommended,
        region=regions[0] if len(regions) == 1 else region_of(union(whole)) if whole else None,
        evaluations=sum(one.evaluations for one in found),
    )


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
