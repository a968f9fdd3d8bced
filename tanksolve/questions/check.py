"""The trade's rules of layout for a tank, each with its source or 'common practice, no source'.

These are habits that mostly serve well, not laws: a tank may break one for good reason. What is
not described is answered 'not given', never passed.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from enum import StrEnum

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.support import support_low
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import LEAST_OFF_FLOOR, ROOMY_OFF_FLOOR, Port, PortKind, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.sight import distance_along, is_tube_end, wall_between
from tanksolve.model.tank import Tank
from tanksolve.questions.envelope.requirement_met import requirement_met
from tanksolve.questions.level.air import roof_bays
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import one_level_margins
from tanksolve.unit_systems import told
from tanksolve.units import length_words

Array = NDArray[np.float64]

__all__ = ["PRACTICE", "Finding", "Layout", "Verdict", "check_layout"]

PRACTICE = "common practice, no source"
_CASEY = "B. Casey, Power & Motion, 4 Apr 2017"
_TEXTBOOK = "Fluid Power (Goodheart-Willcox, 2020) p. 184"
_UP = np.array([[0.0, 0.0, 1.0]])
_LEAST, _ROOMY, _DRAINED = LEAST_OFF_FLOOR, ROOMY_OFF_FLOOR, 0.005  # m
_FASTEST = 1.2  # m/s


class Verdict(StrEnum):
    """Outcome of one rule; ``ADVICE`` is one that asks for more than the least, and is not kept."""

    PASS = "pass"
    FAIL = "fail"
    ADVICE = "advice"
    NOT_GIVEN = "not given"


@dataclass(frozen=True)
class Finding:
    """One rule, held against one tank.

    Attributes
    ----------
    rule : what is asked for, in words.
    verdict : pass, fail, advice or not given.
    found : the number or fact found, with its unit, in words; what is missing where not given.
    source : where the rule comes from.
    """

    rule: str
    verdict: Verdict
    found: str
    source: str


@dataclass(frozen=True)
class Layout:
    """What is known of a tank and its circuit; None is not given.

    Attributes
    ----------
    least_fill : least liquid in use [m³].
    flow : of the pump [m³/s].
    suction_bore, pressure_bores : inner diameters [m].
    strainer_area : open area of the suction strainer [m²].
    case_drain : how the pump's case drain returns: ``"tank"`` is straight back and unpressurised,
        any other words fail.
    parked : attitude at which the tank is drained.
    required : attitudes that the machine must survive, None for level ground; the heater is judged there.
    """

    tank: Tank
    ports: Sequence[Port]
    least_fill: float | None = None
    flow: float | None = None
    suction_bore: float | None = None
    pressure_bores: tuple[float, ...] = ()
    strainer_area: float | None = None
    case_drain: str | None = None
    parked: Attitude = field(default_factory=Attitude.level)
    required: Requirement | None = None

    def of(self, kind: PortKind) -> tuple[Port, ...]:
        """Ports of one kind."""
        return tuple(port for port in self.ports if port.kind is kind)

    @property
    def suction(self) -> tuple[float | None, str]:
        """The suction line's bore [m], and in words that it is the pickup's where it stands in.

        That of a mouth that is not round is none: the circle round it is wider, and liquid slower, than it is.
        """
        pickups = self.of(PortKind.PICKUP)
        if self.suction_bore is not None or len(pickups) != 1 or pickups[0].rim:
            return self.suction_bore, ""
        return pickups[0].bore, " (the pickup's bore)"


def _length(metres: float) -> str:
    return told(metres, "rough length")


def _judged(rule: str, source: str, holds: bool, found: str) -> Finding:
    return Finding(rule, Verdict.PASS if holds else Verdict.FAIL, found, source)


def _missing(rule: str, source: str, **given: object) -> Finding:
    """Say which of the things ``given`` are not there; their names are told as words."""
    lacking = [name.replace("_", " ") for name, value in given.items() if not value]
    return Finding(rule, Verdict.NOT_GIVEN, f"{' and '.join(lacking)} not given", source)


def _return_below_level(layout: Layout) -> list[Finding]:
    rule = "return ends below the least level, on level ground"
    returns = layout.of(PortKind.RETURN)
    if not returns or layout.least_fill is None:
        return [_missing(rule, PRACTICE, **{"return": returns}, least_fill=layout.least_fill)]
    wet = [replace(port, rule=Rule.WET, cover=0.0) for port in returns]
    conditions = Conditions.of(layout.tank, wet, layout.least_fill)
    depths = one_level_margins(conditions, _UP)[0]
    under = {port.name: float(depth) for port, depth in zip(returns, depths, strict=True)}
    words = "; ".join(
        f"{name}: {_length(abs(depth))} {'below' if depth >= 0 else 'above'} the level"
        for name, depth in under.items()
    )
    if conditions.walls_may_part and not conditions.one_surface(_UP).all():
        words += " (all bays at one level)"
    return [_judged(rule, PRACTICE, min(under.values()) > 0.0, words)]


def _return_behind_baffle(layout: Layout) -> list[Finding]:
    rule = "return is on the other side of a baffle from the pickup"
    returns, pickups = layout.of(PortKind.RETURN), layout.of(PortKind.PICKUP)
    pairs = [(r, p) for r in returns for p in pickups]
    if not pairs:
        return [_missing(rule, _TEXTBOOK, **{"return": returns}, pickup=pickups)]
    open_ = [(r, p) for r, p in pairs if not wall_between(layout.tank, r.position, p.position)]
    words = (
        "a wall stands between"
        if not open_
        else "; ".join(
            f"nothing solid on the straight line from {r.name} to {p.name},"
            f" {_length(float(np.linalg.norm(np.subtract(r.position, p.position))))} apart"
            for r, p in open_
        )
    )
    return [_judged(rule, _TEXTBOOK, not open_, words)]


def _pickup_off_floor(layout: Layout) -> list[Finding]:
    rules = (
        (
            f"pickup at least {length_words(_LEAST)} off the floor (the least)",
            _TEXTBOOK,
            lambda bore: _LEAST,
            Verdict.FAIL,
        ),
        (
            f"pickup at least half a bore, and {_length(_ROOMY)}, off the floor where there is room",
            _CASEY,
            lambda bore: max(_ROOMY, 0.5 * bore),
            Verdict.ADVICE,
        ),
    )
    pickups = layout.of(PortKind.PICKUP)
    if not pickups:
        return [_missing(rule, source, pickup=pickups) for rule, source, _, _ in rules]
    gaps = {p.name: _height_over_floor(layout.tank, p) for p in pickups}
    words = "; ".join(f"{name}: {_length(gap)} off the floor" for name, gap in gaps.items())
    return [
        Finding(
            rule,
            Verdict.PASS
            if all(gaps[p.name] >= wanted(p.bore or 0.0) - 1e-9 for p in pickups)
            else otherwise,
            words,
            source,
        )
        for rule, source, wanted, otherwise in rules
    ]


def _height_over_floor(tank: Tank, port: Port) -> float:
    """Height [m] of the opening's lowest point over the floor straight below its centre.

    Of the two ends of a strainer the least. The tube that the port is the end of is not its floor.
    """
    ends = port.ends
    gaps = []
    for centre, discs in zip(ends, np.array_split(port.discs, len(ends)), strict=True):
        drop = float(centre[2] - support_low(discs, _UP)[0])
        gaps.append(distance_along(tank, tank.seated(centre), (0.0, 0.0, -1.0)) - drop)
    return max(0.0, min(gaps))


def _gap_to_walls(tank: Tank, port: Port) -> float:
    """Distance [m] from the opening's centre to the nearest wall, to one of the four sides.

    The tube that the port is the end of is no wall: nor is what stands behind it along that tube.
    """
    sides = np.array([(1.0, 0.0, 0.0), (-1.0, 0.0, 0.0), (0.0, 1.0, 0.0), (0.0, -1.0, 0.0)])
    if port.facing is not None and is_tube_end(tank, port):
        sides = sides[sides @ np.asarray(port.facing) > -0.5]
    start = tank.seated(port.position)
    return min(distance_along(tank, start, side) for side in sides)


def _pickup_off_walls(layout: Layout) -> list[Finding]:
    rule = "pickup at least five bores from the walls"
    pickups = [p for p in layout.of(PortKind.PICKUP) if p.bore is not None]
    if not pickups:
        return [_missing(rule, _CASEY, pickup_with_a_bore=pickups)]
    near = {p.name: _gap_to_walls(layout.tank, p) for p in pickups}
    words = "; ".join(
        f"{p.name}: {_length(near[p.name])} from its centre, {near[p.name] / (p.bore or 1.0):.1f} bores"
        for p in pickups
    )
    return [
        _judged(rule, _CASEY, all(near[p.name] >= 5.0 * (p.bore or 0.0) for p in pickups), words)
    ]


def _suction_larger(layout: Layout) -> list[Finding]:
    rule = "suction line larger than every pressure line"
    bore, whose = layout.suction
    if bore is None or not layout.pressure_bores:
        lines = {"suction line's bore": bore, "pressure line's bore": layout.pressure_bores}
        return [_missing(rule, PRACTICE, **lines)]
    largest = max(layout.pressure_bores)
    words = f"suction {_length(bore)}{whose}, largest pressure line {_length(largest)}"
    return [_judged(rule, PRACTICE, bore > largest, words)]


def _velocity(layout: Layout) -> list[Finding]:
    rule = f"velocity in the suction line up to {told(_FASTEST, 'speed')}"
    bore, whose = layout.suction
    if bore is None or layout.flow is None:
        return [_missing(rule, _CASEY, **{"flow": layout.flow, "suction line's bore": bore})]
    velocity = layout.flow / (0.25 * np.pi * bore**2)
    return [
        _judged(
            rule,
            _CASEY,
            velocity <= _FASTEST,
            f"{told(velocity, 'speed')} in {_length(bore)}{whose}",
        )
    ]


def _strainer(layout: Layout) -> list[Finding]:
    rule = "open area of the strainer at least four times the suction line's"
    bore, whose = layout.suction
    if bore is None or layout.strainer_area is None:
        parts = {"strainer's area": layout.strainer_area, "suction line's bore": bore}
        return [_missing(rule, PRACTICE, **parts)]
    times = layout.strainer_area / (0.25 * np.pi * bore**2)
    return [_judged(rule, PRACTICE, times >= 4.0, f"{times:.1f} times {_length(bore)}{whose}")]


def _case_drain(layout: Layout) -> list[Finding]:
    rule = "pump's case drain unpressurised, straight back to the tank"
    if layout.case_drain is None:
        return [_missing(rule, PRACTICE, case_drain=None)]
    return [_judged(rule, PRACTICE, layout.case_drain == "tank", f"goes to: {layout.case_drain}")]


def _breather(layout: Layout) -> list[Finding]:
    rule = "breather in the top tenth of the tank and in the middle half, both ways"
    source = f"{PRACTICE} (the tenth and the half are this program's)"
    breathers = layout.of(PortKind.BREATHER)
    if not breathers:
        return [_missing(rule, source, breather=breathers)]
    size = layout.tank.upper - layout.tank.lower
    holds, words = [], []
    for port in breathers:
        below = float(layout.tank.upper[2] - port.position[2])  # of its centre
        off = np.abs(np.asarray(port.position) - layout.tank.centre)
        holds.append(below <= 0.1 * size[2] and bool(np.all(off[:2] <= 0.25 * size[:2])))
        place = "on the roof" if below < 5e-4 else f"{_length(below)} below the top"
        words.append(
            f"{port.name}: {place}, off centre {_length(float(off[0]))} lengthwise"
            f" and {_length(float(off[1]))} sideways"
        )
    return [_judged(rule, source, all(holds), "; ".join(words))]


def _vented_bays(layout: Layout) -> list[Finding]:
    rule = "every bay has its own vent at its roof"
    roofs = roof_bays(layout.tank, layout.ports)
    breathers = layout.of(PortKind.BREATHER)
    if not roofs and not breathers:
        return [_missing(rule, PRACTICE, breather=breathers)]
    words = "; ".join(
        f"{told(roof.shut_in_m3, 'volume')} of air has no way out"
        if roof.edge_m is None
        else f"past {told(roof.edge_m, 'length', 'down')} above the floor up to "
        f"{told(roof.shut_in_m3, 'volume', 'up')} of air is shut in"
        for roof in roofs
    )
    return [_judged(rule, PRACTICE, not roofs, words or "no roof shuts in air on level ground")]


def _drain(layout: Layout) -> list[Finding]:
    rule = f"drain within {_length(_DRAINED)} of the lowest point of the parked tank"
    source = f"{PRACTICE} (the distance is this program's)"
    drains = layout.of(PortKind.DRAIN)
    if not drains:
        return [_missing(rule, source, drain=drains)]
    up = np.array([layout.parked.up])
    floor = float(layout.tank.height_range(up)[0][0])
    over = min(float(support_low(p.discs, up)[0]) - floor for p in drains)
    return [_judged(rule, source, over <= _DRAINED, f"{_length(over)} above the lowest point")]


def _heater(layout: Layout) -> list[Finding]:
    rule = "heater covered at the least fill, at every required attitude"
    heaters = layout.of(PortKind.HEATER)
    if not heaters or layout.least_fill is None:
        return [_missing(rule, PRACTICE, heater=heaters, least_fill=layout.least_fill)]
    asked = layout.required or Requirement.single(Attitude.level())
    covered = [replace(port, rule=Rule.WET) for port in heaters]
    found = requirement_met(layout.tank, covered, layout.least_fill, asked)
    cover = min(one.held_margin_m for one in found)
    words = (
        f"{_length(abs(cover))} {'under' if cover >= 0 else 'above'} the level at the worst of them"
    )
    if layout.required is None:
        words += " (level ground only: no other attitude was given)"
    return [_judged(rule, PRACTICE, all(one.met for one in found), words)]


_RULES: tuple[Callable[[Layout], list[Finding]], ...] = (
    *(_return_below_level, _return_behind_baffle, _pickup_off_floor, _pickup_off_walls),
    *(_suction_larger, _velocity, _strainer, _case_drain, _breather),
    *(_vented_bays, _drain, _heater),
)


def check_layout(layout: Layout) -> tuple[Finding, ...]:
    """Hold a layout against every rule, in the order in which they are listed.

    Raises PortError for ports outside the tank, FillError for more than it holds.
    """
    layout.tank.check_ports(layout.ports)
    if layout.least_fill is not None:
        from tanksolve.model.liquid import Fill

        Fill.of(layout.least_fill).check(layout.tank.capacity)
    return tuple(finding for rule in _RULES for finding in rule(layout))
