"""A document as text: the verdict first, then the facts, and the whole of it when asked for."""

from collections.abc import Iterator, Sequence
from itertools import zip_longest

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

WIDTH = 80  # letters of a line
_FOLDED = 16  # letters that a column of words keeps
_SCREEN = 25  # lines of an answer without --full
_ALWAYS = ("tank", "liquid", "level", "pump")  # of the inputs, where all of them would not fit


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
            blocks.append(list(_table(table, rows, full)))
    blocks.append(list(_facts(understood, full)))
    warned = document.cautions if full else document.cautions[: document.brief_cautions]
    hidden += len(document.cautions) - len(warned)
    cautions = (_wrapped(f"caution: {caution_words(c)}", " " * 9) for c in warned)
    blocks.append([line for lines in cautions for line in lines])
    if not (hidden or full) and not all(
        c.brief for table in document.tables for c in table.columns
    ):
        blocks[-1].append("--full tells more columns")
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


def _table(table: Table, rows: Sequence[int], full: bool) -> Iterator[str]:
    shown = [(k, column) for k, column in enumerate(table.columns) if full or column.brief]
    cells = [[cell_words(column, table.rows[row][k]) for k, column in shown] for row in rows]
    if table.title:
        yield from _wrapped(table.title)
    yield from aligned(
        [column_words(column) for _, column in shown],
        cells,
        [column.kind == "words" for _, column in shown],
    )


def aligned(
    titles: Sequence[str], rows: Sequence[Sequence[str]], left: Sequence[bool], width: int = WIDTH
) -> list[str]:
    """A table as aligned lines that survive a pipe: titles, a rule, the rows.

    One wider than ``width`` letters has its titles folded, then its words, then goes on below, its first
    column again at the side.
    """
    widest = [max((len(row[k]) for row in rows), default=0) for k in range(len(titles))]
    for lines in (1, 2, 3, 4):
        widths = [max(_narrowest(t, lines), cell) for t, cell in zip(titles, widest, strict=True)]
        if _across(widths) <= width:
            break
    for k in sorted(range(len(widths)), key=lambda k: -widths[k]):
        over = _across(widths) - width
        if left[k] and over > 0:
            widths[k] = max(widths[k] - over, min(widths[k], _FOLDED))
    folded = [[_folded(row[k], width) for row in (titles, *rows)] for k, width in enumerate(widths)]
    widths = [max(len(line) for cell in column for line in cell) for column in folded]
    told: list[str] = []
    for part in _parts(widths, width):
        own = [[row[k] for k in part] for row in (titles, *rows)]
        each = [_row(row, [widths[k] for k in part], [left[k] for k in part]) for row in own]
        rule = "  ".join("-" * widths[k] for k in part)
        told += [
            *([""] if told else []),
            *each[0],
            rule,
            *(line for row in each[1:] for line in row),
        ]
    return told


def _narrowest(title: str, lines: int) -> int:
    """Letters in which a title takes so many lines at most, or its longest word does."""
    narrow = max(map(len, title.split()), default=0)
    return next(
        (w for w in range(narrow, len(title)) if len(wrapped(title, w)) <= lines), len(title)
    )


def _folded(cell: str, width: int) -> list[str]:
    return wrapped(cell, width) if len(cell) > width else [cell]


def _across(widths: Sequence[int]) -> int:
    return sum(widths) + 2 * (len(widths) - 1)


def _parts(widths: Sequence[int], width: int) -> list[list[int]]:
    """Columns that stand side by side, each part with the first of all."""
    parts = [[0]]
    for k in range(1, len(widths)):
        if len(parts[-1]) > 1 and _across([widths[i] for i in (*parts[-1], k)]) > width:
            parts.append([0])
        parts[-1].append(k)
    return parts


def _row(cells: Sequence[str], widths: Sequence[int], left: Sequence[bool]) -> list[str]:
    """A row as lines; what is folded stands at the foot of a title, at the head of a cell."""
    folded = (_folded(cell, width) for cell, width in zip(cells, widths, strict=True))
    lines = zip_longest(*folded, fillvalue="")
    return [
        "  ".join(
            cell.ljust(width) if to_left else cell.rjust(width)
            for cell, width, to_left in zip(line, widths, left, strict=True)
        ).rstrip()
        for line in lines
    ]
