"""A recorded log as a stream of blocks: time, the attitude that the liquid feels, and the fill.

The file is read once, a few megabytes at a time, one block ahead of the one being worked on, so
that memory does not grow with its length. Bad rows, gaps and time going backwards are reported by
line and left out; nothing is filled in.
"""

from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from dataclasses import dataclass, field
from pathlib import Path
from typing import BinaryIO, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.kernel.number_rows import GOOD, NUMBER, SHORT, STAMP, read_rows
from tanksolve.questions.replay.log_columns import Column

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "BLOCK_BYTES",
    "Problem",
    "Problems",
    "RawBlock",
    "open_log",
    "raw_blocks",
    "read_header",
]

BLOCK_BYTES = 4 << 20
_KEPT = 200


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
        self.count += 1
        if len(self.first) < _KEPT:
            self.first.append(Problem(line, words))


class RawBlock(NamedTuple):
    """Good rows of a block: numbers by quantity in SI, and line numbers (N,)."""

    values: dict[str, Array]
    lines: Ints


class _Read(NamedTuple):
    """A block as the kernel reads it; line numbers from the block's first."""

    values: Array
    status: NDArray[np.int8]
    lines: Ints
    line_count: int
    byte_count: int


class Header(NamedTuple):
    """The header line's fields, the first row's, the separator, and where the rows start."""

    fields: list[str]
    first_row: list[str]
    separator: str
    offset: int
    line: int


def open_log(path: Path) -> BinaryIO:
    """Open a log for reading. Raises FileFormatError where it cannot be."""
    try:
        return path.open("rb")
    except OSError as error:
        raise FileFormatError(
            f"cannot be read: {error.strerror}", where=str(path), next_step="check the path"
        ) from None


def read_header(path: Path) -> Header:
    """Read the header, passing over blank lines and lines that start with '#'.

    Raises FileFormatError for a file without a header and one row.
    """
    with open_log(path) as file:
        line, offset = 0, 0
        for raw in file:
            line += 1
            offset += len(raw)
            text = raw.decode("utf-8-sig", errors="replace").strip("\r\n")
            if text.strip() and not text.startswith("#"):
                break
        else:
            raise FileFormatError("has no header line", where=str(path), allowed="a CSV file")
        first = file.readline().decode("utf-8", errors="replace").strip("\r\n")
    separator = max(",;\t", key=text.count)
    if separator not in text or not first.strip():
        raise FileFormatError(
            "has no columns" if separator not in text else "has a header and no rows",
            where=f"{path}, line {line}",
            allowed="a CSV file with a header line, separated by commas, semicolons or tabs",
        )
    split = [[f.strip().strip('"') for f in row.split(separator)] for row in (text, first)]
    return Header(split[0], split[1], separator, offset, line + 1)


def raw_blocks(
    path: Path,
    header: Header,
    columns: dict[str, Column],
    problems: Problems,
    progress: Callable[[int, int], None] | None = None,
    block_bytes: int = BLOCK_BYTES,
) -> Iterator[RawBlock]:
    """Yield the good rows of each block, in order; bad ones go to ``problems``.

    progress : called with bytes done and bytes in all after each block.
    """
    slots, kinds, order = _slots(header, columns)
    total = path.stat().st_size
    with open_log(path) as file, ThreadPoolExecutor(1) as ahead:
        file.seek(header.offset)
        line, done = header.line, header.offset

        def next_block() -> _Read | None:
            data = _whole_lines(file, block_bytes)
            if len(data) == 0:
                return None
            return _Read(*read_rows(data, ord(header.separator), slots, kinds, 0), len(data))

        waiting = ahead.submit(next_block)
        while (read := waiting.result()) is not None:
            waiting = ahead.submit(next_block)
            yield _good_rows(read, line, order, problems)
            line, done = line + read.line_count, done + read.byte_count
            if progress is not None:
                progress(done, total)


def _slots(header: Header, columns: dict[str, Column]) -> tuple[Ints, Ints, list[Column]]:
    order = list(columns.values())
    slots = np.full(len(header.fields), -1, np.int64)
    for slot, column in enumerate(order):
        slots[column.position] = slot
    kinds = np.array([STAMP if c.is_stamp else NUMBER for c in order], np.int64)
    return slots, kinds, order


def _whole_lines(file: BinaryIO, size: int) -> NDArray[np.uint8]:
    """Read about ``size`` bytes, up to the end of a line."""
    block = file.read(size)
    if block and not block.endswith(b"\n"):
        block += file.readline()
    return np.frombuffer(block, np.uint8)


def _good_rows(read: _Read, line: int, order: list[Column], problems: Problems) -> RawBlock:
    values, lines = read.values, read.lines + line
    good = read.status == GOOD
    if not good.all():
        for k in np.flatnonzero(~good):
            if read.status[k] == SHORT:
                words = "too few columns"
            else:
                bad = order[int(np.argmax(np.isnan(values[k])))]
                words = f"no number in column '{bad.header}'"
            problems.add(int(lines[k]), words)
        values, lines = values[good], lines[good]
    return RawBlock({c.quantity: c.to_si(values[:, k]) for k, c in enumerate(order)}, lines)
