"""A process that computes rows of a study: one request a line comes in, one row a line goes out.

Started by :mod:`tanksolve.study.process` and never used from the program itself. It reads from a pipe, so it
ends by itself when whoever started it is gone, however that ended.
"""

import copy
import hashlib
import json
import os
import sys
import threading
import time
from functools import lru_cache
from pathlib import Path
from typing import Any, TextIO

from tanksolve.errors import TanksolveError
from tanksolve.kernel.compiled import skip_blas_probe
from tanksolve.project.lines import line_numbers
from tanksolve.project.load import of_tables, parse_text
from tanksolve.questions.replay.replay import LogOptions
from tanksolve.study.measured import measured
from tanksolve.study.measures import Settings
from tanksolve.study.study import changed, code_version, file_hash, file_hashes

__all__ = ["Evaluator", "out_of_time", "serve"]

_TICK = 0.2  # s


class Evaluator:
    """Computes rows of one study from its job; see ``Study.job``."""

    def __init__(self, job: dict[str, Any]) -> None:
        self.tank = Path(job["tank"])
        self.tables = parse_text(job["text"], str(self.tank))
        self.numbers = line_numbers(job["text"])
        self.keys = job["keys"]
        self.compute = tuple(job["compute"])
        given = job["settings"]
        self.settings = Settings(**{**given, "require": tuple(given["require"])})
        reversed_ = frozenset(job["log_options"].get("reversed_signs", ()))
        self.options = LogOptions(**{**job["log_options"], "reversed_signs": reversed_})
        self.job = {key: job[key] for key in ("compute", "settings", "log_options")}
        self.version = code_version()

    def row(self, values: list[Any], log: str | None) -> dict[str, Any]:
        """One row: ``status`` (ok, refused, fault), ``reason``, ``values`` by column, hash and version."""
        tables = copy.deepcopy(self.tables)
        row: dict[str, Any] = {"status": "ok", "reason": "", "values": {}}
        try:
            changed(tables, self.keys, values)
            project = of_tables(tables, self.numbers, "", self.tank)
            path = None if log is None else Path(log)
            row["values"] = measured(project, self.compute, self.settings, path, self.options)
        except TanksolveError as error:
            told = error.message.replace(
                f"{self.tank.parent}{os.sep}", ""
            )  # wherever it is computed
            row |= {"status": "refused", "reason": " ".join(told.split())}
        except MemoryError:
            row |= {"status": "fault", "reason": "out of memory"}
        except Exception as error:  # a fault of the program in one variant does not end the study
            row |= {"status": "fault", "reason": f"{type(error).__name__}: {error}"[:300]}
        return {**row, "inputs": self.inputs_hash(tables, log), "version": self.version}

    def inputs_hash(self, tables: dict[str, Any], log: str | None) -> str:
        """SHA-256 of all that a row depends on: tables as changed, mesh files, log, settings, program."""
        files = file_hashes(tables, self.tank)
        whole = [self.version, tables, files, self.job, None if log is None else _log_hash(log)]
        return hashlib.sha256(json.dumps(whole, sort_keys=True, default=str).encode()).hexdigest()


def _log_hash(log: str) -> str:
    found = Path(log).stat()
    return _hash_of(log, found.st_mtime_ns, found.st_size)


@lru_cache(maxsize=16)
def _hash_of(log: str, _changed: int, _size: int) -> str:
    return file_hash(Path(log))


def serve() -> None:
    """Answer requests on standard input until it ends; a row that takes too long ends the process."""
    out = os.fdopen(os.dup(1), "w", encoding="utf-8")
    silent = os.open(os.devnull, os.O_WRONLY)
    os.dup2(silent, 1)  # what a library prints is no answer
    skip_blas_probe()
    evaluator = Evaluator(json.loads(sys.stdin.readline()))
    watch = _Watch(out, evaluator.settings.time_limit_s, evaluator.version)
    for line in sys.stdin:
        values, log = json.loads(line)
        watch.begin()
        row = evaluator.row(values, log)
        watch.answer(row)


class _Watch:
    """Answers, and ends the process where a row takes more processor time than it may.

    A row in the middle of compiled code cannot be stopped otherwise. Processor time, not the clock: how
    busy the machine is must not decide what a study finds.
    """

    def __init__(self, out: TextIO, limit: float, version: str) -> None:
        self.out, self.limit, self.version = out, limit, version
        self.lock = threading.Lock()
        self.begun: float | None = None
        threading.Thread(target=self._watch, daemon=True).start()

    def begin(self) -> None:
        """A row begins."""
        with self.lock:
            self.begun = time.process_time()

    def answer(self, row: dict[str, Any]) -> None:
        """A row is done."""
        with self.lock:
            spent = time.process_time() - (self.begun or 0.0)
            self.begun = None
            self._say({**row, "seconds": round(spent, 3)})

    def _say(self, row: dict[str, Any]) -> None:
        self.out.write(json.dumps(row) + "\n")
        self.out.flush()

    def _watch(self) -> None:
        while True:
            time.sleep(_TICK)
            with self.lock:
                if self.begun is not None and time.process_time() - self.begun > self.limit:
                    self._say(out_of_time(self.limit, self.version))
                    os._exit(0)


def out_of_time(limit: float, version: str) -> dict[str, Any]:
    """The row of a variant that took longer than it may."""
    reason = f"took more than {limit:g} s of processor time; settings.time_limit allows more"
    return {
        "status": "out of time",
        "reason": reason,
        "values": {},
        "inputs": "",
        "version": version,
        "seconds": limit,
    }
