"""Where a port may sit to meet a requirement, as a document."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tanksolve.model.attitude import uphill_words
from tanksolve.model.ports import LEAST_OFF_FLOOR, ROOMY_OFF_FLOOR, Port, PortKind, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.present.cover_cautions import cover_cautions
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Sure,
    Table,
    Verdict,
    Words,
    joined,
    say,
    slope,
)
from tanksolve.present.marks_document import required_facts
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, port_details, wall_cautions
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.place.heights import Heights
from tanksolve.questions.place.place import Place
from tanksolve.questions.place.zone_parts import Point
from tanksolve.record import as_plain
from tanksolve.unit_systems import Rounding

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["PlaceCase", "heights_document", "place_document"]

_BARE = "edge of drawing air, no cover: give the opening a bore or a cover"
_ASKEW = (
    "the tank is mounted askew: the places of most margin and recommended are told from its own "
    "walls; spot, box and tube as typed, the tube found, the zone's extent, its file and its picture are "
    "along the machine's axes, from the tank's rear and right end and its lowest point there"
)


@dataclass(frozen=True)
class PlaceCase:
    """What is placed where: ``tank`` in machine axes; ``in_tank_axes`` turns a point of it to the tank's own."""

    tank: Tank
    port: Port
    requirement: Requirement
    askew: bool
    in_tank_axes: Callable[[Point], Point]

    @property
    def ends(self) -> tuple[str, str, str]:
        """What the machine's axes are measured from: the tank's walls, unless it stands askew."""
        if self.askew:
            return "its rear end", "its right end", "its lowest point"
        return "the rear wall", "the right wall", "the floor"

    def cautions(self, one_surface: bool) -> tuple[Words, ...]:
        """What must be said beside any place."""
        bare = self.port.kind is PortKind.PICKUP and self.port.required_cover == 0.0
        return (
            *((_BARE,) if bare else ()),
            *cover_cautions([self.port]),
            *(() if one_surface else wall_cautions(self.tank)),
            *((_ASKEW,) if self.askew else ()),
            *TANK_CAUTIONS,
        )

    def facts(self) -> Iterator[Fact]:
        """The port that is placed, and what is required of it."""
        port = self.port
        name = say(f"{port.name} ({port.kind}, {port.effective_rule})")
        yield Fact("placed", joined("; ", name, *port_details(port)))
        yield from required_facts(self.requirement)


def place_document(inputs: Inputs, result: Place, case: PlaceCase) -> Document:
    """The recommended place, the place of most margin, the zone and the tube that reaches it."""
    return Document(
        "place",
        say("Where may {port} sit?", port=result.port),
        _verdict(result),
        _sentence(inputs, result, case),
        facts=(*_facts(inputs, result, case), *case.facts()),
        tables=[_zones(result, case)] if result.zones else [],
        cautions=(*inputs.roof_cautions(), *case.cautions(result.one_surface)),
        understood=inputs.facts(),
        figures=_figures(result, case),
        data={**as_plain(result), **_tank_axes(result, case)},
    )


def _verdict(result: Place) -> Verdict:
    """No yes to a place that no tube was found to: the zone is told, and what is in the way."""
    if not result.feasible:
        return Verdict.NO
    return Verdict.TOLD if _walled_off(result) else Verdict.YES


def _walled_off(result: Place) -> bool:
    return result.tube is not None and not result.tube.clear


def _tank_axes(result: Place, case: PlaceCase) -> dict[str, object]:
    """The places once more in the tank's own axes, where those are not the machine's."""
    if not case.askew:
        return {"tank_axes": None}
    points = {
        "best_point_m": result.best_point_m,
        "recommended_point_m": result.recommended_point_m,
    }
    turned = {name: point and case.in_tank_axes(point) for name, point in points.items()}
    return {"tank_axes": turned}


def _walls(tank: Tank, point: Point) -> Said:
    """A place as distances from the tank's walls; ``tank`` and ``point`` in tank axes."""
    x, y, z = tank.from_walls(point)
    side = "above" if z > -0.5e-4 else "below"
    return say(
        "{rear} from the rear wall, {right} from the right wall, {height} " + side + " the floor",
        rear=_length(x),
        right=_length(y),
        height=_length(abs(z)),
    )


