"""A plate for the machine, true size: the slope that may be written on it, and what must stand beside that."""

import math
from dataclasses import dataclass
from datetime import date

from tanksolve.model.liquid import Fill
from tanksolve.present.document import Document, Fact, Quantity, Sure, Verdict, say, slope
from tanksolve.present.drawn import Sheet, Text, wide
from tanksolve.present.style import fill_words
from tanksolve.present.understood import TANK_CAUTIONS, Inputs
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.units import floor_to, limit_words
from tanksolve.version import __version__

__all__ = ["Plate", "open_plate_document", "plate_document", "plate_sheet"]

_MARGIN = 6.0  # mm
_SEARCHED = "no limit found up to "


@dataclass(frozen=True)
class Plate:
    """What is written on a plate.

    Attributes
    ----------
    tank, fill, liquid : what it is for; an empty name leaves a line to write on.
    tank_limit_deg : the bound over all headings [°]; 0 where a rule is broken on level ground.
    limited : whether the tank limits at all within the slopes searched.
    machine_limit_deg, source : the maker's figure [°] and where it stands, as given.
    allowance_deg : taken off the smaller of the two for rough ground [°].
    """

    tank: str
    fill: Fill
    liquid: str
    tank_limit_deg: float
    limited: bool
    machine_limit_deg: float
    source: str
    allowance_deg: float

    @classmethod
    def of(
        cls,
        limits: Envelope,
        liquid: str,
        machine_limit_deg: float,
        source: str,
        allowance_deg: float,
    ) -> "Plate":
        """From an envelope and the maker's figure."""
        held = limits.worst.held_to_deg if limits.ok_at_level else 0.0
        limited = limits.worst.limited or not limits.ok_at_level
        return cls(
            limits.tank,
            limits.fill,
            liquid,
            held,
            limited,
            machine_limit_deg,
            source,
            allowance_deg,
        )

    @property
    def whole_deg(self) -> int:
        """The smaller limit less the allowance, in whole degrees rounded down; 0: nothing to write."""
        smaller = min(floor_to(self.tank_limit_deg, 0.1), self.machine_limit_deg)
        return max(0, math.floor(smaller - self.allowance_deg + 1e-9))

    @property
    def grade_percent(self) -> int:
        """Grade of the whole degrees, in whole percent rounded down."""
        return math.floor(100.0 * math.tan(math.radians(self.whole_deg)) + 1e-9)

    @property
    def set_by(self) -> str:
        """Which of the two limits is the smaller."""
        return "tank limit" if self.tank_limit_deg <= self.machine_limit_deg else "machine limit"


