"""A document as text: the verdict first, then the facts, and the whole of it when asked for."""

from collections.abc import Iterator, Sequence

from tanksolve.present.document import Document, Fact, Table
from tanksolve.present.style import wrapped
from tanksolve.present.wording import (
    caution_words,
    cell_words,
    column_words,
    fact_words,
    sentence,
)

__all__ = ["WIDTH", "aligned", "as_text"]

WIDTH = 100  # letters of a line
_SCREEN = 25  # lines of an answer without --full
_ALWAYS = ("tank", "liquid", "level")  # of the inputs, where all of them would not fit


def as_text(document: Document, full: bool = False) -> str:
    """The answer as lines of text in the units in force, ending in a line feed.

    Without ``full`` only brief facts and rows are shown, and a last line says what else there is; where the
    inputs as understood do not fit on the screen either, only those of the tank and the liquid are.
    """
    text = _text(document, document.understood, full)
    if full or text.count("\n") <= _SCREEN:
        return text
    kept = [
        fact
        for fact in document.understood
        if fact.label in _ALWAYS or "WARNING" in str(fact.value)
    ]
    return _text(document, kept, full)


def _text(document: Document, understood: Sequence[Fact], full: bool) -> str:
    blocks = [_wrapped(sentence(document.verdict, document.sentence))]
    blocks.append(list(_facts(document.facts, full)))
    shown = [fact for fact in (*document.facts, *understood) if fact.brief]
    hidden = len(document.facts) + len(document.understood) - len(shown)
    for table in document.tables:
        rows = list(range(len(table.rows))) if full or table.brief is None else list(table.brief)
        hidden += len(table.rows) - len(rows)
        if rows:
            blocks.append(list(_table(table, rows)))
    blocks.append(list(_facts(understood, full)))
    warned = document.cautions if full else document.cautions[: document.brief_cautions]
    hidden += len(document.cautions) - len(warned)
    cautions = (_wrapped(f"caution: {caution_words(c)}", " " * 9) for c in warned)
    blocks.append([line for lines in cautions for line in lines])
    if hidden and not full:
        blocks[-1].append(f"--full tells {hidden} more {'line' if hidden == 1 else 'lines'}")
    return "\n\n".join("\n".join(block) for block in blocks if block) + "\n"


def _wrapped(text: str, indent: str = "") -> list[str]:
    return wrapped(text, WIDTH, subsequent_indent=indent)


def _facts(facts: Sequence[Fact], full: bool) -> Iterator[str]:
    shown = [fact for fact in facts if fact.brief or full]
    wide = min(28, max((len(fact.label) for fact in shown), default=0))
    last = ""
    for fact in shown:
        label = "" if fact.label == last else fact.label
        yield from _wrapped(f"{label.ljust(wide)}  {fact_words(fact)}".rstrip(), " " * (wide + 2))
        last = fact.label


def _table(table: Table, rows: Sequence[int]) -> Iterator[str]:
    cells = [
        [cell_words(c, cell) for c, cell in zip(table.columns, table.rows[row], strict=True)]
        for row in rows
    ]
    if table.title:
        yield from _wrapped(table.title)
    yield from aligned(
        [column_words(column) for column in table.columns],
        cells,
        [column.kind == "words" for column in table.columns],
    )


def aligned(
    titles: Sequence[str], rows: Sequence[Sequence[str]], left: Sequence[bool]
) -> list[str]:
    """A table as aligned lines that survive a pipe: titles, a rule, the rows."""
    widths = [max(map(len, column)) for column in zip(titles, *rows, strict=True)]

    def line(cells: Sequence[str]) -> str:
        padded = (
            cell.ljust(width) if to_left else cell.rjust(width)
            for cell, width, to_left in zip(cells, widths, left, strict=True)
        )
        return "  ".join(padded).rstrip()

    return [line(titles), "  ".join("-" * width for width in widths), *map(line, rows)]
