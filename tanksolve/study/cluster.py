"""Rows computed by the workers of a Dask cluster: chunks that depend on nothing but themselves.

Each worker of the cluster keeps one process of its own for rows (:mod:`tanksolve.study.process`), which is
started anew where a row ends it. What a lost worker had under way its scheduler gives to another.
"""

import contextlib
import threading
from collections.abc import Iterator
from itertools import islice
from pathlib import Path
from typing import Any

from tanksolve.errors import OutputError
from tanksolve.study.process import WorkerProcess
from tanksolve.study.study import Study, code_version

__all__ = ["cluster_rows", "compute_chunk", "end_processes"]

_WAITING = 3  # chunks for each thread of the cluster: one computed, the others on their way
_CHUNK_SECONDS = 2.0  # of work in a chunk, so that the scheduler has little to do
_LARGEST = 256  # rows of a chunk
_PATIENCE = 30.0  # s

_own: dict[tuple[int, str], WorkerProcess] = {}  # of this worker's threads, by study
_KEPT = 2  # studies whose processes a thread keeps, should their ends not be heard of

Asked = list[tuple[int, list[Any], str | None]]


def compute_chunk(job: dict[str, Any], name: str, asked: Asked) -> list[tuple[int, dict[str, Any]]]:
    """Compute rows, on a worker of the cluster; the same rows whenever and wherever it is called.

    name : of the study, a hash.
    """
    thread = threading.get_ident()
    mine = [key for key in _own if key[0] == thread]
    if (thread, name) not in mine:
        for key in mine[: 1 - _KEPT] if len(mine) >= _KEPT else ():
            _own.pop(key).close()
        _own[thread, name] = WorkerProcess(job)
    worker = _own[thread, name]
    rows = [(number, worker.row(values, log)) for number, values, log in asked]
    return [(number, row) for number, row in rows if row is not None]


def end_processes(name: str) -> None:
    """End the processes of a study, on a worker of the cluster."""
    for key in [key for key in _own if key[1] == name]:
        _own.pop(key).close()


def cluster_rows(
    study: Study, pending: Iterator[int], address: str
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Compute the rows numbered by ``pending`` on a cluster and yield each with its number.

    address : of the scheduler, as ``tcp://node:8786``, or its ``--scheduler-file``. No more than three chunks
    a thread are ever on their way, however long the study.
    Raises OutputError where there is no such cluster, its workers run another version, or it goes away.
    """
    try:
        import distributed
    except ImportError:
        raise OutputError(
            "needs Dask", where="--cluster", next_step="pip install 'tanksolve[cluster]'"
        ) from None
    where = f"--cluster {address}"
    file = {"scheduler_file": address} if address.endswith(".json") else {"address": address}
    if "scheduler_file" in file and not Path(address).is_file():  # Dask would wait for it for ever
        raise _lost(where, "there is no such scheduler file")
    try:
        client = distributed.Client(**file, timeout=f"{_PATIENCE:.0f}s", set_as_default=False)
    except (OSError, ValueError, TimeoutError) as error:
        raise _lost(where, f"there is no scheduler: {error}") from None
    try:
        yield from _Cluster(client, study, pending, where).rows()
    except (distributed.comm.CommClosedError, distributed.client.FutureCancelledError) as error:
        raise _lost(where, f"the scheduler went away: {error}") from None
    finally:
        with contextlib.suppress(Exception):  # it may be gone
            client.run(end_processes, study.identity)
        with contextlib.suppress(Exception):
            client.close(timeout=5)


def _lost(where: str, what: str) -> OutputError:
    return OutputError(
        " ".join(what.split())[:200],
        where=where,
        allowed="the address that 'dask scheduler' prints, with workers beside it",
        next_step="run the same command again: what is done is kept",
    )


class _Cluster:
    """One study on one cluster: chunks sent out, rows taken in, never too many on their way."""

    def __init__(self, client: Any, study: Study, pending: Iterator[int], where: str) -> None:
        self.client, self.study, self.pending, self.where = client, study, pending, where
        self.version = code_version()
        self.rows_done, self.seconds = 0, 0.0

    def rows(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Yield until nothing is pending and nothing on its way."""
        from distributed import as_completed

        threads = self._threads()
        job = self.client.scatter(self.study.job, broadcast=True, hash=True)
        waiting = as_completed(loop=self.client.loop)
        out: dict[Any, Asked] = {}
        while True:
            while len(out) < _WAITING * threads and (asked := self._next()):
                future = self.client.submit(
                    compute_chunk, job, self.study.identity, asked, pure=False, retries=2
                )
                out[future.key] = asked
                waiting.add(future)
            if not out:
                return
            future = next(waiting)
            asked = out.pop(future.key)
            yield from self._taken(future, asked)
            threads = (
                max(1, sum(self.client.nthreads().values()))
                if self.rows_done % 50 == 0
                else threads
            )

    def _threads(self) -> int:
        """Of all workers; waits for the first of them."""
        try:
            self.client.wait_for_workers(1, timeout=_PATIENCE)
        except (OSError, TimeoutError):
            raise _lost(self.where, "the scheduler has no workers") from None
        return max(1, int(sum(self.client.nthreads().values())))

    def _next(self) -> Asked:
        mean = self.seconds / self.rows_done if self.rows_done else _CHUNK_SECONDS
        size = int(min(_LARGEST, max(1.0, _CHUNK_SECONDS / max(mean, 1e-4))))
        found: Asked = []
        for number in islice(self.pending, size):
            values, log = self.study.row(number)
            found.append((number, values, None if log is None else str(log)))
        return found

    def _taken(self, future: Any, asked: Asked) -> Iterator[tuple[int, dict[str, Any]]]:
        if future.status != "finished":
            error = future.exception()
            if type(error).__name__ != "KilledWorker":
                raise _lost(self.where, f"{type(error).__name__}: {error}")
            for number, _, _ in asked:  # these rows ended several workers of the cluster
                yield number, _lost_row(self.version)
            return
        for number, row in future.result():
            if row["version"] != self.version:
                raise OutputError(
                    f"a worker runs tanksolve {row['version']}, this is {self.version}",
                    where=self.where,
                    next_step="install the same version on all of them",
                )
            self.rows_done += 1
            self.seconds += row["seconds"]
            yield number, row
        future.release()


def _lost_row(version: str) -> dict[str, Any]:
    reason = "its worker ended several times"
    empty: dict[str, Any] = {"values": {}, "inputs": "", "version": version, "seconds": 0.0}
    return {"status": "lost", "reason": reason, **empty}
