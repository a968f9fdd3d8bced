"""Rows of a delimited text as numbers: a table library's reader for the bulk, a plain one for the rest.

pyarrow reads a block of regular rows at a few million rows a second, and refuses the whole block
where one field is not what its column holds. Such a block is halved until what is left is small,
and that is read row by row with Python's ``csv``: each row that cannot be read keeps its place, as
NaN with the reason in words. Both read alike (a test compares them).
"""

import csv
import importlib.util
import io
import math
import re
from collections.abc import Sequence
from datetime import UTC, datetime
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.replay.log_columns import Column

Array = NDArray[np.float64]

__all__ = [
    "Plan",
    "Rows",
    "has_arrow",
    "numbers_of",
    "read_rows",
    "rows_of_fields",
    "rows_one_by_one",
    "seconds_of_stamp",
]

SMALL = 1 << 16  # bytes: fewer are read row by row at once, and do not load the library
_GREATEST = 1e30  # of any number in a log: nanoseconds since 1970 are 1e18
_NUMBER = re.compile(r"[+-]?(\d+\.?\d*|\.\d+)([eE][+-]?\d+)?", re.ASCII)
_STAMP = re.compile(r"\d{4}-\d\d-\d\d($|[T ]\d\d:\d\d)", re.ASCII)
_DAY_FIRST = re.compile(r"(\d{1,2})[./-](\d{1,2})[./-](\d{4})[ T,]+(\d{1,2}):(.*)", re.ASCII)


class Plan(NamedTuple):
    """How rows are to be read.

    separator : between fields; decimal : mark, ``.`` or ``,``; width : fields in a row; columns : wanted.
    """

    separator: str
    decimal: str
    width: int
    columns: tuple[Column, ...]


class Rows(NamedTuple):
    """Every line of a block: one array (N,) a wanted column, as written (stamps in seconds since
    1970), NaN where there is none; and what is wrong with a row, where NaN does not say it.
    """

    values: list[Array]
    faults: dict[int, str]


def has_arrow() -> bool:
    """Whether pyarrow is installed: without it long logs take about ten times as long."""
    return importlib.util.find_spec("pyarrow") is not None


