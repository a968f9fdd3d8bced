"""A drawing to weld from: floor plan, side and front elevation, dimensioned from the walls.

Drawn is the inside of the tank, from its mesh; baffles, pipes, sumps and tubes are in it. On paper a round
scale is chosen, in DXF everything stands at its full size in mm.
"""

import math
from collections.abc import Iterable, Iterator, Sequence
from dataclasses import dataclass, replace
from datetime import date

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.assemble import Parts
from tanksolve.geometry.baffles import Baffle
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.drawn import Circle, Line, Path2D, Point, Sheet, Text, arrowed, wide
from tanksolve.present.mesh_lines import cut_lines, seen_lines
from tanksolve.unit_systems import stated as as_stated
from tanksolve.unit_systems import tape_words
from tanksolve.units import slope_words
from tanksolve.version import __version__

Array = NDArray[np.float64]

__all__ = ["LiquidLine", "Welded", "drawing_sheet", "full_size", "listed"]

_PAGE = (420.0, 297.0)  # A3, mm
_SCALES = (1, 2, 5, 10, 20, 50, 100)
_STEP = 6.0  # mm from one dimension line to the next
_FIRST = 8.0  # mm from a view to its first dimension line
_LEFT, _TOP = 14.0, 14.0
_HAIR = 5e-5  # m: places closer than this share a dimension


@dataclass(frozen=True)
class LiquidLine:
    """The surface ``up · x = height`` [m], tank axes, at the worst limit.

    ``place`` is the port that gives out there: the surface is drawn in the upright planes through it.
    """

    up: tuple[float, float, float]
    height: float
    place: tuple[float, float, float]
    words: str


@dataclass(frozen=True)
class Welded:
    """What is drawn, in tank axes.

    Attributes
    ----------
    parts : what the tank was assembled from, where that is known: its baffles' holes are then listed.
    zone : vertices and faces of the zone for a port, its recommended place [m], and the port's name.
    liquid : the surface at the worst limit.
    """

    tank: Tank
    ports: tuple[Port, ...]
    parts: Parts | None = None
    zone: tuple[Array, NDArray[np.int64], tuple[float, float, float], str] | None = None
    liquid: LiquidLine | None = None


@dataclass(frozen=True)
class _View:
    """A view along an axis: which axis runs to the right, which up, where its corner stands [mm]."""

    title: str
    along: int
    right: int
    upward: int
    corner: Point
    scale: float  # mm on paper for a metre
    tank: Tank

    def at(self, place: Sequence[float] | Array) -> Point:
        """On paper."""
        x, y = (
            self.corner[k] + self.scale * (float(place[axis]) - float(self.tank.lower[axis]))
            for k, axis in enumerate((self.right, self.upward))
        )
        return x, y

    def size(self) -> Point:
        """On paper [mm]."""
        span = self.tank.upper - self.tank.lower
        return self.scale * float(span[self.right]), self.scale * float(span[self.upward])


def drawing_sheet(drawn: Welded, made: date) -> tuple[Sheet, int]:
    """The drawing on A3, and its scale 1 : N."""
    span = 1000.0 * (drawn.tank.upper - drawn.tank.lower)
    # dimension lines at most: ports, the plates that stand one way, the zone's place, the tank
    plates = [axis for axis, _, _ in _plates(drawn)]
    rows = len(drawn.ports) + max((plates.count(axis) for axis in range(3)), default=0) + 2
    for scale in _SCALES:
        left = _LEFT + _FIRST + _STEP * rows
        across = left + span[0] / scale + 2 * (_FIRST + _STEP * rows) + 20.0 + span[1] / scale
        down = _TOP + (span[2] + span[1]) / scale + 3 * _FIRST + _STEP * (rows + 4) + 26.0
        if across <= _PAGE[0] - 8.0 and down <= _PAGE[1] - 8.0:
            break
    sheet = Sheet(f"{drawn.tank.name}: inside, to weld from", *_PAGE)
    size = 1000.0 / scale
    high, broad, long = (float(span[k]) / scale for k in (2, 1, 0))
    side_low = _PAGE[1] - _TOP - 8.0 - high
    plan_low = side_low - _FIRST - _STEP * 4 - 8.0 - broad
    front_left = left + long + 2 * _FIRST + _STEP * rows + 20.0
    side = _View("side, seen from the right", 1, 0, 2, (left, side_low), size, drawn.tank)
    front = _View("front, seen from the front", 0, 1, 2, (front_left, side_low), size, drawn.tank)
    plan = _View("floor plan, seen from above", 2, 0, 1, (left, plan_low), size, drawn.tank)
    for view in (side, front, plan):
        _view(sheet, drawn, view)
    _dimensions(sheet, drawn, side, front, plan)
    _frame(sheet, drawn, scale, made, (front_left - 10.0, side_low - _FIRST - _STEP * rows - 4.0))
    return sheet, scale


