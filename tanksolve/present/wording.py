"""A document's numbers and sentences in words, in the units in force."""

import math

from tanksolve.model.attitude import uphill_words
from tanksolve.present.document import Cell, Column, Fact, Quantity, Said, Verdict, Words
from tanksolve.unit_systems import in_force, rounded, tape_words, told
from tanksolve.units import slope_words

__all__ = [
    "caution_words",
    "cell_words",
    "column_words",
    "fact_words",
    "quantity_words",
    "sentence",
    "slope_told",
    "words",
]

NONE = "-"
_VERDICTS = {Verdict.YES: "Yes: ", Verdict.NO: "No: ", Verdict.UNKNOWN: "Not known: "}


def quantity_words(quantity: Quantity) -> str:
    """A quantity with its unit: a slope in degrees and grade percent, a heading with its side."""
    value = quantity.value
    if value is None or not math.isfinite(value):
        return NONE
    if quantity.kind == "slope":
        return slope_told(quantity)
    if quantity.kind == "heading":
        return uphill_words(math.degrees(value), 1)
    if quantity.tape:
        return tape_words(value, quantity.rounding)
    return told(value, quantity.kind, quantity.rounding)


def slope_told(quantity: Quantity, grade: str = " % grade") -> str:
    """A slope in degrees at 0.1, and its grade: rounded to its side, down where it has none."""
    value = quantity.value or 0.0
    if quantity.rounding == "nearest":
        return slope_words(value).replace(" % grade", grade)
    degrees = rounded(math.degrees(value), 1, quantity.rounding)
    if abs(degrees) >= 90.0:
        return f"{degrees:.1f}° (upright or beyond: no grade)"
    percent = rounded(100.0 * math.tan(math.radians(degrees)), 1, quantity.rounding)
    return f"{degrees:.1f}° ({percent:.1f}{grade})"


def words(said: Words) -> str:
    """A sentence with its numbers in words."""
    if isinstance(said, str):
        return said
    values = {
        name: quantity_words(value) if isinstance(value, Quantity) else value
        for name, value in said.values.items()
    }
    return said.template.format(**values)


def caution_words(said: Words) -> str:
    """A caution; one that a source or a law wrote in metric units is told in those in force."""
    return in_force(said) if isinstance(said, str) else words(said)


def sentence(verdict: Verdict, said: Words) -> str:
    """The first line of an answer: yes, no or not known, and the sentence."""
    return _VERDICTS.get(verdict, "") + words(said)


def fact_words(fact: Fact, reader: bool = False) -> str:
    """A fact's value, and how sure it is; for a ``reader`` of a report without options of commands."""
    value = fact.reader if reader and fact.reader is not None else fact.value
    told_value = words(value) if isinstance(value, Said | str) else quantity_words(value)
    return f"{told_value} ({fact.sure.value})" if fact.sure else told_value


def cell_words(column: Column, cell: Cell) -> str:
    """A table's cell in words, its unit with it."""
    if cell is None:
        return NONE
    if isinstance(cell, str):
        return cell
    quantity = Quantity(cell, column.kind, column.rounding, column.tape)
    return slope_told(quantity, " %") if column.kind == "slope" else quantity_words(quantity)


def column_words(column: Column) -> str:
    """A column's title on the screen: of slopes it says what the percent are."""
    return f"{column.title} (grade)" if column.kind == "slope" else column.title
