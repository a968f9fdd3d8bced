"""Running a study: what is missing is computed, here or on a cluster, and the results are written."""

import json
import time
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from tanksolve.errors import FileFormatError, OutputError
from tanksolve.files import write_text
from tanksolve.gate.files import read_bytes
from tanksolve.progress import tell
from tanksolve.study.local import default_processes, local_rows
from tanksolve.study.results import RESULTS, Found, gather, write_results
from tanksolve.study.rows_file import RowsFile
from tanksolve.study.study import Study

__all__ = ["Outcome", "read_run", "run_study"]

_ABOUT, _ROWS = "study.json", "rows.log"
_FORMAT = 1


@dataclass(frozen=True, eq=False)
class Outcome:
    """A study that is done.

    Attributes
    ----------
    computed : rows computed by this run; the others were there.
    dropped : lines of an earlier run that were torn and computed anew.
    files : what was written.
    best : the first rows of the tables, winners first: (number, row as in the rows' file).
    """

    study: Study
    folder: Path
    found: Found
    computed: int
    dropped: int
    files: tuple[Path, ...]
    best: tuple[tuple[int, dict[str, Any]], ...]


def run_study(
    study: Study,
    folder: Path,
    *,
    processes: int | None = None,
    cluster: str | None = None,
    force: bool = False,
) -> Outcome:
    """Compute the rows that are not there yet, and write the results into ``folder``.

    processes : on this machine, by default as many as it has processors.
    cluster : address of a Dask scheduler, or its file; then its workers compute.
    force : throw away what another study left in the folder.

    Raises OutputError where the folder holds something else, is full, or the cluster cannot be reached;
    what is done is kept, and the same call goes on from there.
    """
    _claim(study, folder, force)
    rows = RowsFile(folder / _ROWS, study.count)
    try:
        before = rows.done
        if before < study.count:
            _compute(study, rows, processes, cluster)
        tell("writing the results")
        found = gather(study, rows)
        files = write_results(study, rows, found, folder)
        best = tuple((k, rows.row(k)) for k in found.winners(study))
        computed = rows.done - before
        return Outcome(study, folder, found, computed, rows.dropped, tuple(files), best)
    finally:
        rows.close()


def _compute(study: Study, rows: RowsFile, processes: int | None, cluster: str | None) -> None:
    progress = _Progress(rows.done, study.count)
    if cluster is not None:
        from tanksolve.study.cluster import cluster_rows

        done = cluster_rows(study, rows.missing(), cluster)
    else:
        count = min(processes or default_processes(), study.count - rows.done)
        done = local_rows(study, rows.missing(), count)
    for number, row in _closing(done):
        rows.append(number, row)
        progress.tell(row["status"] == "ok")


def _closing(rows: Iterator[Any]) -> Iterator[Any]:
    """The same rows; whatever happens to who reads them, their processes are ended at once."""
    try:
        yield from rows
    finally:
        rows.close()  # type: ignore[attr-defined]


class _Progress:
    """How far a study is, and how long it will take at the pace of this run."""

    def __init__(self, before: int, count: int) -> None:
        self.before, self.done, self.count, self.bad = before, before, count, 0
        self.begun = time.monotonic()
        self.told = 0.0

    def tell(self, ok: bool) -> None:
        """A row more."""
        self.done += 1
        self.bad += not ok
        now = time.monotonic()
        if now - self.told < 0.5:
            return
        self.told = now
        pace = (now - self.begun) / (self.done - self.before)
        left = _time_words(pace * (self.count - self.done))
        bad = f", {self.bad} without an answer" if self.bad else ""
        tell(f"computing, {self.done} of {self.count} rows{bad}, {left} left")


def _time_words(seconds: float) -> str:
    if seconds < 90.0:
        return f"about {max(1, round(seconds))} s"
    if seconds < 5400.0:
        return f"about {seconds / 60.0:.0f} min"
    return f"about {seconds / 3600.0:.1f} h"


def _claim(study: Study, folder: Path, force: bool) -> None:
    """Make the folder, or see that it holds this very study. Raises OutputError."""
    about = folder / _ABOUT
    try:
        folder.mkdir(parents=True, exist_ok=True)
        here = sorted(path.name for path in folder.iterdir())
    except OSError as error:
        raise OutputError(
            f"cannot be made: {(error.strerror or str(error)).lower()}",
            where=str(folder),
            next_step="choose another folder with --out",
        ) from None
    if here and _ABOUT not in here:
        raise OutputError(
            "the folder holds other files", where=str(folder), next_step="choose another with --out"
        )
    if here and _about(about).get("identity") != study.identity:
        if not force:
            raise OutputError(
                "the folder holds results of other inputs: the study, the tank file, a mesh, a log or "
                "the program has changed since",
                where=str(folder),
                next_step="choose another folder with --out, or throw these away with --force",
            )
        for name in (_ROWS, _ABOUT, *RESULTS):
            (folder / name).unlink(missing_ok=True)
        here = []
    if not here:
        told = {
            "format": "tanksolve-study-run",
            "version": _FORMAT,
            "identity": study.identity,
            "rows": study.count,
            "study": str(study.source.resolve()),
        }
        write_text(about, json.dumps(told, indent=2) + "\n")


def _about(path: Path) -> dict[str, Any]:
    """What a folder says of its study; nothing where it cannot be read."""
    try:
        told = json.loads(read_bytes(path, 100_000, "file of a study", FileFormatError))
    except (FileFormatError, ValueError, RecursionError):
        return {}
    return told if isinstance(told, dict) else {}


def read_run(result: Path) -> tuple[dict[str, Any], Path]:
    """What a result says of its study, and the folder: ``result`` is the folder or a file in it.

    Raises OutputError where it is none.
    """
    folder = result if result.is_dir() else result.parent
    about = _about(folder / _ABOUT)
    whole = isinstance(about.get("study"), str) and isinstance(about.get("rows"), int)
    if about.get("format") != "tanksolve-study-run" or not whole:
        raise OutputError(
            "is no result of a study",
            where=str(result),
            allowed="the folder that 'tanksolve study' wrote, or a file in it",
        )
    return about, folder