def full_size(sheet: Sheet, scale: int) -> Sheet:
    """The same sheet with the tank at its full size in mm, as DXF wants it; words and gaps grow with it."""

    def grown(point: Point) -> Point:
        return point[0] * scale, point[1] * scale

    found = Sheet(sheet.title, sheet.width * scale, sheet.height * scale)
    for part in sheet.parts:
        if isinstance(part, Line):
            found.add(replace(part, start=grown(part.start), end=grown(part.end)))
        elif isinstance(part, Circle):
            found.add(replace(part, centre=grown(part.centre), radius=part.radius * scale))
        elif isinstance(part, Path2D):
            found.add(replace(part, points=[grown(p) for p in part.points]))
        else:
            found.add(replace(part, at=grown(part.at), size=part.size * scale))
    return found


def _view(sheet: Sheet, drawn: Welded, view: _View) -> None:
    """The tank's lines, the zone and the liquid cut through, the ports."""
    tank = drawn.tank
    for one, other in seen_lines(tank.vertices, tank.faces, view.along):
        sheet.add(Line(view.at(one), view.at(other), pen=0.25))
    if drawn.zone is not None:
        vertices, faces, place, _ = drawn.zone
        for one, other in cut_lines(vertices, faces, view.along, place[view.along]):
            sheet.add(Line(view.at(one), view.at(other), "zone", 0.35, (1.5, 1.0)))
        x, y = view.at(place)
        sheet.add(
            Line((x - 1.2, y - 1.2), (x + 1.2, y + 1.2), "zone"),
            Line((x - 1.2, y + 1.2), (x + 1.2, y - 1.2), "zone"),
        )
    if drawn.liquid is not None:
        _liquid(sheet, drawn, view)
    for port in drawn.ports:
        x, y = view.at(port.position)
        sheet.add(
            Line((x - 2.2, y), (x + 2.2, y), "dimension", 0.18),
            Line((x, y - 2.2), (x, y + 2.2), "dimension", 0.18),
        )
        if port.bore is not None:
            _opening(sheet, port, view)
    x, y = view.corner[0], view.corner[1] + view.size()[1] + 3.0
    sheet.add(Text(view.title, (x, y), 3.2, bold=True))


def _opening(sheet: Sheet, port: Port, view: _View) -> None:
    """A bore: a circle seen along its facing or where the facing is not known, else a line; or its outline."""
    if port.rim:
        corners = [view.at(np.array(port.position) + corner) for corner in port.outline]
        for one, other in zip(corners, corners[1:] + corners[:1], strict=True):
            sheet.add(Line(one, other, "warning", 0.35))
        return
    radius = 0.5 * (port.bore or 0.0)
    facing = np.array(port.facing if port.facing is not None else np.eye(3)[view.along])
    if abs(facing[view.along]) > 0.999:
        sheet.add(Circle(view.at(port.position), radius * view.scale, "warning", 0.35))
        return
    flat = np.array([facing[view.right], facing[view.upward]])
    across = np.array([-flat[1], flat[0]]) / max(float(np.linalg.norm(flat)), 1e-12)
    ends = []
    for sign in (-1.0, 1.0):
        place = np.array(port.position)
        place[view.right] += sign * radius * across[0]
        place[view.upward] += sign * radius * across[1]
        ends.append(view.at(place))
    sheet.add(Line(ends[0], ends[1], "warning", 0.5))


def _liquid(sheet: Sheet, drawn: Welded, view: _View) -> None:
    """Where the surface cuts the upright plane of a view through the port that gives out, within the tank."""
    surface, tank = drawn.liquid, drawn.tank
    if surface is None or view.along == 2:
        return
    u, low, high = surface.up, tank.lower, tank.upper
    a, b = u[view.right], u[view.upward]
    rest = surface.height - u[view.along] * surface.place[view.along]
    ends = []
    for axis, other, p, q in ((view.right, view.upward, a, b), (view.upward, view.right, b, a)):
        for edge in (float(low[axis]), float(high[axis])):
            if abs(q) > 1e-9:
                value = (rest - p * edge) / q
                if low[other] - _HAIR <= value <= high[other] + _HAIR:
                    place = np.zeros(3)
                    place[axis], place[other] = edge, value
                    ends.append(place)
    if len(ends) >= 2:
        far = max(ends, key=lambda one: float(np.linalg.norm(one - ends[0])))
        sheet.add(Line(view.at(ends[0]), view.at(far), "liquid", 0.5))


