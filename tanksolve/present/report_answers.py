"""The answers of a report in their order, and what stands below each so that no figure is taken for another."""

import math
from dataclasses import dataclass

from tanksolve.errors import TanksolveError
from tanksolve.model.requirement import Requirement
from tanksolve.present.document import Document, Fact, Verdict, Words, slope
from tanksolve.present.sheet_document import HOW_FAR
from tanksolve.present.style import fill_words
from tanksolve.present.understood import TANK_CAUTIONS, Inputs
from tanksolve.present.wording import quantity_words
from tanksolve.questions.envelope.envelope import Envelope

__all__ = [
    "Answer",
    "limits_answer",
    "marks_answer",
    "open_suction_document",
    "sheet_answer",
    "unanswered",
    "words_used",
]

_WORDS = (
    ("rule", "what a port has to do: a pickup to stay covered, a breather or filler to stay dry"),
    ("kept, broken", "whether a port does what its rule asks, whatever the machine did before"),
    (
        "margin",
        "how much is to spare: liquid over a pickup beyond the cover asked for, air under a breather beyond "
        "the clearance asked for; below nought the rule is broken",
    ),
    (
        "tank limit",
        "the steepest slope at which every rule is kept, whatever the machine did before; for the liquid "
        "that is named with it",
    ),
    ("every heading", "whichever way the machine stands on the slope"),
    ("mark", "the least and the most liquid for what is required; a line on the dipstick"),
    ("dip", "depth of liquid on a dipstick that reaches the lowest point, machine standing level"),
)


@dataclass(frozen=True)
class Answer:
    """One answer of the report: its heading, its anchor, its document, and a note that stands below it."""

    title: str
    anchor: str
    document: Document
    note: Words = ""


def words_used() -> tuple[Fact, ...]:
    """The words that a reader of the report needs, told before they are used."""
    return tuple(Fact(word, meaning) for word, meaning in _WORDS)


def limits_answer(
    document: Document, limits: Envelope, requirement: Requirement | None = None
) -> Answer:
    """How steep, with the fill that the limits belong to."""
    note = f"These limits are for {fill_words(limits.fill)} in the tank; with another fill they are others."
    if requirement is not None:
        required = "; ".join(requirement.words)
        note += (
            f" Required is {required}: the fill marks below belong to that, not to these limits."
        )
    return Answer("How steep, in figures", "steep", document, note)


def marks_answer(document: Document, limits: Envelope, requirement: Requirement) -> Answer:
    """How much liquid, with the slope that the marks belong to."""
    required = "; ".join(requirement.words)
    note = f"The marks are for what is required, {required}."
    if limits.ok_at_level:
        held = quantity_words(slope(math.radians(limits.worst.held_to_deg), "down"))
        note += (
            f" They are not for the tank limit of {held}, which belongs to {fill_words(limits.fill)}: at the "
            "least mark the tank may keep no more than what is required."
        )
    return Answer("How much liquid", "liquid", document, note)


def sheet_answer(document: Document) -> Answer:
    """What to try on the machine, with how far it is tilted and why no further."""
    note = f"{HOW_FAR[0].upper()}{HOW_FAR[1:]}."
    return Answer("What to try on the machine first", "try", document, note)


def open_suction_document(inputs: Inputs) -> Document:
    """That nothing was asked about the suction line, and what is needed for it."""
    return Document(
        "suction",
        "Does the pump get its liquid, cold to hot?",
        Verdict.UNKNOWN,
        "no suction line was described, so nothing is known of the pressure at the pump's inlet",
        facts=(
            Fact(
                "missing",
                "the suction line: --line, --flow, --liquid, and --level or --pump",
                reader="the suction line's bore, length and fittings, the pump's flow, the liquid, and how the "
                "pump stands to the tank",
            ),
        ),
        cautions=TANK_CAUTIONS,
        understood=inputs.facts(),
    )


def unanswered(kind: str, error: TanksolveError) -> Document:
    """An answer that could not be had, with the reason: the rest of the report stands without it."""
    return Document(kind, "Left open in this report", Verdict.UNKNOWN, error.message)
