"""A document as HTML: the verdict, facts, tables and cautions; all text escaped, none of it run."""

from collections.abc import Iterator, Sequence
from html import escape

from tanksolve.present.document import Column, Document, Fact, Table, Verdict, Words
from tanksolve.present.wording import (
    caution_words,
    cell_words,
    column_words,
    fact_words,
    sentence,
    words,
)

__all__ = ["cautions_html", "document_html", "facts_html", "sentence_html", "sign", "table_html"]

_SIGNS = {Verdict.YES: "✓ ", Verdict.NO: "✗ ", Verdict.UNKNOWN: "? "}
_FEW = 3  # columns that fit the width of a phone


def document_html(document: Document, title: str, anchor: str, note: Words = "") -> str:
    """A section: its title, the answer in one sentence, facts and tables; cautions and inputs apart.

    Words are in the units in force, those for readers who type no commands. What is not brief is folded
    away, and opened in print. ``note`` stands right below the answer.
    """
    parts = [
        f'<section class="answer" id="{escape(anchor)}">',
        f"<h2>{escape(title)}</h2>",
        f'<p class="question">{escape(words(document.question))}</p>',
        f'<p class="told {document.verdict.name.lower()}">{sentence_html(document)}</p>',
        f'<p class="note">{escape(words(note))}</p>' if note else "",
        facts_html([fact for fact in document.facts if fact.brief]),
        *(_shown(table) for table in document.tables),
        *_folded(document),
        "</section>",
    ]
    return "\n".join(part for part in parts if part)


def sign(verdict: Verdict) -> str:
    """A mark of the verdict, so that it does not hang on colour alone; nothing where a figure is told."""
    return _SIGNS.get(verdict, "")


def sentence_html(document: Document) -> str:
    """The verdict and its sentence, escaped, with a mark before it that is not read aloud."""
    mark = sign(document.verdict)
    shown = f'<span aria-hidden="true">{mark}</span>' if mark else ""
    return shown + escape(sentence(document.verdict, document.sentence))


def facts_html(facts: Sequence[Fact]) -> str:
    """Facts as a list of terms; a label that repeats is told once."""
    if not facts:
        return ""
    rows, last = [], ""
    for fact in facts:
        label = "" if fact.label == last else f"<dt>{escape(fact.label)}</dt>"
        rows.append(f"{label}<dd>{escape(fact_words(fact, reader=True))}</dd>")
        last = fact.label
    return f'<dl class="facts">{"".join(rows)}</dl>'


def cautions_html(cautions: Sequence[Words]) -> str:
    """Cautions as a list, each once."""
    told = dict.fromkeys(caution_words(caution) for caution in cautions)
    return f"<ul>{''.join(f'<li>{escape(one)}</li>' for one in told)}</ul>"


def _shown(table: Table) -> str:
    """The rows of a table that are shown without asking for the whole answer."""
    if table.brief is None:
        return table_html(table, range(len(table.rows)))
    return table_html(table, table.brief, "wide part") if table.brief else ""


def _folded(document: Document) -> Iterator[str]:
    """What is told with the whole answer only."""
    hidden = [fact for fact in document.facts if not fact.brief]
    more = [t for t in document.tables if t.brief is not None and len(t.brief) < len(t.rows)]
    if hidden or more:
        yield "<details><summary>The whole answer</summary>"
        yield facts_html(hidden)
        for table in more:
            whole = table.reader or table
            yield table_html(whole, range(len(whole.rows)))
        yield "</details>"


def table_html(table: Table, rows: Sequence[int], frame_class: str = "wide") -> str:
    """A table with a caption; numbers to the right.

    With more columns than fit a phone, each cell bears its column's title, and there a row becomes a card.
    """
    titles = [column_words(column) for column in table.columns]
    kinds = [column.kind for column in table.columns]
    heads = "".join(
        f'<th scope="col"{_side(kind)}>{escape(title)}</th>'
        for title, kind in zip(titles, kinds, strict=True)
    )
    cards = len(table.columns) > _FEW
    named = [f' data-title="{escape(title)}"' if cards else "" for title in titles]
    body = []
    for row in rows:
        cells = zip(table.columns, table.rows[row], named, strict=True)
        told = (f"<td{_class(c)}{n}>{escape(cell_words(c, cell))}</td>" for c, cell, n in cells)
        body.append(f"<tr>{''.join(told)}</tr>")
    caption = f"<caption>{escape(table.title)}</caption>" if table.title else ""
    frame = f'role="region" tabindex="0" aria-label="{escape(table.title or "table")}"'
    cards_class = ' class="cards"' if cards else ""
    return (
        f'<div class="{frame_class}" {frame}><table{cards_class}>{caption}<thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def _class(column: Column) -> str:
    return ' class="write"' if column.write else _side(column.kind)


def _side(kind: str) -> str:
    return "" if kind == "words" else ' class="number"'