def _dimensions(sheet: Sheet, drawn: Welded, side: _View, front: _View, plan: _View) -> None:
    """All sizes and places from the walls: forward below the plan, left beside it, up beside the elevations."""
    tank = drawn.tank
    marks = [(port.name, port.position) for port in drawn.ports]
    if drawn.zone is not None:
        marks.append((f"{drawn.zone[3]}, recommended", drawn.zone[2]))
    corner = tank.corner

    def with_plates(axis: int) -> list[tuple[str, Sequence[float]]]:
        faces = [
            (name, corner + off * np.eye(3)[k]) for k, name, off in _plates(drawn) if k == axis
        ]
        return [*marks, *((name, tuple(place.tolist())) for name, place in faces)]

    _chain(sheet, plan, with_plates(0), 0, corner, below=True)
    _chain(sheet, plan, with_plates(1), 1, corner, below=False)
    _chain(sheet, side, with_plates(2), 2, corner, below=False)
    _chain(sheet, front, marks, 1, corner, below=True)
    for view, axis, up in ((side, 0, False), (front, 2, True)):
        _overall(sheet, view, axis, upright=up)


def _plates(drawn: Welded) -> list[tuple[int, str, float]]:
    """Where the near face of each baffle stands: axis, name, and how far from the wall it is measured from [m].

    One that leans or is turned has its far end too: at the roof, at the left wall, at the front wall.
    """
    found = []
    span = drawn.tank.upper - drawn.tank.corner
    for one in () if drawn.parts is None else drawn.parts.baffles:
        axis = {"across": 0, "along": 1, "flat": 2}[one.stands]
        found.append((axis, one.name, one.at))
        rise = float(span[0] if one.stands == "flat" else span[2])
        if one.lean:
            end = "front end" if one.stands == "flat" else "top"
            found.append(
                (
                    axis,
                    f"{one.name}, {end}",
                    one.at + rise * math.tan(one.lean) / math.cos(one.turn),
                )
            )
        if one.turn:
            aside = float(span[1 if one.stands == "across" else 0])
            end = "left end" if one.stands == "across" else "front end"
            found.append((axis, f"{one.name}, {end}", one.at + aside * math.tan(one.turn)))
    return found


def _slanted(one: Baffle) -> str:
    """How a baffle leans and is turned, in words; nothing where it stands straight."""
    ways = {
        "across": (("top forward", "top rearward"), ("left end forward", "left end rearward")),
        "along": (
            ("top to the left", "top to the right"),
            ("front end to the left", "front end to the right"),
        ),
        "flat": (("front end up", "front end down"), ("", "")),
    }[one.stands]
    told = [
        f"{ends[angle < 0.0]} by {slope_words(abs(angle))}"
        for angle, ends in zip((one.lean, one.turn), ways, strict=True)
        if angle
    ]
    return ", ".join(told)


def _overall(sheet: Sheet, view: _View, axis: int, *, upright: bool) -> None:
    """The tank's own size along an axis."""
    (x, y), (wide_, tall) = view.corner, view.size()
    words = tape_words(float(view.tank.upper[axis] - view.tank.lower[axis]))
    if upright:
        arrowed(sheet, (x + wide_ + _FIRST, y), (x + wide_ + _FIRST, y + tall), words)
    else:
        arrowed(sheet, (x, y - _FIRST), (x + wide_, y - _FIRST), words)