def _sentence(inputs: Inputs, result: Place, case: PlaceCase) -> Said:
    off = _length(result.off_floor_m)
    if not result.zones:
        return say("no place in the tank meets the requirement at this fill")
    end = "roof" if case.port.effective_rule is Rule.DRY else "floor"
    point, margin = result.recommended_point_m, result.recommended_margin_m
    if not result.feasible or point is None or margin is None:
        words = "no place kept {off} off the " + end + " meets the requirement at this fill"
        return say(words, off=off)
    place = _walls(inputs.tank, case.in_tank_axes(point))
    spare = say(": {margin} of margin", margin=Quantity(margin, "length", "down"))
    if result.tube is None or result.tube.clear:
        return joined("", say("{port} may sit ", port=result.port), place, spare)
    straight = "straight " if result.tube.wall == "top" else ""
    return joined(
        "",
        say(
            "Maybe: there is a zone of {zone} for {port}, but no "
            + straight
            + "tube was found to its "
            "recommended place (it meets {near}): try other places in the zone. Recommended was ",
            zone=Quantity(result.zone_volume_m3, "volume", "down"),
            port=result.port,
            near=result.tube.near,
        ),
        place,
        spare,
    )


def _margin_said(inputs: Inputs, case: PlaceCase, point: Point, margin: float) -> Said:
    return joined(
        ": ",
        _walls(inputs.tank, case.in_tank_axes(point)),
        say("{margin} of margin", margin=Quantity(margin, "length", "down")),
    )


def _at(by: SetBy) -> Said:
    return say(
        "least at {slope} with uphill at heading {side}",
        slope=slope(math.radians(by.slope_deg)),
        side=uphill_words(by.heading_deg, 1),
    )


def _facts(inputs: Inputs, result: Place, case: PlaceCase) -> Iterator[Fact]:
    best = _margin_said(inputs, case, result.best_point_m, result.best_margin_m)
    label = "most margin" if result.zones else "least bad"
    yield Fact(label, joined(", ", best, _at(result.best_set_by)), Sure.BOUND)
    off = say("kept {off} off", off=_length(result.off_floor_m))
    point, margin = result.recommended_point_m, result.recommended_margin_m
    if point is not None and margin is not None:
        told = _margin_said(inputs, case, point, margin)
        label = "recommended" if result.feasible else "least bad"  # line one tells the first
        yield Fact(label, joined(", ", told, off), brief=not result.feasible)
    else:
        what = "zone" if result.zones else "tank"
        words = "none: nothing of the " + what + " is {off} off floor and walls"
        yield Fact("recommended", say(words, off=_length(result.off_floor_m)))
    if (
        result.feasible
        and case.port.kind is PortKind.PICKUP
        and result.off_floor_m < ROOMY_OFF_FLOOR
    ):
        roomy = _length(ROOMY_OFF_FLOOR)
        more = say("'check' advises {roomy} off, against dirt and vortices", roomy=roomy)
        advised = say("{roomy} off is advised, against dirt and vortices", roomy=roomy)
        yield Fact("where there is room", more, brief=False, reader=advised)
    if result.zones:
        yield Fact("zone", _zone(result), Sure.BOUND)
    for part in result.zones if len(result.zones) > 1 else ():
        if part.recommended_point_m is not None and part.recommended_margin_m is not None:
            told = _margin_said(inputs, case, part.recommended_point_m, part.recommended_margin_m)
            yield Fact(part.name, joined("", say("recommended in it "), told), brief=False)
    yield from _tube(result, case)


def _zone(result: Place) -> Said:
    volume = Quantity(result.zone_volume_m3, "volume", "down")
    if result.gap_m is None:
        return say("{volume}, all of it proved, whatever the machine did before", volume=volume)
    return say(
        "{volume}, all of it proved; no place {gap} outside a face of it meets the requirement",
        volume=volume,
        gap=Quantity(result.gap_m, "length", "up"),
    )


def _zones(result: Place, case: PlaceCase) -> Table:
    """The box around the zone of each compartment, from the ends of the tank."""
    behind, beside, below = case.ends
    columns = (
        Column("the zone lies within"),
        *(Column(f"{way} {behind}", "length") for way in ("from", "to")),
        *(Column(f"{way} {beside}", "length") for way in ("from", "to")),
        *(Column(f"{way} {below}", "length") for way in ("from", "to")),
        Column("volume", "volume", "down"),
    )
    rows: list[Sequence[Cell]] = []
    for part in result.zones:
        low, high = case.tank.from_walls(part.from_m), case.tank.from_walls(part.to_m)
        ends = [end for pair in zip(low, high, strict=True) for end in pair]
        rows.append((part.name, *ends, part.volume_m3))
    title = "boxes round the zone, from the ends named; not all of a box is zone"
    return Table(title, columns, rows, brief=() if len(rows) == 1 else None)


