"""``tanksolve report``: every answer about a tank in one file, for a browser or as PDF."""

from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Annotated

import typer

from tanksolve_cli.answering import Ask, answer, asks
from tanksolve_cli.pump_options import LiquidDensity, LiquidName, Vapour, Viscosity
from tanksolve_cli.requirement import Require, read_requirement
from tanksolve_cli.suction_words import (
    Altitude,
    Blocked,
    CloudPoint,
    Coldest,
    Drawn,
    Hottest,
    LeastPressure,
    Level,
    Npsh,
    PourPoint,
    PumpPlace,
    Strainer,
    Stretches,
    SuctionWords,
    Vacuum,
    find_suction,
)
from tanksolve_cli.tank_options import TankWords, register_command
from tanksolve_cli.waiting import busy

if TYPE_CHECKING:
    from collections.abc import Iterator

    from tanksolve.model.requirement import Requirement
    from tanksolve.present.report_answers import Answer
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve.questions.marks.marks import Marks
    from tanksolve_cli.case import Case

__all__ = ["register"]

_EXAMPLE = (
    "tanksolve report --box 900x300x300mm --fill 42L "
    "--pickup suction=450,150,40mm,bore=38mm,facing=down --require 15deg -o report.html"
)
_STEPS = {"metric": "20mm", "us": "1in", "imperial": "1in"}  # of the dipstick's table


def register(app: typer.Typer) -> None:
    """Add the command to the program."""
    register_command(app, "report", _report, _EXAMPLE)


@asks()
def _report(
    ask: Ask,
    words: TankWords,
    require: Require = None,
    machine_limit: Annotated[
        str | None,
        typer.Option(
            metavar="'15deg, manual p. 12'", help="The machine maker's slope limit, for the plate."
        ),
    ] = None,
    allowance: Annotated[
        str | None, typer.Option(metavar="3deg", help="For rough ground, for the plate.")
    ] = None,
    line: Stretches = None,
    flow: Drawn = None,
    liquid: LiquidName = None,
    viscosity: Viscosity = None,
    liquid_density: LiquidDensity = None,
    vapour: Vapour = None,
    from_: Coldest = "-10C",
    to: Hottest = "80C",
    altitude: Altitude = "0m",
    pour_point: PourPoint = None,
    cloud_point: CloudPoint = None,
    level: Level = None,
    pump: PumpPlace = None,
    strainer: Strainer = None,
    blocked: Blocked = "0%",
    vacuum: Vacuum = None,
    least_pressure: LeastPressure = None,
    npsh: Npsh = None,
    output: Annotated[
        Path, typer.Option("--output", "-o", help="The file to write (.html, .pdf).")
    ] = Path("report.html"),
    force: Annotated[bool, typer.Option("--force", help="Write over an existing file.")] = False,
) -> None:
    """Write every answer about a tank into one page, with the tank to tilt in it; or as PDF."""
    from tanksolve.files import check_new
    from tanksolve.present.drawn import check_drawn_path
    from tanksolve_cli.case import read_case

    check_drawn_path(output, "a report", (".html", ".pdf"))
    if not force:
        check_new(output)
    asked = SuctionWords(
        line or None, flow, liquid, viscosity, liquid_density, vapour, from_, to, altitude,
        pour_point, cloud_point, level, pump, strainer, blocked, vacuum, least_pressure, npsh,
    )  # fmt: skip
    plate = _plate_words(machine_limit, allowance)
    requirement = read_requirement(require) if require else None
    with busy("reading the tank and answering everything about it"):
        case = read_case(words)
        suction = list(_suction(case, words, asked, require))
        limits, steep = _limits(case, requirement)
        marks, liquid_told = _marks(case, limits, requirement)
        told = [
            *(steep, *liquid_told, _dip(case, ask), _plate(case, limits, plate, liquid or "")),
            *(*_place(case, limits, requirement), *suction, _sheet(case, ask, requirement)),
        ]
        _write(_Report(case, limits, told, requirement, marks), output)
    answer(steep.document, ask, [output])


@dataclass(frozen=True)
class _Report:
    """All that is written."""

    case: "Case"
    limits: "Envelope"
    told: "list[Answer]"
    requirement: "Requirement | None"
    marks: "Marks | None"


def _write(report: _Report, output: Path) -> None:
    """The file, as the ending of its name says."""
    from datetime import date

    from tanksolve.files import write_text
    from tanksolve.present.report_page import Machine, report_page

    case, today = report.case, date.today()
    if output.suffix.lower() == ".pdf":
        from tanksolve.present.report_pdf import save_report_pdf

        title = f"{case.tank.name}: how far it may tilt"
        save_report_pdf(report.told, title, today, output)
        return
    page = report_page(
        Machine(case.tank, case.ports, case.pickups), report.limits, report.told,
        requirement=report.requirement, marks=report.marks, made=today,
    )  # fmt: skip
    write_text(output, page)