def plate_document(inputs: Inputs, plate: Plate) -> Document:
    """What stands on the plate and why; no where nothing is left to write on it."""
    limits = say(
        "the smaller of the tank limit {tank} and the machine limit {machine}, less {allowance} for rough "
        "ground, in whole degrees rounded down",
        tank=slope(math.radians(plate.tank_limit_deg), "down"),
        machine=slope(math.radians(plate.machine_limit_deg), "down"),
        allowance=Quantity(math.radians(plate.allowance_deg), "angle", "up"),
    )
    degrees, grade = f"{plate.whole_deg}°", f"{plate.grade_percent} % grade"
    kept = plate.whole_deg > 0
    return Document(
        "plate",
        "What may be written on the machine?",
        Verdict.TOLD if kept else Verdict.NO,
        say(f"Write at most {degrees} ({grade}), every heading: {limits.template}", **limits.values)
        if kept
        else say(
            f"nothing may be written: no whole degree is left of {limits.template}", **limits.values
        ),
        facts=(
            Fact("tank limit", slope(math.radians(plate.tank_limit_deg), "down"), Sure.BOUND),
            Fact(
                "machine limit",
                f"{limit_words(plate.machine_limit_deg)}: {plate.source}",
                Sure.GIVEN,
            ),
            Fact("set by", plate.set_by),
            Fact("keep in", fill_words(plate.fill)),
        ),
        cautions=(
            *inputs.cautions(),
            "the plate holds for the fill written on it, and for this tank and its ports as described",
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        data={
            "plate": {
                "slope_deg": plate.whole_deg,
                "grade_percent": plate.grade_percent,
                "tank_limit_deg": plate.tank_limit_deg,
                "machine_limit_deg": plate.machine_limit_deg,
                "machine_limit_source": plate.source,
                "allowance_deg": plate.allowance_deg,
                "fill": {"unit": "m3", "least": plate.fill.least, "most": plate.fill.most},
            }
        },
    )


def open_plate_document(inputs: Inputs, limits: Envelope) -> Document:
    """What is still missing for a plate, and how much the tank alone allows: not to be written by itself."""
    alone = Plate.of(limits, "", 90.0, "", 0.0)
    return Document(
        "plate",
        "What may be written on the machine?",
        Verdict.UNKNOWN,
        say(
            f"the tank alone allows at most {alone.whole_deg}° ({alone.grade_percent} % grade), in whole degrees "
            "rounded down; write the smaller of that and the machine maker's limit, less an allowance for "
            "rough ground",
        ),
        facts=(
            Fact(
                "missing",
                "the machine maker's slope limit and where it stands: --machine-limit",
                reader="the machine maker's slope limit, and where it stands in print",
            ),
            Fact(
                "missing",
                "an allowance for rough ground: --allowance",
                reader="an allowance for rough ground, in degrees",
            ),
            Fact("keep in", fill_words(limits.fill)),
        ),
        cautions=TANK_CAUTIONS,
        understood=inputs.facts(),
    )


def plate_sheet(
    plate: Plate, made: date, size: tuple[float, float] = (150.0, 100.0), first_note: str = ""
) -> Sheet:
    """The plate at its true size [mm], words as large as they fit.

    first_note : what must be said of a pickup without a cover.
    """
    width, height = size
    sheet = Sheet(f"Plate: {plate.tank}", width, height)
    sheet.box((0.25, 0.25), (width - 0.25, height - 0.25), pen=0.5)
    tank = f"{limit_words(plate.tank_limit_deg)}"
    if not plate.limited:
        tank = f"{_SEARCHED}{tank}"
    small = [
        f"Liquid: {plate.liquid or '______________'}. Keep in: {fill_words(plate.fill)}.",
        f"Smaller of tank limit {tank} and machine limit {limit_words(plate.machine_limit_deg)}, "
        f"less {plate.allowance_deg:g}° for rough ground.",
        f"Machine limit: {plate.source}.",
        *([f"{first_note[0].upper()}{first_note[1:]}."] if first_note else []),
        "Still liquid: no sloshing, braking or curves. THIS PLATE SAYS NOTHING ABOUT ROLL-OVER: the machine "
        "maker's limit, local codes and licensed practice come first.",
        f"{plate.tank}. {made.isoformat()}, tanksolve {__version__}.",
    ]
    top = height - _MARGIN
    big = [
        ("SLOPE FOR THE TANK, ANY HEADING: AT MOST", 0.055, False),
        (f"{plate.whole_deg}° = {plate.grade_percent} % grade", 0.2, True),
    ]
    for words, share, bold in big:
        letter = min(share * height, (width - 2 * _MARGIN) / wide(words, 1.0, bold))
        top -= 0.95 * letter
        sheet.add(Text(words, (0.5 * width, top), letter, "middle", bold=bold))
        top -= 0.3 * letter
    _fill_in(sheet, small, top, width - 2 * _MARGIN)
    return sheet


def _fill_in(sheet: Sheet, paragraphs: list[str], top: float, across: float) -> None:
    """Paragraphs below ``top``, in the largest letters that fit."""
    letter = 0.05 * sheet.height
    lines: list[str] = []
    while letter > 0.6:
        lines = [line for text in paragraphs for line in _wrapped(text, letter, across)]
        if len(lines) * 1.35 * letter <= top - _MARGIN:
            break
        letter *= 0.96
    for k, line in enumerate(lines, start=1):
        sheet.add(Text(line, (_MARGIN, top - 1.35 * letter * k), letter))


def _wrapped(text: str, letter: float, across: float) -> list[str]:
    """Lines of words no wider than ``across``; a word that is too long is broken."""
    lines, line = [], ""
    for word in text.split():
        while wide(word, letter) > across:
            part = next(
                k for k in range(len(word), 0, -1) if k == 1 or wide(word[:k], letter) <= across
            )
            lines += [line] if line else []
            lines.append(word[:part])
            line, word = "", word[part:]
            if not word:
                break
        longer = f"{line} {word}".strip()
        if wide(longer, letter) > across:
            lines.append(line)
            longer = word
        line = longer
    return [*lines, line] if line else lines
