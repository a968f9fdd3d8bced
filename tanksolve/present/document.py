"""One answer as one document: what text, JSON, CSV, Markdown and the facts on pictures are made from.

A question's result becomes a :class:`Document`: the question in words, a verdict in one sentence with its
number, facts, tables, figures by name, cautions, and the inputs as understood. Numbers are :class:`Quantity`:
a value in SI with its kind and the side to which it is rounded; only a renderer knows units. So no two
faces of an answer can tell different numbers.
"""

from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from typing import TYPE_CHECKING, Any

from tanksolve.unit_systems import Rounding

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = [
    "Cell",
    "Column",
    "Document",
    "Fact",
    "Quantity",
    "Said",
    "Sure",
    "Table",
    "Verdict",
    "Words",
    "joined",
    "say",
    "slope",
]


class Verdict(StrEnum):
    """What was answered: ``TOLD`` where the question asks for a figure and not for a yes or a no."""

    YES = "yes"
    NO = "no"
    UNKNOWN = "not known"
    TOLD = "told"

    @property
    def exit_code(self) -> int:
        """How the program ends: 0 answered, 3 answered no, 4 not known."""
        return {Verdict.NO: 3, Verdict.UNKNOWN: 4}.get(self, 0)


class Sure(StrEnum):
    """How sure a figure is, in the only words that are used for it."""

    BOUND = "bound, no gap between attitudes"
    STATED = "no bound unless the openings stated stay under liquid"
    SOLVED = "solved for this mesh"
    SAMPLED = "from samples, no bound"
    ESTIMATE = "an estimate"
    RULE = "rule of thumb"
    GIVEN = "as given"


@dataclass(frozen=True)
class Quantity:
    """A number: ``value`` in SI (None where there is none), its ``kind`` and how it is rounded.

    ``kind`` is one of :mod:`tanksolve.unit_systems`, or ``slope`` and ``heading`` [rad], which are told in
    degrees with the grade or the side in words. ``tape`` lengths are laid off by hand: inches in sixteenths.
    """

    value: float | None
    kind: str
    rounding: Rounding = "nearest"
    tape: bool = False


@dataclass(frozen=True)
class Said:
    """A sentence with its numbers: a template with ``{name}`` for each value."""

    template: str
    values: Mapping[str, Quantity | str]

    def quantities(self) -> Iterator[Quantity]:
        """The numbers in it."""
        return (value for value in self.values.values() if isinstance(value, Quantity))


Words = Said | str
Cell = float | str | None


def say(template: str, **values: Quantity | str) -> Said:
    """A sentence: ``say("short by {lack} at {port}", lack=Quantity(0.004, "length"), port="suction")``."""
    return Said(template, values)


def joined(between: str, *said: Said) -> Said:
    """Sentences in one; names that several of them use are told apart by a number."""
    values: dict[str, Quantity | str] = {}
    templates = []
    for k, one in enumerate(said):
        template = one.template
        for name, value in one.values.items():
            own = name if name not in values else f"{name}_{k + 1}"
            template = template.replace(f"{{{name}}}", f"{{{own}}}")
            values[own] = value
        templates.append(template)
    return Said(between.join(templates), values)


def slope(radians: float | None, rounding: Rounding = "nearest") -> Quantity:
    """A slope [rad], told in degrees and in grade percent."""
    return Quantity(radians, "slope", rounding)


@dataclass(frozen=True)
class Fact:
    """One thing that was found: its label, its value, and how sure it is.

    ``brief`` facts are shown always, the others with the whole answer only. ``reader`` is the value for
    somebody who types no commands, where ``value`` names an option: what a report shows.
    """

    label: str
    value: Quantity | Words
    sure: Sure | None = None
    brief: bool = True
    reader: Words | None = None

    def quantities(self) -> Iterator[Quantity]:
        """The numbers in it."""
        if isinstance(self.value, Quantity):
            yield self.value
        elif isinstance(self.value, Said):
            yield from self.value.quantities()


@dataclass(frozen=True)
class Column:
    """A column: its title, the kind of its numbers (``words`` for text), and their rounding.

    ``brief`` ones are shown always on a screen, the others with the whole answer only. ``write`` ones are
    left empty for somebody to write in.
    """

    title: str
    kind: str = "words"
    rounding: Rounding = "nearest"
    tape: bool = False
    brief: bool = True
    write: bool = False


@dataclass(frozen=True)
class Table:
    """Rows of numbers in SI and words, under columns.

    brief : the rows that are shown without asking for the whole answer; None shows all.
    reader : the same in fewer rows, for a report; None shows this one.
    """

    title: str
    columns: Sequence[Column]
    rows: Sequence[Sequence[Cell]]
    brief: Sequence[int] | None = None
    reader: "Table | None" = None

    def quantities(self) -> Iterator[Quantity]:
        """The numbers in it, row by row."""
        for row in self.rows:
            for column, cell in zip(self.columns, row, strict=True):
                if isinstance(cell, int | float):
                    yield Quantity(float(cell), column.kind, column.rounding, column.tape)


@dataclass(frozen=True)
class Document:
    """One answer.

    Attributes
    ----------
    kind : the command's name; JSON calls its format after it.
    question : in words.
    verdict, sentence : the answer in one sentence, with its number.
    facts, tables, cautions : what was found, and what must be said beside it.
    understood : the inputs as they were read.
    brief_cautions : how many of the cautions, the first, are shown without asking for all; None shows all.
    figures : each picture by its name, drawn when asked for.
    given : the options as typed, for JSON's ``inputs``.
    data : the result's own keys for JSON, in SI.
    """

    kind: str
    question: Words
    verdict: Verdict
    sentence: Words
    facts: Sequence[Fact] = ()
    tables: Sequence[Table] = ()
    cautions: Sequence[Words] = ()
    understood: Sequence[Fact] = ()
    figures: "Mapping[str, Callable[[], Figure]]" = field(default_factory=dict, compare=False)
    given: Mapping[str, Any] = field(default_factory=dict)
    data: Mapping[str, Any] = field(default_factory=dict)
    brief_cautions: int | None = None

    def quantities(self) -> Iterator[Quantity]:
        """Every number that the answer tells, inputs as understood apart."""
        for words in (self.sentence, *self.cautions):
            if isinstance(words, Said):
                yield from words.quantities()
        for fact in self.facts:
            yield from fact.quantities()
        for table in self.tables:
            yield from table.quantities()
