"""A worker process as seen from outside: it answers one row after another, and is started anew when it dies."""

import contextlib
import json
import os
import subprocess
import sys
import threading
from typing import Any

from tanksolve.study.study import code_version

__all__ = ["WorkerProcess"]

_START = "from tanksolve.study.worker import serve; serve()"
_THREADS = ("NUMBA_NUM_THREADS", "OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
_LIVES = 3  # a row that ends its process this often is given up
_LOADED = 10.0  # the clock may run so much longer than processor time, on a busy machine
_FIRST = 300.0  # s more by the clock: it may have to compile


class WorkerProcess:
    """A fresh interpreter that computes rows of one job.

    Not a fork, which would copy threads' locks, and not of ``multiprocessing``, whose children the
    daemonic workers of a cluster may not have: lines of JSON through two pipes.
    """

    def __init__(self, job: dict[str, Any], threads: int = 1) -> None:
        """``threads``: those that its compiled code may use."""
        self._job = job
        self._threads = threads
        self._process: subprocess.Popen[str] | None = None
        self._closed = False

    def start(self) -> None:
        """Start the process, if it is not running; it imports what it needs meanwhile."""
        if self._process is not None or self._closed:
            return
        places = os.pathsep.join(place or os.curdir for place in sys.path)
        threads = dict.fromkeys(_THREADS, str(self._threads))
        self._process = subprocess.Popen(
            [sys.executable, "-c", _START],
            env={**os.environ, **threads, "OMP_WAIT_POLICY": "PASSIVE", "PYTHONPATH": places},
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.DEVNULL,
            text=True,
            encoding="utf-8",
            start_new_session=True,  # Ctrl-C is ours to pass on
        )
        self._send(self._job)

    def row(self, values: list[Any], log: str | None) -> dict[str, Any] | None:
        """Compute a row, in a new process where the last one died; None once it is closed."""
        limit = float(self._job["settings"]["time_limit_s"])
        code: int | None = None
        for _ in range(_LIVES):
            self.start()
            late = threading.Event()
            timer = threading.Timer(_LOADED * limit + _FIRST, self._too_late, (late,))
            timer.daemon = True
            timer.start()
            row = self._ask([values, log])
            timer.cancel()
            if self._closed:
                return None
            if row is not None:
                if row["status"] == "out of time":  # it has ended itself
                    self._end()
                return row
            code = self._end()
            if late.is_set():
                from tanksolve.study.worker import out_of_time

                return out_of_time(limit, code_version())
        return {
            "status": "lost",
            "reason": f"the process that computed it ended {_LIVES} times ({code})",
            "values": {},
            "inputs": "",
            "version": code_version(),
            "seconds": 0.0,
        }

    def close(self) -> None:
        """End it; a row under way is lost."""
        self._closed = True
        self._end()

    @property
    def pid(self) -> int | None:
        """Of the process that is running."""
        return None if self._process is None else self._process.pid

    def _too_late(self, late: threading.Event) -> None:
        late.set()
        process = self._process
        if process is not None:
            process.kill()

    def _send(self, request: object) -> None:
        process = self._process
        if process is not None and process.stdin is not None:
            with contextlib.suppress(OSError, ValueError):  # it died: reading tells
                process.stdin.write(json.dumps(request) + "\n")
                process.stdin.flush()

    def _ask(self, request: object) -> dict[str, Any] | None:
        self._send(request)
        process = self._process
        if process is None or process.stdout is None:
            return None
        try:
            line = process.stdout.readline()
            row: dict[str, Any] = json.loads(line) if line.endswith("\n") else {}
        except (OSError, ValueError):
            return None
        return row or None

    def _end(self) -> int | None:
        process, self._process = self._process, None
        if process is None:
            return None
        process.kill()
        code = process.wait()
        for stream in (process.stdin, process.stdout):
            if stream is not None:
                with contextlib.suppress(OSError, ValueError):
                    stream.close()
        return code
