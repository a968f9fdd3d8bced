"""What a tank file or mesh holds, before any question is asked, as a document."""

from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Any

from tanksolve.geometry.compartments import Division, Passage
from tanksolve.geometry.findings import advised, place_words
from tanksolve.geometry.mesh_report import MeshReport
from tanksolve.model.link import Link
from tanksolve.model.tank import Tank
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Table,
    Verdict,
    Words,
    say,
)
from tanksolve.present.understood import Inputs
from tanksolve.questions.level.air import RoofBay
from tanksolve.record import as_plain
from tanksolve.unit_systems import METRIC, told, using

__all__ = ["Inspected", "inspect_document"]

_LEVEL = (0.0, 0.0, 1.0)
_WAYS = {"flap": "lets liquid through {} only", "balance pipe": "open both ways"}


@dataclass(frozen=True)
class Inspected:
    """What was found.

    Attributes
    ----------
    report : on a mesh file; None for a tank file or a shape.
    inputs : the tank as understood; None where a mesh cannot be used or leaves a choice.
    division, roofs : the compartments of a tank file with baffles; roofs that cannot vent.
    """

    report: MeshReport | None
    inputs: Inputs | None
    division: Division | None = None
    roofs: tuple[RoofBay, ...] = ()


_AS_IN = {"unit": "mm", "forward": "+x", "up": "+z", "body": "all"}
_LACKING = {
    "unit": "its unit",
    "forward": "which way is forward",
    "up": "which way is up",
    "body": "which of its bodies is meant",
}


def inspect_document(found: Inspected) -> Document:
    """Whether the tank can be used, and everything that was found in it."""
    inputs = found.inputs
    warned: tuple[Words, ...] = () if inputs is None else inputs.port_cautions()
    with using(METRIC):
        data = {"usable": inputs is not None, "mesh": as_plain(found.report), **_keys(found)}
    return Document(
        "inspect",
        "What is in this tank file or mesh, and is it sound?",
        _verdict(found),
        _sentence(found),
        facts=tuple(_facts(found)),
        tables=() if found.division is None else _tables(found.division),
        cautions=(*warned, *(roof.words for roof in found.roofs)),
        understood=() if inputs is None else inputs.facts(),
        data=data,
    )


def _verdict(found: Inspected) -> Verdict:
    """Not known where all that lacks is a word of the user's: a unit, an axis, which of two readings."""
    if found.inputs is not None:
        return Verdict.YES
    report = found.report
    open_ = report is not None and report.usable and not any(f.refused for f in report.findings)
    return Verdict.UNKNOWN if open_ else Verdict.NO


def _add(report: MeshReport) -> str:
    """The options that say all that the file does not, as they are typed."""
    options = [f"--{name} {_AS_IN[name]}" for name in report.missing]
    if len(report.readings) > 1:
        metal = "metal" if "metal" in report.saw else "liquid"
        options.append(f"--meaning {metal}")
    if any(reading.plugs for reading in report.readings):
        options.append("--plug all")
    return " ".join(options)


def _sentence(found: Inspected) -> Said:
    inputs, report = found.inputs, found.report
    if inputs is not None:
        count = f"{len(inputs.ports)} port{'' if len(inputs.ports) == 1 else 's'}"
        return say(
            "the tank is sound: it holds {volume}, " + count,
            volume=Quantity(inputs.tank.capacity, "volume"),
        )
    if report is None:
        return say("there is no tank")
    faults = [finding for finding in report.findings if finding.refused]
    if faults:
        return say("the mesh cannot be used as it is: {fault}", fault=faults[0].words)
    if not report.usable:
        return say("the mesh cannot be used as it is: {saw}", saw=report.saw)
    lacks = [_LACKING[name] for name in report.missing]
    if len(report.readings) > 1 or not lacks:
        lacks.append("what its surfaces bound")
    return say(f"the file does not state {', '.join(lacks)}: add what fits, as in {_add(report)}")


def _facts(found: Inspected) -> Iterator[Fact]:
    if found.report is not None:
        yield from _report(found.report)
    if found.inputs is None:
        return
    tank = found.inputs.tank
    size = f"{len(tank.faces)} faces, {len(tank.vertices)} vertices, closed"
    yield Fact("mesh", size)
    for link in tank.links:
        yield Fact("link", _link(link, tank))


