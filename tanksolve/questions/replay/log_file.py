"""A recorded log as a stream of blocks: delimited text (plain or gzip, 8-bit or 16-bit) or Parquet.

The file is read once, a few megabytes at a time, one block ahead of the one being worked on, so
that memory does not grow with its length. Every row keeps its place: what cannot be read is NaN, and
is told by line; nothing is filled in or left out.
"""

import csv
import gzip
import io
import os
import zlib
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import ExitStack
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, BinaryIO, NamedTuple, cast

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.gate.files import opened, size_words
from tanksolve.questions.replay.log_rows import Plan, Rows, has_arrow, read_rows

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["BLOCK_BYTES", "Head", "Problem", "Problems", "RawBlock", "raw_blocks", "read_head"]

BLOCK_BYTES = 4 << 20
_PARQUET_ROWS = 200_000
_HEAD = 1 << 16  # bytes of a text's beginning, and rows of it, that are looked at first
_SAMPLE = 1000
_KEPT = 200
_TRAILING = 2  # empty lines that a file may end with
_LONGEST = 1 << 40  # bytes of a log
_LINE = 1 << 20  # bytes of a line
_INFLATES, _PLENTY = 60, 50_000_000  # a packed log may grow so many times, and by so many bytes


@dataclass(frozen=True)
class Problem:
    """Something wrong with a line of the log, in words."""

    line: int
    words: str


@dataclass
class Problems:
    """Problems as they are met: all are counted, the first 200 kept."""

    count: int = 0
    first: list[Problem] = field(default_factory=list)

    def add(self, line: int, words: str) -> None:
        """Count one, and keep it while there is room."""
        self.add_all(np.array([line]), lambda _: words)

    def add_all(self, lines: Ints, words: Callable[[int], str]) -> None:
        """Count one for each of ``lines`` (N,); ``words`` of its index tell it, while there is room."""
        for k in range(min(len(lines), _KEPT - len(self.first))):
            self.first.append(Problem(int(lines[k]), words(k)))
        self.count += len(lines)


class RawBlock(NamedTuple):
    """Rows of a block in the file's order: numbers (N,) by quantity in SI, NaN where there is none;
    and line numbers (N,).
    """

    values: dict[str, Array]
    lines: Ints


class Head(NamedTuple):
    """How a log begins.

    fields : of the header; sample : rows below it, as text; separator : empty for Parquet;
    offset : bytes (once unpacked, as 8-bit text) before the first row; line : its number; length : its bytes.
    """

    path: Path
    fields: list[str]
    sample: list[list[str]]
    separator: str
    offset: int
    line: int
    length: int = 0

    @property
    def where(self) -> str:
        """The header's place, for messages."""
        return f"{self.path}, line {self.line - 1}" if self.separator else str(self.path)

    def below(self) -> "Head":
        """The same log with its first row taken as a part of the header."""
        return self._replace(
            sample=self.sample[1:], line=self.line + 1, offset=self.offset + self.length
        )


