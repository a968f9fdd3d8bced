"""Every answer about one tank as a PDF: the Documents of the HTML report, with the plan of the limits."""

import io
from collections.abc import Iterator, Sequence
from datetime import date
from html import escape
from pathlib import Path
from typing import Any

from tanksolve.files import write_whole
from tanksolve.present.as_html import sign
from tanksolve.present.document import Document, Fact, Table
from tanksolve.present.drawn import fonts_for_pdf
from tanksolve.present.paper import paper_named
from tanksolve.present.report_answers import Answer, words_used
from tanksolve.present.save import own_look
from tanksolve.present.wording import (
    caution_words,
    cell_words,
    column_words,
    fact_words,
    sentence,
    words,
)
from tanksolve.version import __version__

__all__ = ["save_report_pdf"]

_INK = {"yes": "#17693a", "no": "#b3261e"}
_WIDE = 169.5  # mm between the margins of A4, the frame's padding taken off; Letter has 6 more


def save_report_pdf(answers: Sequence[Answer], title: str, made: date, path: Path) -> None:
    """Write the answers in their order; the first one's verdict is the first line. Raises OutputError."""
    write_whole(path, lambda temporary: _write(answers, title, made, temporary))


def _write(answers: Sequence[Answer], title: str, made: date, path: Path) -> None:
    from reportlab.lib.units import mm
    from reportlab.platypus import SimpleDocTemplate

    wide, high = paper_named(None)
    foot = f"{title}. tanksolve {__version__}, {made.isoformat()}"
    style = _Styles()

    def number(canvas: Any, page: Any) -> None:
        canvas.setFont(style.plain, 7)
        canvas.drawString(18 * mm, 9 * mm, foot[:150])
        canvas.drawRightString((wide - 18) * mm, 9 * mm, f"page {page.page}")

    template = SimpleDocTemplate(
        str(path), pagesize=(wide * mm, high * mm), title=title, author="tanksolve", invariant=1,
        leftMargin=18 * mm, rightMargin=18 * mm, topMargin=16 * mm, bottomMargin=18 * mm,
    )  # fmt: skip
    template.build(list(_story(answers, style)), onFirstPage=number, onLaterPages=number)


class _Styles:
    """Paragraphs in the font of all drawings."""

    def __init__(self) -> None:
        from reportlab.lib.styles import ParagraphStyle

        self.plain, self.bold = fonts_for_pdf()
        base = ParagraphStyle("base", fontName=self.plain, fontSize=8.5, leading=11.5)
        self.text = base
        self.first = ParagraphStyle(
            "first", base, fontName=self.bold, fontSize=14, leading=18, spaceAfter=6
        )
        self.head = ParagraphStyle(
            "head",
            base,
            fontName=self.bold,
            fontSize=11.5,
            leading=15,
            spaceBefore=10,
            keepWithNext=1,
        )
        self.told = ParagraphStyle("told", base, fontName=self.bold, spaceAfter=4)
        self.cell = ParagraphStyle("cell", base, fontSize=7.5, leading=9.5)
        self.number = ParagraphStyle("number", self.cell, alignment=2)

    def paragraph(self, text: str, style: Any, ink: str = "#000000") -> Any:
        """Text from anywhere, none of it markup."""
        from reportlab.platypus import Paragraph

        return Paragraph(f'<font color="{ink}">{escape(text)}</font>', style)


def _story(answers: Sequence[Answer], style: _Styles) -> Iterator[Any]:
    first = answers[0].document
    ink = _INK.get(first.verdict.value, "#000000")
    yield style.paragraph(_signed(first), style.first, ink)
    cautions = dict.fromkeys(
        caution_words(c) for answer in answers for c in answer.document.cautions
    )
    for caution in cautions:
        yield style.paragraph(f"caution: {caution}", style.text)
    for answer in answers:
        yield from _answer(answer, style)
    yield style.paragraph("Words used here", style.head)
    yield from _facts(words_used(), style)
    yield style.paragraph("What was taken in", style.head)
    yield from _facts(first.understood, style)


def _signed(document: Document) -> str:
    """The verdict with its mark, so that it does not hang on colour alone."""
    return sign(document.verdict) + sentence(document.verdict, document.sentence)


def _answer(answer: Answer, style: _Styles) -> Iterator[Any]:
    document = answer.document
    yield style.paragraph(answer.title, style.head)
    yield style.paragraph(words(document.question), style.text)
    ink = _INK.get(document.verdict.value, "#000000")
    yield style.paragraph(_signed(document), style.told, ink)
    if answer.note:
        yield style.paragraph(words(answer.note), style.text)
    yield from _facts(document.facts, style)
    for table in document.tables:
        if table.rows:
            yield from _table(table.reader or table, style)
    yield from _plan(document)


def _facts(facts: Sequence[Fact], style: _Styles) -> Iterator[Any]:
    from reportlab.lib.units import mm

    last, rows = "", []
    for fact in facts:
        label = "" if fact.label == last else fact.label
        rows.append(
            [
                style.paragraph(label, style.cell),
                style.paragraph(fact_words(fact, reader=True), style.cell),
            ]
        )
        last = fact.label
    if rows:
        yield _grid(rows, [34 * mm, (_WIDE - 34) * mm], lines=False)


def _table(table: Table, style: _Styles) -> Iterator[Any]:
    from reportlab.lib.units import mm

    sides = [style.cell if c.kind == "words" else style.number for c in table.columns]
    heads = [
        style.paragraph(column_words(c), side) for c, side in zip(table.columns, sides, strict=True)
    ]
    told = [
        [cell_words(c, cell) for c, cell in zip(table.columns, row, strict=True)]
        for row in table.rows
    ]
    most = [
        max(9, *(min(len(row[k]), 48) for row in told), min(len(column_words(c)), 24))
        for k, c in enumerate(table.columns)
    ]
    wide = [_WIDE * mm * one / sum(most) for one in most]
    rows = [
        [style.paragraph(cell, side) for cell, side in zip(row, sides, strict=True)] for row in told
    ]
    if table.title:
        yield style.paragraph(table.title, style.cell)
    yield _grid([heads, *rows], wide, lines=True)


def _grid(rows: list[list[Any]], wide: list[float], *, lines: bool) -> Any:
    from reportlab.lib import colors
    from reportlab.platypus import Table as Grid
    from reportlab.platypus import TableStyle

    how: list[tuple[Any, ...]] = [
        ("VALIGN", (0, 0), (-1, -1), "TOP"),
        ("LEFTPADDING", (0, 0), (-1, -1), 0),
        ("TOPPADDING", (0, 0), (-1, -1), 1),
        ("BOTTOMPADDING", (0, 0), (-1, -1), 1.5),
    ]
    if lines:
        how.append(("LINEBELOW", (0, 0), (-1, -1), 0.3, colors.lightgrey))
    return Grid(
        rows,
        colWidths=wide,
        style=TableStyle(how),
        repeatRows=int(lines),
        spaceAfter=6,
        hAlign="LEFT",
    )


def _plan(document: Document) -> Iterator[Any]:
    """The plan of the limits, where the answer draws one."""
    if "plan" not in document.figures:
        return
    from reportlab.lib.units import mm
    from reportlab.platypus import Image

    kept = io.BytesIO()
    with own_look():
        figure = document.figures["plan"]()
        figure.savefig(kept, format="png", dpi=170)
    kept.seek(0)
    ratio = figure.get_size_inches()[1] / figure.get_size_inches()[0]
    yield Image(kept, width=150 * mm, height=150 * ratio * mm)