def _tube(result: Place, case: PlaceCase) -> Iterator[Fact]:
    tube = result.tube
    if tube is None:
        return
    outside = _length(tube.outside_m)
    if not tube.clear:
        words = "none as thick as {outside} outside gets there through the {wall}: it meets {near}"
        met = say(words, outside=outside, wall=tube.wall, near=tube.near)
        yield Fact("tube", joined("; ", met, say("--within or --at asks elsewhere")), reader=met)
        return
    behind, beside, below = case.ends
    rear, right, floor = (_length(c) for c in case.tank.from_walls(tube.leaves_m))
    values = {"rear": rear, "right": right, "floor": floor, "drop": _length(abs(tube.drop_m))}
    drops = "drops {drop}" if tube.drop_m >= 0.0 else "rises {drop}"
    if tube.wall != "top":
        values["run"] = _length(tube.run_m)
        drops = "runs {run} in" + (f", bends and {drops}" if tube.bend_m else "")
    hole = "{rear} from " + behind + ", {right} from " + beside + ", {floor} above " + below
    values |= {"outside": outside, "room": Quantity(tube.clearance_m, "length", "down")}
    room = "; taken as {outside} thick outside, {room} clear of " + tube.near
    yield Fact("tube", Said(f"leaves through the {tube.wall} {hole}; {drops}{room}", values))


def _length(metres: float) -> Quantity:
    return Quantity(metres, "length")


def _figures(result: Place, case: PlaceCase) -> "Mapping[str, Callable[[], Figure]]":
    def zone() -> "Figure":
        from tanksolve.present.zone_view import zone_figure

        return zone_figure(case.tank, result, ends=case.ends)

    return {"zone": zone}


def heights_document(inputs: Inputs, result: Heights, case: PlaceCase) -> Document:
    """The lowest and the highest place at one spot, and whether the paper method finds the same."""
    return Document(
        "place",
        say("How high and how low may {port} sit at this spot?", port=case.port.name),
        Verdict.YES if result.feasible else Verdict.NO,
        _heights_said(result, case),
        facts=(*_heights_facts(result, case), *case.facts()),
        cautions=(*inputs.roof_cautions(), *case.cautions(result.one_surface)),
        understood=inputs.facts(),
        figures={},
        data={"port": case.port.name, **as_plain(result)},
    )


def _height(z: float, case: PlaceCase, rounding: Rounding = "nearest") -> Quantity:
    return Quantity(z - float(case.tank.corner[2]), "length", rounding)


def _heights_said(result: Heights, case: PlaceCase) -> Said:
    if not result.feasible:
        return say("no height at this spot meets the requirement")
    dry = case.port.effective_rule is Rule.DRY
    return joined(
        "",
        say(
            "at this spot {port} may sit "
            + ("from {held} above the floor up" if dry else "up to {held} above the floor"),
            port=case.port.name,
            held=_height(result.held_m, case, "up" if dry else "down"),
        ),
        say("; set at "),
        say(
            "{slope}, uphill at heading {side}",
            slope=slope(math.radians(result.set_by.slope_deg)),
            side=uphill_words(result.set_by.heading_deg, 1),
        ),
        *_low_said(result, case),
    )


def _room_under(case: PlaceCase) -> float | None:
    """What a pickup's mouth needs under it [m], of the same figures as a zone; None for other ports."""
    if case.port.kind is not PortKind.PICKUP or case.port.effective_rule is Rule.DRY:
        return None
    return max(0.5 * (case.port.bore or 0.0), LEAST_OFF_FLOOR)


def _other_end(other: float, case: PlaceCase) -> Said:
    """The end that no rule sets: the roof, or the floor and how far a pickup is kept off it."""
    room = _room_under(case)
    if room is None:
        end = "the roof" if case.port.effective_rule is Rule.DRY else "the floor"
        return say("{z} above the floor: " + end, z=_height(other, case))
    return say(
        "{z} above the floor, to leave {room} under the mouth: one that stands on the floor draws nothing",
        z=_height(other + room, case, "up"),
        room=Quantity(room, "length", "up"),
    )


def _low_said(result: Heights, case: PlaceCase) -> Iterator[Said]:
    """That the highest place leaves less under the mouth than a pickup needs."""
    room = _room_under(case)
    if room is not None and result.held_m < result.lowest_m + room:
        yield say(
            "; that leaves less than {room} under the mouth: fill more, or choose another spot",
            room=Quantity(room, "length", "up"),
        )


def _heights_facts(result: Heights, case: PlaceCase) -> Iterator[Fact]:
    dry = case.port.effective_rule is Rule.DRY
    solved, other = (result.lowest_m, result.highest_m)[:: 1 if dry else -1]
    names = ("lowest", "highest")[:: 1 if dry else -1]
    yield Fact(names[0], say("{z} above the floor", z=_height(solved, case)), Sure.SOLVED)
    bound = say("{z} above the floor", z=_height(result.held_m, case, "up" if dry else "down"))
    yield Fact(f"{names[0]}, proved", bound, Sure.BOUND)
    yield Fact(names[1], _other_end(other, case))
    paper = result.paper
    right = "it holds here" if paper.holds else f"it is not right here: {paper.why_not}"
    words = "the level turned about its middle gives {z}: " + right
    yield Fact("paper method", say(words, z=_height(paper.height_m, case)))