def _limits(case: "Case", requirement: "Requirement | None") -> "tuple[Envelope, Answer]":
    """How steep in every heading, and whether what is required is kept."""
    from tanksolve.present.envelope_document import envelope_document
    from tanksolve.present.report_answers import limits_answer
    from tanksolve.present.understood import wall_cautions
    from tanksolve.questions.envelope.envelope import envelope
    from tanksolve.questions.envelope.requirement_met import conditions_met
    from tanksolve.state.conditions import Conditions

    limits = envelope(case.tank, case.ports, case.fill, pickups=case.pickups)
    conditions = Conditions.of(case.tank, case.ports, case.fill, case.pickups)
    met = conditions_met(conditions, requirement) if requirement else ()
    document = envelope_document(
        case.inputs, limits, requirement=requirement, met=met, cautions=wall_cautions(case.tank)
    )
    return limits, limits_answer(document, limits, requirement)


def _marks(
    case: "Case", limits: "Envelope", requirement: "Requirement | None"
) -> "tuple[Marks | None, list[Answer]]":
    """How much liquid must be in for what is required; nothing where nothing is."""
    from tanksolve.present.marks_document import marks_document
    from tanksolve.present.report_answers import marks_answer
    from tanksolve.questions.marks.marks import marks

    if requirement is None:
        return None, []
    found = marks(case.tank, case.ports, requirement, pickups=case.pickups)
    document = marks_document(case.inputs, found, requirement, (case.tank, case.ports))
    return found, [marks_answer(document, limits, requirement)]


def _dip(case: "Case", ask: Ask) -> "Answer":
    """What a dipstick says."""
    from tanksolve.present.dip_document import dip_document
    from tanksolve.present.report_answers import Answer
    from tanksolve.questions.dip import dip
    from tanksolve.units import parse

    step = parse(_STEPS[ask.system.name], "length", "--step")
    document = dip_document(case.inputs, dip(case.tank, step, case.ports))
    return Answer("What a dipstick says", "dip", document)


def _suction(
    case: "Case", words: TankWords, asked: SuctionWords, require: list[str] | None
) -> "Iterator[Answer]":
    """Whether the pump gets its liquid, or what is missing to tell; nothing without a pickup."""
    from tanksolve.model.ports import PortKind
    from tanksolve.present.report_answers import Answer, open_suction_document
    from tanksolve.present.suction_document import suction_document

    if not asked.any_given and all(port.kind is not PortKind.PICKUP for port in case.ports):
        return
    document = (
        suction_document(find_suction(asked, case, words, require), case.inputs)
        if asked.any_given
        else open_suction_document(case.inputs)
    )
    yield Answer("Does the pump get its liquid", "suction", document)


def _plate_words(limit: str | None, allowance: str | None) -> tuple[float, str, float] | None:
    """The maker's limit [rad] with its source, and the allowance [rad]; nothing where neither is given."""
    from tanksolve.project.plate_words import parse_plate

    return None if limit is None and allowance is None else parse_plate(limit, allowance)


def _plate(
    case: "Case", limits: "Envelope", words: tuple[float, str, float] | None, liquid: str
) -> "Answer":
    """What may be written on the machine, or what is missing for it."""
    import math

    from tanksolve.present.plate import Plate, open_plate_document, plate_document
    from tanksolve.present.report_answers import Answer

    if words is None:
        document = open_plate_document(case.inputs, limits)
    else:
        limit, source, less = words
        plate = Plate.of(limits, liquid, math.degrees(limit), source, math.degrees(less))
        document = plate_document(case.inputs, plate)
    return Answer("What to write on the machine", "plate", document)


def _place(case: "Case", limits: "Envelope", requirement: "Requirement | None") -> "list[Answer]":
    """Where the port that sets the limit might sit better; nothing where nothing is required or limited."""
    from tanksolve.errors import TanksolveError
    from tanksolve.present.place_document import PlaceCase, place_document
    from tanksolve.present.report_answers import Answer, unanswered
    from tanksolve.questions.place.place import place

    port = next((port for port in case.ports if port.name == limits.worst.port), None)
    if requirement is None or port is None:
        return []
    asked = PlaceCase(case.tank, port, requirement, case.askew, case.in_tank_axes)
    try:
        document = place_document(
            case.inputs, place(case.tank, port, case.fill, requirement), asked
        )
    except TanksolveError as error:
        document = unanswered("place", error)
    return [Answer(f"Where {port.name} may sit", "place", document)]


def _sheet(case: "Case", ask: Ask, requirement: "Requirement | None") -> "Answer":
    """What to try on the real machine first."""
    from tanksolve.errors import TanksolveError
    from tanksolve.present.report_answers import sheet_answer, unanswered
    from tanksolve.present.sheet_document import sheet_document
    from tanksolve.questions.sheet import commissioning_sheet
    from tanksolve.units import parse_volume
    from tanksolve_cli.sheet import POURS

    try:
        result = commissioning_sheet(
            *(case.tank, case.ports, case.fill, parse_volume(POURS[ask.system.name], "--pour")),
            described=(case.wall_tank, case.wall_ports),
            requirement=requirement,
        )
        document = sheet_document(case.inputs, result)
    except TanksolveError as error:
        document = unanswered("sheet", error)
    return sheet_answer(document)
