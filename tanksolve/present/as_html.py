"""A document as HTML: the verdict, facts, tables and cautions; all text escaped, none of it run."""

from collections.abc import Iterator, Sequence
from html import escape

from tanksolve.present.document import Document, Fact, Table, Words
from tanksolve.present.wording import cell_words, column_words, fact_words, sentence, words

__all__ = ["cautions_html", "document_html", "facts_html", "sentence_html", "table_html"]


def document_html(document: Document, title: str, anchor: str) -> str:
    """A section: its title, the answer in one sentence, facts and tables; cautions and inputs apart.

    Words are in the units in force. What is not brief is folded away, and opened in print.
    """
    parts = [
        f'<section class="answer" id="{escape(anchor)}">',
        f"<h2>{escape(title)}</h2>",
        f'<p class="question">{escape(words(document.question))}</p>',
        f'<p class="told {document.verdict.name.lower()}">{sentence_html(document)}</p>',
        facts_html([fact for fact in document.facts if fact.brief]),
        *(_shown(table) for table in document.tables),
        *_folded(document),
        "</section>",
    ]
    return "\n".join(part for part in parts if part)


def sentence_html(document: Document) -> str:
    """The verdict and its sentence, escaped."""
    return escape(sentence(document.verdict, document.sentence))


def facts_html(facts: Sequence[Fact]) -> str:
    """Facts as a list of terms; a label that repeats is told once."""
    if not facts:
        return ""
    rows, last = [], ""
    for fact in facts:
        label = "" if fact.label == last else f"<dt>{escape(fact.label)}</dt>"
        rows.append(f"{label}<dd>{escape(fact_words(fact))}</dd>")
        last = fact.label
    return f'<dl class="facts">{"".join(rows)}</dl>'


def cautions_html(cautions: Sequence[Words]) -> str:
    """Cautions as a list, each once."""
    told = dict.fromkeys(words(caution) for caution in cautions)
    return f"<ul>{''.join(f'<li>{escape(one)}</li>' for one in told)}</ul>"


def _shown(table: Table) -> str:
    """The rows of a table that are shown without asking for the whole answer."""
    rows = range(len(table.rows)) if table.brief is None else table.brief
    return table_html(table, rows) if rows else ""


def _folded(document: Document) -> Iterator[str]:
    """What is told with the whole answer only."""
    hidden = [fact for fact in document.facts if not fact.brief]
    more = [t for t in document.tables if t.brief is not None and len(t.brief) < len(t.rows)]
    if hidden or more:
        yield "<details><summary>The whole answer</summary>"
        yield facts_html(hidden)
        yield from (table_html(table, range(len(table.rows))) for table in more)
        yield "</details>"


def table_html(table: Table, rows: Sequence[int]) -> str:
    """A table with a caption; numbers to the right, in a frame that scrolls sideways by itself."""
    heads = "".join(
        f'<th scope="col"{_side(column.kind)}>{escape(column_words(column))}</th>'
        for column in table.columns
    )
    body = []
    for row in rows:
        cells = zip(table.columns, table.rows[row], strict=True)
        told = (f"<td{_side(c.kind)}>{escape(cell_words(c, cell))}</td>" for c, cell in cells)
        body.append(f"<tr>{''.join(told)}</tr>")
    caption = f"<caption>{escape(table.title)}</caption>" if table.title else ""
    frame = f'role="region" tabindex="0" aria-label="{escape(table.title or "table")}"'
    return (
        f'<div class="wide" {frame}><table>{caption}<thead><tr>{heads}</tr></thead>'
        f"<tbody>{''.join(body)}</tbody></table></div>"
    )


def _side(kind: str) -> str:
    return "" if kind == "words" else ' class="number"'
