"""A document as a page of Markdown, to be printed and filled in by hand."""

from collections.abc import Sequence

from tanksolve.present.document import Document, Fact, Table
from tanksolve.present.wording import (
    caution_words,
    cell_words,
    column_words,
    fact_words,
    sentence,
    words,
)

__all__ = ["as_markdown"]


def as_markdown(document: Document) -> str:
    """The whole answer as a page, in the units in force, ending in a line feed."""
    parts = [
        f"# {words(document.question)}",
        f"**{sentence(document.verdict, document.sentence)}**",
        *_facts(document.facts),
        *(_table(table) for table in document.tables if table.rows),
        "## As understood",
        *_facts(document.understood),
        "## Cautions",
        "\n".join(f"- {caution_words(caution)}" for caution in document.cautions),
    ]
    return "\n\n".join(parts) + "\n"


def _facts(facts: Sequence[Fact]) -> list[str]:
    lines = [f"- {fact.label}: {fact_words(fact)}" for fact in facts]
    return ["\n".join(lines)] if lines else []


def _table(table: Table) -> str:
    titles = [column_words(column) for column in table.columns]
    rows = [
        [cell_words(c, cell) for c, cell in zip(table.columns, row, strict=True)]
        for row in table.rows
    ]
    widths = [max(map(len, column)) for column in zip(titles, *rows, strict=True)]
    lines = [
        "| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |"
        for row in (titles, *rows)
    ]
    rule = "|" + "|".join("-" * (width + 2) for width in widths) + "|"
    body = "\n".join([lines[0], rule, *lines[1:]])
    return f"{table.title}\n\n{body}" if table.title else body
