"""The rows of a study while it runs: one line each, appended, with a checksum.

A run that is killed leaves at most one line that is torn; it is dropped, and its row computed anew. One
process at a time writes: the file is locked while it is open, and the lock goes with the process.
"""

import json
import os
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import OutputError
from tanksolve.gate.files import ordinary

__all__ = ["RowsFile", "read_row"]

_SYNC_BYTES = 1 << 20  # so much may be lost when the power goes; a killed process loses nothing
_NOTHING = -1


class RowsFile:
    """The file, and where in it each row stands.

    Attributes
    ----------
    places : (N,) int64, offset of each row's line; -1 for a row that is not there.
    dropped : lines that were torn or not as they were written.
    """

    def __init__(self, path: Path, count: int) -> None:
        """Open or make the file for ``count`` rows, and find what is in it. Raises OutputError."""
        self.path = path
        self.places: NDArray[np.int64] = np.full(count, _NOTHING, np.int64)
        self.dropped = 0
        try:
            if path.exists():
                ordinary(path).close()
            self._file = open(path, "a+b", buffering=0)  # noqa: SIM115, PTH123 -- closed by close()
        except OSError as error:
            raise self._cannot(error) from None
        try:
            _lock(self._file.fileno(), path)
            self._find()
        except OSError as error:
            self._file.close()
            raise self._cannot(error) from None
        except OutputError:
            self._file.close()
            raise
        self._unsynced = 0

    def _find(self) -> None:
        """Note where each whole line begins; cut off what a killed run left torn at the end."""
        self._end = 0
        with open(self.path, "rb") as file:  # noqa: PTH123 -- our own, read in big pieces
            for line in file:
                read = _read(line)
                if not line.endswith(b"\n"):
                    self.dropped += 1
                    break
                if read is not None and 0 <= read[0] < len(self.places):
                    lost = read[1]["status"] == "lost"  # by chance: another run tries again
                    self.places[read[0]] = _NOTHING if lost else self._end
                else:
                    self.dropped += 1
                self._end += len(line)
        self._file.truncate(self._end)

    @property
    def done(self) -> int:
        """How many rows are there."""
        return int(np.count_nonzero(self.places != _NOTHING))

    def missing(self) -> Iterator[int]:
        """Numbers of the rows that are not there, as it stands when this begins."""
        return (int(k) for k in np.flatnonzero(self.places == _NOTHING))

    def append(self, number: int, row: dict[str, Any]) -> None:
        """Write a row down. Raises OutputError where the disk is full; what was written before stays."""
        if self.places[number] != _NOTHING:  # a lost worker's answer came after all
            return
        body = json.dumps([number, row], separators=(",", ":")).encode()
        line = b"%08x %s\n" % (zlib.crc32(body), body)
        try:
            written = self._file.write(line)
            if written != len(line):
                raise OSError(28, "No space left on device")
            self._unsynced += len(line)
            if self._unsynced >= _SYNC_BYTES:
                os.fsync(self._file.fileno())
                self._unsynced = 0
        except OSError as error:
            raise self._cannot(error) from None
        self.places[number] = self._end
        self._end += len(line)

    def rows(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """All rows by number, read one after the other. Raises OutputError."""
        try:
            with open(self.path, "rb") as file:  # noqa: PTH123
                for number in np.flatnonzero(self.places != _NOTHING):
                    yield self._at(file, int(number))
        except OSError as error:
            raise self._cannot(error) from None

    def row(self, number: int) -> dict[str, Any]:
        """One row. Raises KeyError where it is not there."""
        if self.places[number] == _NOTHING:
            raise KeyError(number)
        with open(self.path, "rb") as file:  # noqa: PTH123
            return self._at(file, number)[1]

    def _at(self, file: Any, number: int) -> tuple[int, dict[str, Any]]:
        file.seek(int(self.places[number]))
        read = _read(file.readline())
        if read is None or read[0] != number:
            raise OutputError(
                "the rows were changed while they were read",
                where=str(self.path),
                next_step="run the study again: what is missing is computed",
            )
        return read

    def close(self) -> None:
        """Write through to the disk, and let go of the file."""
        try:
            os.fsync(self._file.fileno())
        except OSError as error:
            raise self._cannot(error) from None
        finally:
            self._file.close()

    def _cannot(self, error: OSError) -> OutputError:
        return OutputError(
            f"cannot be written: {(error.strerror or str(error)).lower()}",
            where=str(self.path),
            next_step="make room, or mend it, and run the same command again: what is done is kept",
        )


def read_row(path: Path, number: int | None) -> tuple[int, dict[str, Any]]:
    """One row of a file that is left as it is; None for the first that is ``ok``. Raises OutputError."""
    try:
        with ordinary(path) as file:
            for line in file:
                read = _read(line)
                wanted = read is not None and (read[0] == number or number is None)
                if (
                    read is not None
                    and wanted
                    and (number is not None or read[1]["status"] == "ok")
                ):
                    return read
    except OSError as error:
        what = f"the rows cannot be read: {(error.strerror or str(error)).lower()}"
        raise OutputError(what, where=str(path)) from None
    raise OutputError(
        "there is no row that was computed" if number is None else f"row {number + 1} is not there",
        where=str(path),
        next_step="run the study to its end",
    )


def _read(line: bytes) -> tuple[int, dict[str, Any]] | None:
    """A line's row; None where it is not as it was written."""
    mark, _, body = line.rstrip(b"\n").partition(b" ")
    if mark != b"%08x" % zlib.crc32(body):
        return None
    number, row = json.loads(body)
    return number, row


def _lock(handle: int, path: Path) -> None:
    """Hold the file for this process alone. Raises OutputError where another has it."""
    try:
        import fcntl
    except ImportError:  # Windows: two runs in one folder write the same rows, each line whole
        return
    try:
        fcntl.flock(handle, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        raise OutputError(
            "another run of this study is writing here",
            where=str(path),
            next_step="wait for it, or choose another folder with --out",
        ) from None