class _UpTo(io.RawIOBase):
    """A file up to the length that it had when it was opened: one that is still written to ends, too."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = cast(io.BufferedIOBase, file)
        self.length = os.fstat(file.fileno()).st_size

    def readable(self) -> bool:
        return True

    def seekable(self) -> bool:
        return True

    def seek(self, offset: int, whence: int = os.SEEK_SET) -> int:
        return self._file.seek(offset, whence)

    def tell(self) -> int:
        return self._file.tell()

    def readinto(self, buffer: Any) -> int:
        wanted = min(len(buffer), max(0, self.length - self._file.tell()))
        return self._file.readinto(memoryview(buffer)[:wanted])


class _Text:
    """Bytes of 8-bit text out of whatever the file is, and how far the file itself is read."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._open = ExitStack()
        file = self._open.enter_context(opened(path, _LONGEST, "log", FileFormatError))
        with ExitStack() as on_error:
            on_error.enter_context(self._open)
            self.raw = io.BufferedReader(_UpTo(file))
            self._unpacked = 0
            packed = self.raw.read(2) == b"\x1f\x8b"
            self.raw.seek(0)
            self._file: BinaryIO = (
                cast(BinaryIO, gzip.GzipFile(fileobj=self.raw)) if packed else self.raw
            )
            head = self._guard(self._file.read, _HEAD)
            self._file.seek(0)
            self._returns = b"\r" in head and b"\n" not in head
            self._wide, wide = None, head[:2] in (b"\xff\xfe", b"\xfe\xff")
            if wide or self._returns:
                self._wide = io.TextIOWrapper(
                    self._file,
                    "utf-16" if wide else "latin-1",
                    errors="replace",
                    newline="\r" if self._returns else "\n",
                )
            if b"\0" in head and not wide:
                raise FileFormatError(
                    "is no text",
                    where=str(path),
                    allowed="delimited text, plain or gzip, or Parquet",
                )
            on_error.pop_all()

    def __enter__(self) -> "_Text":
        return self

    def __exit__(self, *_: object) -> None:
        self._open.close()

    def _guard(self, act: Callable[[int], Any], size: int) -> Any:
        try:
            return act(size)
        except (EOFError, gzip.BadGzipFile, zlib.error) as error:
            raise FileFormatError(
                f"cannot be unpacked to its end: {error}",
                where=str(self.path),
                next_step="the file is cut off or damaged: copy it again",
            ) from None

    def read(self, size: int) -> bytes:
        """About ``size`` bytes, up to the end of a line; none at the file's end.

        Raises FileFormatError for a line without end, and an archive that swells as no log does.
        """
        source = self._wide or self._file
        block = self._guard(source.read, size)
        if block and not self._ends(block):
            more = self._guard(source.readline, _LINE)
            block += more
            if len(more) == _LINE and not self._ends(more):
                raise FileFormatError(
                    f"a line of more than {size_words(_LINE)}",
                    where=str(self.path),
                    allowed="a CSV file, a row to a line",
                )
        self._unpacked += len(block)
        packed = self.raw.tell()
        if self._unpacked > _INFLATES * packed + _PLENTY:
            raise FileFormatError(
                f"its first {size_words(packed)} unpack to {size_words(self._unpacked)}: no log shrinks so far",
                where=str(self.path),
                next_step="unpack it, and give the file that comes out",
            )
        if self._wide is None:
            return bytes(block)
        data: bytes = block.encode("utf-8" if self._wide.encoding == "utf-16" else "latin-1")
        return data.replace(b"\r", b"\n") if self._returns else data

    def _ends(self, block: Any) -> bool:
        if self._wide is None:
            return bool(block[-1:] == b"\n")
        return bool(block[-1:] == ("\r" if self._returns else "\n"))


def read_head(path: Path) -> Head:
    """Read how a log begins, passing over blank lines and lines that start with '#'.

    Raises FileFormatError for a file that cannot be read, or without a header and one row.
    """
    if _is_parquet(path):
        return _parquet_head(path)
    with _Text(path) as text:
        data = text.read(_HEAD)
    lines = data.split(b"\n")
    offset, line = 0, 0
    for raw in lines:
        line += 1
        offset += len(raw) + 1
        title = _decoded(raw)
        if title.strip() and not title.startswith("#"):
            break
    else:
        raise FileFormatError("has no header line", where=str(path), allowed="a CSV file")
    separator = max(",;\t", key=lambda mark: len(_split(title, mark)))
    fields = _split(title, separator)
    rows = [_decoded(raw) for raw in lines[line : line + _SAMPLE]]
    if len(fields) < 2 or not any(row.strip() for row in rows):
        raise FileFormatError(
            "has no columns" if len(fields) < 2 else "has a header and no rows",
            where=f"{path}, line {line}",
            allowed="a CSV file with a header line, separated by commas, semicolons or tabs",
        )
    sample = [_split(row, separator) for row in rows if row.strip()]
    return Head(path, fields, sample, separator, offset, line + 1, len(lines[line]) + 1)


def _decoded(raw: bytes) -> str:
    try:
        return raw.decode("utf-8-sig").strip("\r")
    except UnicodeDecodeError:
        return raw.decode("cp1252", errors="replace").strip("\r")


def _split(line: str, separator: str) -> list[str]:
    whole = line.replace("\r", " ")  # alone it ends no row, and csv refuses it
    return [f.strip() for f in next(csv.reader([whole], delimiter=separator), [])]


