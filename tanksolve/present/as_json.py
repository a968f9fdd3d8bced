"""A document as data: JSON in SI, and a table as CSV in the units in force."""

import csv
import io
import json
import math
import re
from collections.abc import Iterator
from typing import Any

from tanksolve.present.document import Cell, Column, Document, Fact, Quantity, Said, Table
from tanksolve.present.wording import caution_words, fact_words, sentence, words
from tanksolve.record import as_plain
from tanksolve.unit_systems import METRIC, current, rounded, using
from tanksolve.version import JSON_VERSION

__all__ = ["as_csv", "as_json", "json_text"]


def as_json(document: Document) -> dict[str, Any]:
    """The answer as plain data: format, version, inputs, cautions, answer, then the result's own keys.

    Numbers are in SI, slopes and headings in degrees; words are in metric units.
    """
    with using(METRIC):
        head = {
            "format": f"tanksolve-{document.kind}",
            "version": JSON_VERSION,
            "inputs": dict(document.given),
            "cautions": [caution_words(caution) for caution in document.cautions],
            "answer": {
                "question": words(document.question),
                "verdict": document.verdict.value,
                "words": sentence(document.verdict, document.sentence),
                "values": _values(document.sentence),
                "facts": [_fact(fact) for fact in document.facts],
                "understood": [_fact(fact) for fact in document.understood],
            },
        }
        plain: dict[str, Any] = as_plain({**head, **document.data})
    return plain


def json_text(document: Document) -> str:
    """The same as the text of a JSON file."""
    return json.dumps(as_json(document), indent=2, ensure_ascii=False)


def _values(said: object) -> dict[str, float | None]:
    """The numbers of a sentence by their names, the angles in degrees."""
    if not isinstance(said, Said):
        return {}
    return {k: _number(v) for k, v in said.values.items() if isinstance(v, Quantity)}


def _number(quantity: Quantity) -> float | None:
    angle = quantity.kind in ("slope", "heading", "angle", "small angle")
    return math.degrees(quantity.value) if angle and quantity.value is not None else quantity.value


def _fact(fact: Fact) -> dict[str, Any]:
    value = fact.value
    values = {"value": _number(value)} if isinstance(value, Quantity) else _values(value)
    sure = fact.sure.value if fact.sure else None
    bare = Fact(fact.label, value)
    return {"label": fact.label, "words": fact_words(bare), "values": values, "sure": sure}


def as_csv(table: Table) -> str:
    """All rows of a table; each title names its unit, a slope takes two columns."""
    out = io.StringIO()
    writer = csv.writer(out, lineterminator="\n")
    writer.writerow([title for column in table.columns for title in _titles(column)])
    for row in table.rows:
        cells = zip(table.columns, row, strict=True)
        writer.writerow([text for column, cell in cells for text in _texts(column, cell)])
    return out.getvalue()


def _titles(column: Column) -> list[str]:
    title = re.sub(r"\W+", "_", column.title).strip("_")
    if column.kind == "slope":
        return [f"{title}_deg", f"{title}_grade_percent"]
    if column.kind == "words":
        return [title]
    symbol = "deg" if column.kind == "heading" else current().units[column.kind].symbol
    symbol = {"°": "deg", "%": "percent"}.get(symbol, symbol).replace("°", "deg_")
    return [f"{title}_{symbol.replace(' ', '_')}".rstrip("_")]


def _texts(column: Column, cell: Cell) -> Iterator[str]:
    if not isinstance(cell, int | float):
        empty = "" if cell is None else cell
        yield from [empty] * (2 if column.kind == "slope" else 1)
        return
    value = float(cell)
    if column.kind == "slope":
        degrees = rounded(math.degrees(value), 3, column.rounding)
        yield f"{degrees:.3f}"
        yield f"{rounded(100.0 * math.tan(value), 3, column.rounding):.3f}"
    elif column.kind == "heading":
        yield f"{math.degrees(value):.3f}"
    else:
        unit = current().units[column.kind]
        digits = unit.digits + 2  # a spreadsheet goes on with the figures
        yield f"{rounded(unit.of(value), digits, column.rounding):.{digits}f}"
