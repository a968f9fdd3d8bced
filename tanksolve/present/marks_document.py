"""The fill marks of a requirement as a document: how much must be in, and what to mark on the stick."""

import math
from collections.abc import Callable, Mapping, Sequence
from itertools import groupby
from typing import TYPE_CHECKING

from tanksolve.model.attitude import heading_words
from tanksolve.model.ports import Port
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
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
    say,
    slope,
)
from tanksolve.present.sides_once import sides_once
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, wall_cautions
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.marks.gauge import Gauge, level_dip
from tanksolve.questions.marks.marks import AttitudeNeed, Marks
from tanksolve.record import as_plain
from tanksolve.unit_systems import rounded

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["marks_document", "required_facts", "set_by_said"]

_LEVEL = 0.05  # degrees: less is told as level ground
_ASKEW = (
    "the tank is mounted askew: places of dipsticks and sight glasses, and their leans, are in machine "
    "axes (x forward, y left, z up), not along its own walls"
)


def marks_document(
    inputs: Inputs,
    result: Marks,
    requirement: Requirement,
    machine: tuple[Tank, Sequence[Port]],
    gauges: Sequence[Gauge] = (),
    *,
    askew: bool = False,
    cautions: Sequence[Words] = (),
) -> Document:
    """How much must be in and may be in at most, as volume, as dip and on each gauge.

    machine : tank and ports as they were solved, for the picture.
    askew : whether the tank is turned in its machine, so that a gauge's place must be said twice.
    """
    between = _fill_is_between(inputs, result)
    warned = (_ASKEW,) if askew and gauges else ()
    return Document(
        "marks",
        "How much liquid must be in, and may be in at most?",
        _verdict(result, between),
        _sentence(inputs, result, between),
        facts=(
            *_shut_air(inputs, result),
            *required_facts(requirement),
            *_facts(result, machine[0]),
            *_given_dip(inputs, machine[0]),
        ),
        tables=[_marks_table(result, requirement), *_gauge_tables(result), _attitude_table(result)],
        cautions=(
            *inputs.cautions(result.most_m3),
            *cautions,
            *wall_cautions(inputs.tank),
            *warned,
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        figures=_figures(result, machine, gauges),
        data={
            **as_plain(result),
            "fill_between_marks": between,
            "fill_dip_m": _fill_dip(inputs, machine[0]),
        },
    )


def _shut_air(inputs: Inputs, result: Marks) -> list[Fact]:
    """That the most mark is not to be counted on, where air is shut in below it."""
    roofs = [roof for roof in inputs.roofs if roof.from_m3 < result.most_m3]
    if not roofs or not result.feasible:
        return []
    air = Quantity(sum(roof.shut_in_m3 for roof in roofs), "volume", "up")
    edges = [roof.edge_m for roof in roofs]
    past = {"edge": Quantity(min(edges, key=lambda e: e or 0.0), "length", "down")}
    words = "NOT TO BE COUNTED ON past {edge} above the floor: "
    if None in edges:
        past, words = {}, "NOT TO BE COUNTED ON: "
    words += "up to {air} of air is shut in under the roof, and the most mark takes it as vented"
    return [Fact("most mark", say(words, air=air, **past))]


def _fill_dip(inputs: Inputs, tank: Tank) -> list[float] | None:
    """How deep the fill given stands at one level, standing level: least and most [m]."""
    fill = inputs.fill
    return None if fill is None else [level_dip(tank, end) for end in (fill.least, fill.most)]


def _given_dip(inputs: Inputs, tank: Tank) -> list[Fact]:
    """The same in words."""
    dips = _fill_dip(inputs, tank)
    if dips is None or inputs.fill is None:
        return []
    low, high = (Quantity(depth, "length", tape=True) for depth in dips)
    range_ = "{low}" if inputs.fill.least == inputs.fill.most else "{low} to {high}"
    words = "a dip of " + range_ + " standing level, at one level through the tank"
    return [Fact("fill given", say(words, low=low, high=high), Sure.SOLVED)]


def required_facts(requirement: Requirement) -> tuple[Fact, ...]:
    """What is required, and where a preset is from."""
    return (
        *(Fact("required", words) for words in requirement.words),
        *(Fact("source", line) for line in requirement.source.splitlines()),
    )


def set_by_said(by: SetBy) -> Said:
    """The port and the attitude that set a fill or a size."""
    if by.slope_deg < _LEVEL:
        return say("{port} on level ground", port=by.port)
    return say(
        "{port} at {at}, {side}",
        port=by.port,
        at=slope(math.radians(by.slope_deg)),
        side=heading_words(math.radians(by.heading_deg)),
    )


def _fill_is_between(inputs: Inputs, result: Marks) -> bool | None:
    """Whether the fill that was given lies between the marks; None where none was."""
    fill = inputs.fill
    return None if fill is None else result.least_m3 <= fill.least and fill.most <= result.most_m3


def _verdict(result: Marks, between: bool | None) -> Verdict:
    """No where no fill will do; a fill outside the marks is told, and asks for no other answer."""
    if not result.feasible:
        return Verdict.NO
    return Verdict.TOLD if between is None else Verdict.YES if between else Verdict.TOLD


def _sentence(inputs: Inputs, result: Marks, between: bool | None) -> Said:
    if result.out_of_reach_m > 0.0:
        return say(
            "no fill will do: at some required attitude a port's edge, cover or clearance counted, is "
            "{out} outside the tank",
            out=Quantity(result.out_of_reach_m, "length", "up"),
        )
    if not result.feasible:
        return say(
            "no fill will do: the least is above the most by {volume}, {dip} of dip",
            volume=Quantity(result.short_by_m3, "volume", "up"),
            dip=Quantity(result.short_by_dip_m, "length", "up"),
        )
    told = {
        "least": Quantity(result.least_m3, "volume", "up"),
        "most": Quantity(result.most_m3, "volume", "down"),
        "low": Quantity(result.least_dip_m, "length", "up", tape=True),
        "high": Quantity(result.most_dip_m, "length", "down", tape=True),
    }
    marks = "{least} to {most}, a dip of {low} to {high} standing level"
    if not result.dip.tells:
        marks = (
            "{least} to {most}; no reading of a dipstick "
            + result.dip.gauge
            + " is sure of both: {low} or "
            "more is enough, {high} or less is not too much"
        )
    fill = inputs.fill
    if fill is None:
        return say("Keep in " + marks, **told)
    given = Quantity(fill.least, "volume"), Quantity(fill.most, "volume")
    words = "{first}" if fill.least == fill.most else "{first} to {last}"
    if between:
        return say(
            "the fill given, " + words + ", lies between the marks: " + marks,
            **told,
            first=given[0],
            last=given[1],
        )
    return say(
        "NOT BETWEEN THE MARKS: the fill given is " + words + "; keep in " + marks,
        **told,
        first=given[0],
        last=given[1],
    )


def _facts(result: Marks, tank: Tank) -> list[Fact]:
    ends = (("least set by", result.least_set_by), ("most set by", result.most_set_by))
    nothing = {
        "least set by": "nothing: an empty tank",
        "most set by": "the brim: no breather or filler is given, so no room is kept above for heat and foam",
    }
    facts = [
        Fact(label, set_by_said(by) if by else nothing[label], Sure.BOUND if by else None)
        for label, by in ends
    ]
    facts += _nought_of_the_stick(result, tank) + _what_a_stick_tells(result)
    if result.allowances.any_given:
        facts.append(Fact("allowances", "taken in", brief=False))
    else:
        facts.append(
            Fact(
                "allowances",
                "none given: add --reading-error, --reading-tilt, --thermal or --draw-down to move both "
                "marks inwards",
                reader="none are taken off: an error of reading, a stick read out of level, heat and what is "
                "drawn before it comes back each move both marks inwards",
            )
        )
    if result.allowances.any_given:
        facts.append(_without(result))
    return facts


def _without(result: Marks) -> Fact:
    """The marks before anything is taken off."""
    limits = result.limits
    return Fact(
        "without allowances",
        say(
            "{least} to {most}, bounded within {close} of mean depth",
            least=Quantity(limits.least_root_m3, "volume", "up"),
            most=Quantity(limits.most_root_m3, "volume", "down"),
            close=Quantity(result.tolerance_m, "length", "up"),
        ),
        Sure.SOLVED,
        brief=False,
    )


def _nought_of_the_stick(result: Marks, tank: Tank) -> list[Fact]:
    """Where the stick of the sentence stands and counts from, where that is not plainly the floor."""
    under = float(tank.corner[2] - tank.lower[2])
    if tank.is_convex and under < 1e-6:
        return []
    words = "{at}, its nought at the lowest point of the liquid"
    below = {"under": Quantity(under, "length")} if under >= 1e-6 else {}
    return [
        Fact(
            "dipstick",
            say(
                words + (", {under} below the floor" if below else ""), at=result.dip.gauge, **below
            ),
        )
    ]


def _what_a_stick_tells(result: Marks) -> list[Fact]:
    """Where bays do not join below the most mark, a reading tells of one of them only."""
    surely, at_most = result.dip.at_most_mark_m3
    told = []
    if result.dip.over_a_sill:
        told.append(
            Fact(
                "dipstick",
                say(
                    "below {sill} bays do not join there and one may hold it all, so the least mark stands "
                    "above: {least} are enough where they are known to be in, however they were filled in",
                    sill=Quantity(result.least_dip_m, "length", "up", tape=True),
                    least=Quantity(result.least_m3, "volume", "up"),
                ),
            )
        )
    if at_most - surely <= 1e-6 * result.capacity_m3:
        return told
    return [
        *told,
        Fact(
            "dipstick",
            say(
                "bays do not join below the most mark, so a reading is sure of its own bay only: there "
                "the tank holds {surely} to {most}, however it was filled",
                surely=Quantity(surely, "volume", "down"),
                most=Quantity(at_most, "volume", "up"),
            ),
        ),
    ]


def _marks_table(result: Marks, requirement: Requirement) -> Table:
    """The two marks by themselves, each on its own side, for CSV; the sentence tells them on the screen."""
    columns = (
        Column("least fill", "volume", "up"),
        Column("most fill", "volume", "down"),
        Column("least dip standing level", "length", "up", tape=True),
        Column("most dip standing level", "length", "down", tape=True),
    )
    row = (result.least_m3, result.most_m3, result.least_dip_m, result.most_dip_m)
    spare = "" if result.allowances.any_given else "; at these marks nothing is to spare"
    return Table(f"for {'; '.join(requirement.words)} only{spare}", columns, [row], brief=())


def _gauge_tables(result: Marks) -> list[Table]:
    if not result.gauges:
        return []
    rows: list[tuple[Cell, ...]] = [
        (one.gauge, one.least_mark_m, one.most_mark_m, one.least_m3, one.most_m3)
        for one in result.gauges
    ]
    columns = (
        Column("marks on"),
        Column("least mark", "length", "up", tape=True),
        Column("most mark", "length", "down", tape=True),
        Column("holds at least", "volume"),
        Column("holds at most", "volume"),
    )
    caption = "along the scale from its nought; what is in on level ground at the two marks"
    return [Table(caption, columns, rows)]


def _attitude_table(result: Marks) -> Table:
    columns = (
        Column("slope", "slope"),
        Column("machine stands"),
        Column("heading", "angle"),
        Column("unusable", "volume", "up"),
        Column("usable below the most mark", "volume", "down"),
        Column("port"),
    )
    rows = [
        row
        for _, alike in groupby(result.attitudes, key=_told_alike)
        for row in _needs(list(alike), len(result.attitudes))
    ]
    title = "unusable and usable volume at level ground and at corners of the requirement"
    turned = (*columns[:2], Column("heading"), *columns[3:])
    reader = Table(title, turned, sides_once(columns, rows, 1, 2))
    return Table(title, columns, rows, brief=(), reader=reader)


def _told_alike(row: AttitudeNeed) -> tuple[object, ...]:
    """What rows that differ in their heading only have in common."""
    steep = row.slope_deg >= _LEVEL
    volumes = rounded(1e3 * row.unusable_m3, 2, "up"), rounded(1e3 * row.usable_m3, 2, "down")
    return row.port, round(row.slope_deg, 6), steep, *volumes


def _needs(alike: Sequence[AttitudeNeed], count: int) -> "list[tuple[Cell, ...]]":
    """Rows; where all headings of a slope are told by the same figures, one row for them."""
    if len(alike) < max(4, count - 1):
        return [_need(row) for row in alike]
    one = alike[0]
    slope_, port = math.radians(one.slope_deg), one.port
    return [
        (slope_, f"all {len(alike)} headings alike", None, one.unusable_m3, one.usable_m3, port)
    ]


def _need(row: AttitudeNeed) -> tuple[Cell, ...]:
    side = heading_words(math.radians(row.heading_deg))
    level = row.slope_deg < _LEVEL
    return (
        math.radians(row.slope_deg),
        "level ground" if level else side,
        None if level else math.radians(row.heading_deg),
        *(row.unusable_m3, row.usable_m3, row.port),
    )


def _figures(
    result: Marks, machine: tuple[Tank, Sequence[Port]], gauges: Sequence[Gauge]
) -> "Mapping[str, Callable[[], Figure]]":
    def picture() -> "Figure":
        from tanksolve.present.marks_view import marks_figure

        return marks_figure(*machine, result, gauges)

    return {"marks": picture}