def raw_blocks(
    head: Head,
    plan: Plan,
    problems: Problems,
    progress: Callable[[int, int], None] | None = None,
    block_bytes: int = BLOCK_BYTES,
) -> Iterator[RawBlock]:
    """Yield the rows of each block, in order; what is wrong with any goes to ``problems``.

    progress : called with bytes done and bytes in all after each block.
    """
    source = _text_rows(head, plan, block_bytes) if head.separator else _parquet_rows(head, plan)
    total = head.path.stat().st_size
    line = head.line
    with ThreadPoolExecutor(1) as ahead:
        waiting = ahead.submit(next, source, None)
        while (read := waiting.result()) is not None:
            waiting = ahead.submit(next, source, None)
            rows, done = read
            count = len(rows.values[0])
            if count:
                yield _told(rows, line + np.arange(count), plan, problems)
            line += count
            if progress is not None:
                progress(done, total)


def _text_rows(head: Head, plan: Plan, block_bytes: int) -> Iterator[tuple[Rows, int]]:
    """Rows of a text; a run of empty lines waits for what follows, so that the last ones may be none."""
    skip, empty = head.offset, b""
    with _Text(head.path) as text:
        while data := text.read(block_bytes):
            if skip:
                skip, data = max(skip - len(data), 0), data[skip:]
            whole = empty + data
            written = len(whole.rstrip(b"\r\n"))
            end = whole.find(b"\n", written) + 1 or len(whole)
            body, empty = (whole[:end], whole[end:]) if written else (b"", whole)
            yield read_rows(body, plan), text.raw.tell()
        if empty.count(b"\n") > _TRAILING:
            yield read_rows(empty, plan), text.raw.tell()


def _told(rows: Rows, lines: Ints, plan: Plan, problems: Problems) -> RawBlock:
    """The block in SI, with its bad rows told."""
    values = rows.values
    bad = np.flatnonzero(~np.isfinite(sum(values[1:], start=values[0])))
    if len(bad):
        values = [np.where(np.isfinite(v), v, np.nan) for v in values]

    def words(k: int) -> str:
        row = int(bad[k])
        if row in rows.faults:
            return rows.faults[row]
        slot = next(s for s, v in enumerate(values) if np.isnan(v[row]))
        what = "time that can be read" if plan.columns[slot].stamp else "number"
        return f"no {what} in column '{plan.columns[slot].header}'"

    problems.add_all(lines[bad], words)
    found = zip(plan.columns, values, strict=True)
    return RawBlock({column.quantity: column.to_si(v) for column, v in found}, lines)


def _is_parquet(path: Path) -> bool:
    if not path.is_file():
        return False
    try:
        with path.open("rb") as file:
            return file.read(4) == b"PAR1"
    except OSError:
        return False  # told where the text is opened


def _parquet(path: Path) -> Any:
    """Open a Parquet file. Raises FileFormatError without pyarrow, or where it is none."""
    if not has_arrow():
        raise FileFormatError(
            "is a Parquet file, which this installation cannot read",
            where=str(path),
            next_step="pip install 'tanksolve[logs]', or write the log as CSV",
        )
    import pyarrow as pa
    from pyarrow import parquet

    try:
        return parquet.ParquetFile(path)
    except (pa.ArrowInvalid, OSError) as error:
        raise FileFormatError(f"cannot be read: {error}", where=str(path)) from None


def _parquet_head(path: Path) -> Head:
    file = _parquet(path)
    names = list(file.schema_arrow.names)
    batch = next(file.iter_batches(batch_size=_SAMPLE), None)
    if batch is None or batch.num_rows == 0:
        raise FileFormatError("has columns and no rows", where=str(path))
    columns = [["" if v is None else str(v) for v in c.to_pylist()] for c in batch.columns]
    return Head(path, names, [list(row) for row in zip(*columns, strict=True)], "", 0, 1)


def _parquet_rows(head: Head, plan: Plan) -> Iterator[tuple[Rows, int]]:
    """Rows of a Parquet file; a row's 'line' is its number, from 1."""
    import pyarrow as pa

    from tanksolve.questions.replay.log_rows import numbers_of

    file = _parquet(head.path)
    wanted = [head.fields[c.position] for c in plan.columns]
    total, done = max(file.metadata.num_rows, 1), 0
    for batch in file.iter_batches(batch_size=_PARQUET_ROWS, columns=wanted):
        done += batch.num_rows
        try:
            values = [numbers_of(pa.chunked_array([batch.column(name)])) for name in wanted]
        except (pa.ArrowInvalid, pa.ArrowNotImplementedError) as error:
            raise FileFormatError(
                f"a column holds no numbers: {error}",
                where=str(head.path),
                allowed="numbers, or dates and times",
            ) from None
        yield Rows(values, {}), head.path.stat().st_size * done // total
