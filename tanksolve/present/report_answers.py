"""The answers of a report in their order, and what stands below each so that no figure is taken for another."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

from tanksolve.errors import TanksolveError
from tanksolve.model.requirement import Requirement
from tanksolve.present.document import (
    Document,
    Fact,
    Quantity,
    Said,
    Verdict,
    Words,
    joined,
    say,
    slope,
)
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


def marks_answer(
    document: Document, limits: Envelope, requirement: Requirement, read_to: Sequence[float] = ()
) -> Answer:
    """How much liquid, with the slope that the marks belong to.

    read_to : how closely dips are read and poured, each row of the commissioning sheet [m].
    """
    note = f"For {'; '.join(requirement.words)} only; at these marks nothing is to spare"
    if limits.ok_at_level:
        held = quantity_words(slope(math.radians(limits.worst.held_to_deg), "down"))
        note += f"; the limit above, {held}, is for {fill_words(limits.fill)} only"
    return Answer("How much liquid", "liquid", _without_spare(document, read_to), f"{note}.")


def _without_spare(document: Document, read_to: Sequence[float]) -> Document:
    """Marks at which nothing is to spare: no yes before them, and what is not taken off beside them."""
    told = document.sentence
    if document.verdict is Verdict.NO or not isinstance(told, Said):
        return document
    words = [Said(told.template[0].upper() + told.template[1:], told.values)]
    words.append(say("; no allowance is taken off"))
    if read_to:
        least, most = (Quantity(end, "rough length", "up") for end in (min(read_to), max(read_to)))
        words.append(
            say(
                ", and a dip is sure to within {closest} to {widest} only",
                closest=least,
                widest=most,
            )
        )
    return replace(document, verdict=Verdict.TOLD, sentence=joined("", *words))


def sheet_answer(document: Document, how_far: str = "") -> Answer:
    """What to try on the machine, with how far it is tilted and why no further."""
    note = f"{how_far[0].upper()}{how_far[1:]}." if how_far else ""
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
