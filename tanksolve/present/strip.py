"""Scales for dipsticks and sight glasses at true size, on A4 or Letter, with a line to check the printer by."""

import math
from collections.abc import Sequence
from datetime import date

from tanksolve.present.document import Column, Document, Fact, Quantity, Sure, Table, Verdict, say
from tanksolve.present.drawn import Line, Sheet, Text, arrowed, wide
from tanksolve.present.understood import Inputs
from tanksolve.questions.marks.strip import Strip
from tanksolve.record import as_plain
from tanksolve.unit_systems import current, rounded, told
from tanksolve.version import __version__

__all__ = ["strip_document", "strip_sheets"]

_LOW, _HIGH = 32.0, 25.0  # mm below a column, and above it
_OVERLAP = 12.0  # mm of a long scale that stand on both of two columns
_FIRST, _APART, _COLUMNS = 20.0, 64.0, 3
_BROAD = 20.0  # mm
_LETTER = 2.8
_CHECKS = {False: (100.0, "100 mm"), True: (101.6, "4 in")}  # mm, and as a rule tells it


def strip_document(inputs: Inputs, strips: Sequence[Strip]) -> Document:
    """What each scale tells, as a table: volume and reading, and where it is silent."""
    count = sum(len(one.graduations) for one in strips)
    facts = []
    for one in strips:
        name, marks = one.gauge.name, one.marks
        facts.append(Fact(name, say("{long} long to the tank's top", long=_length(one.length_m))))
        if marks is not None and marks.tells:
            least, most = _length(marks.least_mark_m, "up"), _length(marks.most_mark_m, "down")
            facts.append(
                Fact(
                    name,
                    say("least at {least}, most at {most}", least=least, most=most),
                    Sure.BOUND,
                )
            )
        elif marks is not None:
            facts.append(
                Fact(name, "no reading of it is sure of least and most: they are not drawn")
            )
        if one.silent_m3:
            first, last = (Quantity(v, "volume") for v in (one.silent_m3[0], one.silent_m3[-1]))
            words = (
                "silent between {first} and {last}: bays may share the liquid out otherwise there"
            )
            facts.append(Fact(name, say(words, first=first, last=last)))
    rows = [(one.gauge.name, g.volume_m3, g.reading_m) for one in strips for g in one.graduations]
    columns = (Column("scale"), Column("volume", "volume"), Column("reading", "length", tape=True))
    return Document(
        "strip",
        "What does the scale on a stick or a glass look like?",
        Verdict.TOLD if count else Verdict.UNKNOWN,
        say(
            f"{count} lines drawn at true size: check the line of {_check()[1]} on the paper before use"
        )
        if count
        else say("no volume has one reading on these scales: nothing is drawn"),
        facts=tuple(facts),
        tables=[Table("along the scale from its nought, standing level", columns, rows, brief=())],
        cautions=(
            *inputs.cautions(math.inf),  # a scale goes up to the brim
            "print at 100 %, not fitted to the page; a scale is read with the machine standing level",
        ),
        understood=inputs.facts(),
        data={"strips": as_plain(strips)},
    )


def _length(metres: float, rounding: str = "nearest") -> Quantity:
    return Quantity(metres, "length", rounding, tape=True)  # type: ignore[arg-type]


def strip_sheets(
    strips: Sequence[Strip], made: date, paper: tuple[float, float] = (210.0, 297.0)
) -> list[Sheet]:
    """Pages of a ``paper`` [mm]; a scale longer than a column goes on in the next.

    The two then share a stretch with a line in it, to be laid on one another.
    """
    tall = math.floor(paper[1] - _LOW - _HIGH)
    columns = [(one, start) for one in strips for start in _starts(1000.0 * one.length_m, tall)]
    sheets = []
    for first in range(0, len(columns), _COLUMNS):
        sheet = Sheet("Scales: " + ", ".join(one.gauge.name for one in strips), *paper)
        for place, (one, start) in enumerate(columns[first : first + _COLUMNS]):
            _column(sheet, one, start, tall, _FIRST + place * _APART)
        _foot(sheet, strips[0].tank, made)
        sheets.append(sheet)
    return sheets