def _chain(
    sheet: Sheet,
    view: _View,
    marks: Sequence[tuple[str, Sequence[float]]],
    axis: int,
    corner: Array,
    *,
    below: bool,
) -> None:
    """Dimensions from one wall to each place along an axis, each value once, the tank's size last."""
    tank, found = view.tank, dict[float, list[str]]()
    for name, place in marks:
        value = float(place[axis] - corner[axis])
        same = next((one for one in found if abs(one - value) < _HAIR), value)
        found.setdefault(same, []).append(name)
    rows = sorted(found.items())
    total = float(tank.upper[axis] - corner[axis])
    if not any(abs(one - total) < _HAIR for one in found):
        rows.append((total, []))
    far = view.corner[0 if axis != view.right else 1]
    for k, (value, names) in enumerate(rows):
        there = far - _FIRST - _STEP * k
        start, end = corner.copy(), corner.copy()
        end[axis] = corner[axis] + value
        words, long = tape_words(value), abs(value) * view.scale
        named = f"{words} {', '.join(names)}".strip()
        words = named if wide(named, 2.6) <= long - 2.0 else words
        if below:
            x0, x1 = view.at(start)[0], view.at(end)[0]
            sheet.add(Line((x1, there - 1.0), (x1, view.corner[1]), "dimension", 0.1))
            arrowed(sheet, (x0, there), (x1, there), words)
        else:
            y0, y1 = view.at(start)[1], view.at(end)[1]
            sheet.add(Line((there - 1.0, y1), (view.corner[0], y1), "dimension", 0.1))
            arrowed(sheet, (there, y0), (there, y1), words)


def _frame(sheet: Sheet, drawn: Welded, scale: int, made: date, corner: Point) -> None:
    """The border, the tables and the title: in the free corner at the lower right."""
    sheet.box((5.0, 5.0), (_PAGE[0] - 5.0, _PAGE[1] - 5.0), pen=0.5)
    left, top = corner
    lines = [
        f"{drawn.tank.name}: inside of the tank, mm unless said; 1 : {scale} on A3",
        f"{made.isoformat()}, tanksolve {__version__}. From the rear wall, the right wall, the floor.",
        *([f"Blue: {drawn.liquid.words}"] if drawn.liquid else []),
        *(
            [f"Green: zone for {drawn.zone[3]}, cut at the recommended place"]
            if drawn.zone is not None
            else []
        ),
        *listed(drawn),
        "No hot work near a tank that has held fuel. A tank limit says nothing about roll-over.",
    ]
    room, across = top - 12.0, _PAGE[0] - 10.0 - left
    letter = min(
        3.0, room / (1.35 * len(lines)), *(3.0 * across / max(wide(t, 3.0), 1.0) for t in lines)
    )
    for k, line in enumerate(lines, start=1):
        sheet.add(Text(line, (left, top - 1.35 * letter * k), letter, bold=k == 1))


def listed(drawn: Welded) -> Iterator[str]:
    """Ports, and what the tank was assembled from, one a line, in the units in force."""

    def stated(value: float | Iterable[float], kind: str, between: str = " x ") -> str:
        return as_stated(value, kind, between, solved=True)

    for port in drawn.ports:
        x, y, z = (stated(c, "length") for c in drawn.tank.from_walls(port.position))
        what = "its own outline, across" if port.rim else "bore"
        bore = f", {what} {stated(port.bore, 'length')}" if port.bore is not None else ""
        yield f"{port.name} ({port.kind}): {x} forward, {y} left, {z} up{bore}"
    if drawn.parts is None:
        return
    for sump in drawn.parts.sumps:
        at, top = stated(sump.at, "length", ", "), stated(sump.top, "length")
        yield f"{sump.name}: at {at}, {top} at the rim, {stated(sump.depth, 'length')} deep"
    for one in drawn.parts.internals:
        ends = [c for c in (*one.low, *one.high) if math.isfinite(c)]
        yield f"{one.name}: {one.kind}, within {stated(ends, 'length', ', ')}"
    for baffle in drawn.parts.baffles:
        count = len(baffle.cuts) + len(baffle.gaps)
        openings = f"{count} opening{'s' * (count != 1)}:"
        slanted = _slanted(baffle)
        yield (
            f"{baffle.name}: stands {baffle.stands}, near face at {stated(baffle.at, 'length')}, "
            f"{stated(baffle.thickness, 'length')} thick, {(slanted and 'slanted:') or openings}"
        )
        if slanted:
            yield f"   {slanted}"
            yield f"   {openings}"
        for cut in baffle.cuts:
            place = f" at {stated(cut.place, 'length', ', ')}" if not cut.edge else ""
            yield f"   {cut.words}{place}"
        yield from (f"   {edge} gap {stated(gap, 'length')}" for edge, gap in baffle.gaps.items())
    for pipe in drawn.parts.pipes:
        yield f"{pipe.name}: bore {stated(pipe.bore, 'length')}"
