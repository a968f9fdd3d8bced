"""Every answer about a tank, one after the other, for one page: what is asked and what it is called."""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import TYPE_CHECKING, Protocol

from tanksolve.errors import TanksolveError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.report_answers import (
    Answer,
    limits_answer,
    marks_answer,
    open_suction_document,
    sheet_answer,
    unanswered,
)
from tanksolve.present.understood import Inputs
from tanksolve.state.conditions import Pickups
from tanksolve.unit_systems import current

if TYPE_CHECKING:
    from tanksolve.model.requirement import Requirement
    from tanksolve.pump.suction_found import SuctionFound
    from tanksolve.questions.envelope.envelope import Envelope
    from tanksolve.questions.marks.marks import Marks
    from tanksolve.questions.sheet import Sheet

__all__ = ["Report", "ReportCase", "report_of", "write_report"]

Point = tuple[float, float, float]
_STEPS = {"metric": "20mm", "us": "1in", "imperial": "1in"}  # of the dipstick's table


class ReportCase(Protocol):
    """A tank as it was read, with its ports and fill."""

    @property
    def tank(self) -> Tank:
        """The tank, in machine axes."""

    @property
    def ports(self) -> tuple[Port, ...]:
        """Its ports, in machine axes."""

    @property
    def fill(self) -> Fill:
        """Its fill."""

    @property
    def pickups(self) -> Pickups:
        """Whether all pickups are needed, or any."""

    @property
    def inputs(self) -> Inputs:
        """What was understood."""

    @property
    def askew(self) -> bool:
        """Whether it is turned in its machine."""

    @property
    def wall_tank(self) -> Tank:
        """The tank in its own axes."""

    @property
    def wall_ports(self) -> tuple[Port, ...]:
        """Its ports there."""

    @property
    def in_tank_axes(self) -> Callable[[Point], Point]:
        """Turns a point of the machine to the tank."""


@dataclass(frozen=True)
class Report:
    """All that is written."""

    case: ReportCase
    limits: "Envelope"
    told: list[Answer]
    requirement: "Requirement | None"
    marks: "Marks | None"


def report_of(
    case: ReportCase,
    requirement: "Requirement | None",
    plate: tuple[float, str, float] | None,
    suction: "SuctionFound | None",
    *,
    liquid: str,
    pour: float,
) -> Report:
    """Ask all questions.

    Parameters
    ----------
    plate : the machine maker's limit [rad], its source, and the allowance [rad]; None where neither is known.
    suction : what was solved of a suction line, where one is described.
    liquid : its name, for the plate.
    pour : what is poured in at a time on the real machine [m³].
    """
    limits, steep = _limits(case, requirement)
    sheet = _sheet(case, pour, requirement)
    marks, liquid_told = _marks(case, limits, requirement, sheet)
    told = [
        *(steep, *liquid_told, _dip(case), _plate(case, limits, plate, liquid)),
        *_place(case, limits, requirement),
        *_suction(case, suction),
        _sheet_told(case, sheet),
    ]
    return Report(case, limits, told, requirement, marks)


def write_report(report: Report, output: Path) -> None:
    """Write it as a page or a PDF, as the ending of the file's name says."""
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


def _limits(case: ReportCase, requirement: "Requirement | None") -> "tuple[Envelope, Answer]":
    """How steep in every heading, and whether what is required is kept."""
    from tanksolve.present.envelope_document import envelope_document
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
    case: ReportCase,
    limits: "Envelope",
    requirement: "Requirement | None",
    sheet: "Sheet | TanksolveError",
) -> "tuple[Marks | None, list[Answer]]":
    """How much liquid must be in for what is required; nothing where nothing is."""
    from tanksolve.present.marks_document import marks_document
    from tanksolve.questions.marks.marks import marks

    if requirement is None:
        return None, []
    found = marks(case.tank, case.ports, requirement, pickups=case.pickups)
    document = marks_document(case.inputs, found, requirement, (case.tank, case.ports))
    read_to = () if isinstance(sheet, TanksolveError) else [row.differs_m for row in sheet.pours]
    return found, [marks_answer(document, limits, requirement, read_to)]


def _dip(case: ReportCase) -> Answer:
    """What a dipstick says."""
    from tanksolve.present.dip_document import dip_document
    from tanksolve.questions.dip import dip
    from tanksolve.units import parse

    step = parse(_STEPS[current().name], "length", "--step")
    document = dip_document(case.inputs, dip(case.tank, step, case.ports))
    return Answer("What a dipstick says", "dip", document)


def _suction(case: ReportCase, found: "SuctionFound | None") -> Iterator[Answer]:
    """Whether the pump gets its liquid, or what is missing to tell; nothing without a pickup."""
    from tanksolve.model.ports import PortKind
    from tanksolve.present.suction_document import suction_document

    if found is None and all(port.kind is not PortKind.PICKUP for port in case.ports):
        return
    document = (
        suction_document(found, case.inputs)
        if found is not None
        else open_suction_document(case.inputs)
    )
    yield Answer("Does the pump get its liquid", "suction", document)


def _plate(
    case: ReportCase, limits: "Envelope", words: tuple[float, str, float] | None, liquid: str
) -> Answer:
    """What may be written on the machine, or what is missing for it."""
    import math

    from tanksolve.present.plate import Plate, open_plate_document, plate_document

    if words is None:
        document = open_plate_document(case.inputs, limits)
    else:
        limit, source, less = words
        plate = Plate.of(limits, liquid, math.degrees(limit), source, math.degrees(less))
        document = plate_document(case.inputs, plate)
    return Answer("What to write on the machine", "plate", document)


def _place(case: ReportCase, limits: "Envelope", requirement: "Requirement | None") -> list[Answer]:
    """Where the port that sets the limit might sit better; nothing where nothing is required or limited."""
    from tanksolve.present.place_document import PlaceCase, place_document
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


def _sheet(
    case: ReportCase, pour: float, requirement: "Requirement | None"
) -> "Sheet | TanksolveError":
    """What to try on the real machine first, or why that could not be had."""
    from tanksolve.questions.sheet import commissioning_sheet

    try:
        return commissioning_sheet(
            *(case.tank, case.ports, case.fill, pour),
            described=(case.wall_tank, case.wall_ports),
            requirement=requirement,
        )
    except TanksolveError as error:
        return error


def _sheet_told(case: ReportCase, sheet: "Sheet | TanksolveError") -> Answer:
    """The same in words."""
    from tanksolve.present.sheet_document import how_far, sheet_document

    if isinstance(sheet, TanksolveError):
        return sheet_answer(unanswered("sheet", sheet))
    return sheet_answer(sheet_document(case.inputs, sheet), how_far(sheet))