def _report(report: MeshReport) -> Iterator[Fact]:
    yield Fact("file", f"{report.file}: {report.faces} faces, {report.vertices} vertices")
    if report.missing:
        yield Fact("missing", f"until then {', '.join(_until(report.missing))}")
    yield from (Fact("file", note) for note in report.notes)
    box = dict(zip(("length", "width", "height"), report.box_m, strict=True))
    if "unit" in report.missing:
        sides = " x ".join(f"{1000.0 * side:.4g}" for side in box.values())
        yield Fact("box", f"{sides} of the file's units (forward x left x up)")
    else:
        sizes = {name: Quantity(side, "length") for name, side in box.items()}
        yield Fact("box", say("{length} long, {width} wide, {height} high", **sizes))
    for finding in report.findings:
        label = "fault" if finding.refused else "note"
        yield Fact(label, finding.words)
        for k, place in enumerate(finding.places):
            yield Fact(label, f"at {place_words(place, report.unit)}", brief=k == 0)
        if finding.advice:
            yield Fact(label, f"next: {advised(finding, report.file)}")
    yield Fact("saw", report.saw)
    for reading in report.readings:
        yield Fact("reading", reading.words)
        yield from (Fact("plug", plug) for plug in reading.plugs)
        yield from (Fact("or", other) for other in reading.others)


def _until(missing: tuple[str, ...]) -> Iterator[str]:
    """How a file is shown while something is missing."""
    if "unit" in missing:
        yield "lengths are as if in mm"
    if "forward" in missing or "up" in missing:
        yield "axes as they stand in the file"
    if "body" in missing:
        yield "all bodies taken together, and welded where they touch"


def _link(link: Link, tank: Tank) -> Said:
    """A flap or pipe with its way and its sill, standing level."""
    return say(
        "{kind}: {name}: {way}, from {sill} above the floor",
        kind=link.kind,
        name=link.name,
        way=_WAYS[link.kind].format(link.way),
        sill=Quantity(link.sill(_LEVEL) - float(tank.corner[2]), "length"),
    )


def _tables(division: Division) -> list[Table]:
    """The bays, and the openings between them, alike ones counted."""
    number = {room.name: str(k) for k, room in enumerate(division.compartments, 1)}
    bays = [(number[room.name], room.name, room.volume_m3) for room in division.compartments]
    alike = Counter(_opening(passage, number) for passage in division.passages)
    columns = (
        Column("opening"),
        Column("joins bays"),
        Column("area", "small area"),
        Column("from", "length"),
        Column("to", "length"),
        Column("a flap lets liquid"),
        Column("alike"),
    )
    openings: list[Sequence[Cell]] = [(*row, str(count)) for row, count in alike.items()]
    return [
        Table("", [Column("bay"), Column("of the tank"), Column("volume", "volume")], bays),
        Table("openings in plates; heights above the floor, standing level", columns, openings),
    ]


def _opening(passage: Passage, number: dict[str, str]) -> tuple[Cell, ...]:
    return (
        f"{passage.baffle}, {passage.words}",
        " and ".join(number[name] for name in passage.joins),
        # alike to a micrometre: meshes of the same hole differ by less
        *(round(passage.area_m2, 9), round(passage.lowest_m, 6), round(passage.highest_m, 6)),
        f"{passage.flap} only" if passage.flap else "",
    )


def _keys(found: Inspected) -> dict[str, Any]:
    """The tank's own keys for JSON; docs/json.md lists them."""
    if found.inputs is None:
        return {}
    tank = found.inputs.tank
    ports = [
        {
            "name": port.name,
            "kind": port.kind,
            "rule": port.effective_rule,
            "position_m": port.position,
            "from_rear_right_floor_m": tank.from_walls(port.position),
            "required_cover_m": port.required_cover,
        }
        for port in found.inputs.ports
    ]
    links = [
        {
            "name": link.name,
            "kind": link.kind,
            "way": link.way,
            "sill_above_floor_m": link.sill(_LEVEL) - float(tank.corner[2]),
        }
        for link in tank.links
    ]
    return {
        "tank": tank.name,
        "capacity_m3": tank.capacity,
        "volume_error_m3": tank.volume_error,
        "volume_error_words": _error_words(tank),
        "lower_m": tank.lower,
        "upper_m": tank.upper,
        "faces": len(tank.faces),
        "vertices": len(tank.vertices),
        "notes": found.inputs.notes,
        "ports": ports,
        "division": found.division,
        "links": links,
        "roof_bays": found.roofs,
    }


def _error_words(tank: Tank) -> str:
    """What facets that stand for curves do to the capacity, or why that is not known."""
    if tank.volume_error is None:
        return (
            "not known: neither a mesh of triangles nor a round part cut askew tells what curves its facets stand "
            "for (a shape, and a STEP file, do)"
        )
    if tank.volume_error == 0.0:
        return "none: no curved wall, or less than a ten-millionth of the capacity"
    side = "more" if tank.volume_error > 0.0 else "less"
    return f"the facets hold {told(abs(tank.volume_error), 'volume', 'up')} {side} than the curved tank"