def read_rows(data: bytes, plan: Plan) -> Rows:
    """Read a block of whole lines; the last may lack its newline."""
    if len(data) <= SMALL or not has_arrow():
        return rows_one_by_one(data, plan)
    found = _rows_at_once(data, plan)
    if found is not None:
        return found
    middle = data.find(b"\n", len(data) // 2) + 1
    if middle in (0, len(data)):
        return rows_one_by_one(data, plan)
    one, other = read_rows(data[:middle], plan), read_rows(data[middle:], plan)
    before = len(one.values[0])
    values = [np.concatenate(pair) for pair in zip(one.values, other.values, strict=True)]
    return Rows(values, one.faults | {before + k: words for k, words in other.faults.items()})


def _rows_at_once(data: bytes, plan: Plan) -> Rows | None:
    """All rows by pyarrow; None where any is irregular."""
    import pyarrow as pa
    from pyarrow import csv as arrow

    kinds = {"": pa.float64(), "zoned": pa.timestamp("ns", tz="UTC"), "local": pa.timestamp("ns")}
    if any(column.stamp not in kinds for column in plan.columns) or data.count(b'"') % 2:
        return None
    wanted = [str(column.position) for column in plan.columns]
    try:
        table = arrow.read_csv(
            io.BytesIO(data),
            read_options=arrow.ReadOptions(
                use_threads=False,
                block_size=len(data) + 1,
                column_names=[str(k) for k in range(plan.width)],
            ),
            parse_options=arrow.ParseOptions(delimiter=plan.separator),
            convert_options=arrow.ConvertOptions(
                include_columns=wanted,
                column_types={str(c.position): kinds[c.stamp] for c in plan.columns},
                decimal_point=plan.decimal,
            ),
        )
    except pa.ArrowInvalid:
        return None
    if table.num_rows != data.count(b"\n") + (not data.endswith(b"\n")):
        return None  # an empty line, or a field that runs on into the next
    return Rows([numbers_of(table.column(name)) for name in wanted], {})


def numbers_of(column: Any) -> Array:
    """A column of an Arrow table as float64, NaN where it is null; times in seconds since 1970."""
    import pyarrow as pa

    if pa.types.is_timestamp(column.type):
        whole = column.cast(pa.timestamp("ns", tz=column.type.tz)).cast(pa.int64())
        return np.asarray(1e-9 * whole.to_numpy(), np.float64)
    return _sensible(np.asarray(column.cast(pa.float64()).to_numpy(), np.float64))


def rows_one_by_one(data: bytes, plan: Plan) -> Rows:
    """The same, row by row: for small blocks, and where a row is irregular."""
    lines = data.decode("utf-8", errors="replace").split("\n")
    if lines[-1] == "":
        lines.pop()
    rows: list[list[str]] = []
    faults: dict[int, str] = {}
    for k, line in enumerate(lines):
        fields = _fields(line.strip("\r"), plan)
        if isinstance(fields, str):
            faults[k], fields = fields, []
        rows.append(fields)
    return Rows(rows_of_fields(rows, plan), faults)


def rows_of_fields(rows: Sequence[Sequence[str]], plan: Plan) -> list[Array]:
    """One array (N,) a wanted column out of rows of fields; NaN where there is no number."""
    out = []
    for column in plan.columns:
        at, stamp = column.position, column.stamp
        texts = [row[at].strip() if at < len(row) else "" for row in rows]
        read = (
            (seconds_of_stamp(text, stamp) for text in texts)
            if stamp
            else (_number(text, plan.decimal) for text in texts)
        )
        out.append(_sensible(np.fromiter(read, np.float64, len(texts))))
    return out


def _sensible(values: Array) -> Array:
    """Values (N,), NaN for those that no sensor gives: their differences would overflow."""
    wild = np.abs(values) > _GREATEST
    return np.where(wild, np.nan, values) if wild.any() else values


def _fields(line: str, plan: Plan) -> list[str] | str:
    """The fields of a line, as many as the header has; or what is wrong with it."""
    if not line.strip():
        return "an empty line"
    try:
        fields = next(csv.reader([line], delimiter=plan.separator, strict=True))
    except csv.Error as error:
        return f"its quotes cannot be read ({error})"
    if len(fields) < plan.width:
        return "too few columns"
    if any(field.strip() for field in fields[plan.width :]):
        return f"{len(fields)} fields where the header has {plan.width}"
    return fields


def _number(text: str, decimal: str) -> float:
    """The number that a field holds, NaN where it holds none."""
    if decimal == ",":
        text = "" if "." in text else text.replace(",", ".")
    return float(text) if _NUMBER.fullmatch(text) else math.nan


def seconds_of_stamp(text: str, kind: str) -> float:
    """Seconds since 1970 of a date and time, NaN where it is none of that kind.

    kind : ``zoned`` (with an offset from UTC), ``local`` (without: counted as if in UTC), ``d/m/y`` or
        ``m/d/y`` (slashes, points or dashes, without an offset).
    """
    text = text.replace(",", ".") if kind in ("zoned", "local") else text
    if kind in ("d/m/y", "m/d/y"):
        match = _DAY_FIRST.fullmatch(text)
        if match is None:
            return math.nan
        day, month = (match[1], match[2]) if kind == "d/m/y" else (match[2], match[1])
        rest = match[5].replace(",", ".")
        text = f"{match[3]}-{int(month):02}-{int(day):02} {int(match[4]):02}:{rest}"
    if not _STAMP.match(text):
        return math.nan
    try:
        moment = datetime.fromisoformat(re.sub(r"\s+(?=[+-]\d\d|Z$)", "", text))
    except ValueError:
        return math.nan
    if (moment.tzinfo is not None) is not (kind == "zoned"):
        return math.nan
    return (moment if kind == "zoned" else moment.replace(tzinfo=UTC)).timestamp()