def _starts(length: float, tall: float) -> list[float]:
    """Where the columns of a scale begin, from its nought [mm]."""
    starts = [0.0]
    while starts[-1] + tall < length:
        starts.append(starts[-1] + tall - _OVERLAP)
    return starts


def _check() -> tuple[float, str]:
    """The line to lay a rule on: its length on paper [mm], and in the units in force."""
    return _CHECKS[current().sixteenths]


def _foot(sheet: Sheet, tank: str, made: date) -> None:
    long, told_ = _check()
    words = f"{told_} on this paper: else print again at 100 %"
    arrowed(sheet, (_FIRST, 16.0), (_FIRST + long, 16.0), words)
    words = f"{tank}; standing level only; {made.isoformat()}, tanksolve {__version__}"
    sheet.add(Text(words, (_FIRST, 8.0), min(2.8, 2.8 * 170.0 / max(170.0, wide(words, 2.8)))))


def _column(sheet: Sheet, one: Strip, start: float, tall: float, left: float) -> None:
    """One column of a scale: its ruler at the left edge, volumes at the right, marks across."""
    end = min(1000.0 * one.length_m, start + tall)
    sheet.box((left, _LOW), (left + _BROAD, _LOW + end - start), pen=0.3)
    title = f"{one.gauge.name}{', nought at the bottom' if start == 0.0 else ', goes on'}"
    sheet.add(Text(title, (left, _LOW - 5.0), 2.6))
    _ruler(sheet, start, end, left)
    taken: list[float] = []
    for joined in ([start] if start > 0.0 else []) + (
        [end - _OVERLAP] if end < 1000.0 * one.length_m else []
    ):
        y = _LOW + joined + 0.5 * _OVERLAP - start
        sheet.add(Line((left - 6.0, y), (left + _BROAD + 10.0, y), "dimension", 0.25, (2.0, 1.0)))
        sheet.add(Text("lay on", (left + _BROAD + 11.0, y - 0.8), 2.2))
    if one.marks is not None and one.marks.tells:
        for name, reading, way in (
            ("LEAST", one.marks.least_mark_m, "up"),
            ("MOST", one.marks.most_mark_m, "down"),
        ):
            at = 1000.0 * reading
            if start <= at <= end:
                y = _LOW + at - start
                sheet.add(Line((left, y), (left + _BROAD + 14.0, y), "warning", 0.8))
                words = f"{name} {told(reading, 'length', way)}"  # type: ignore[arg-type]
                sheet.add(
                    Text(words, (left + _BROAD + 1.0, y + 0.8), _LETTER, bold=True, layer="warning")
                )
                taken.append(y)
    for line in one.graduations:
        at = 1000.0 * line.reading_m
        if not start <= at <= end:
            continue
        y = _LOW + at - start
        sheet.add(Line((left + 0.55 * _BROAD, y), (left + _BROAD, y), pen=0.35))
        if all(abs(y - other) > 1.25 * _LETTER for other in taken):
            unit = current().units["volume"]
            number = f"{rounded(unit.of(line.volume_m3), unit.digits):g} {unit.symbol}"
            sheet.add(Text(number, (left + _BROAD + 1.0, y - 1.0), _LETTER))
            taken.append(y)


def _ruler(sheet: Sheet, start: float, end: float, left: float) -> None:
    """Steps of length from the nought: whole and half centimetres, or eighths of an inch."""
    inches = current().sixteenths
    step, whole, unit = (25.4 / 8.0, 8, "in") if inches else (5.0, 10, "mm")
    k = -(-int(start * 1e6) // int(step * 1e6))
    while k * step <= end + 1e-6:
        y = _LOW + k * step - start
        long = 0.3 if k % whole == 0 else 0.2 if k % 2 == 0 else 0.12
        sheet.add(Line((left, y), (left + long * _BROAD, y), "dimension", 0.2))
        if k % whole == 0:
            number = k // whole if inches else round(k * step)
            sheet.add(Text(f"{number} {unit}", (left - 1.0, y - 0.8), 2.2, "end"))
        k += 1
