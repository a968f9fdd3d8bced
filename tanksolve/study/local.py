"""Rows computed by processes on this machine: a thread for each feeds it and hands on what it answers."""

import os
import queue
import threading
from collections.abc import Iterator
from typing import Any

from tanksolve.study.process import WorkerProcess
from tanksolve.study.study import Study

__all__ = ["default_processes", "local_rows"]

_WAITING = 8  # rows for each process that may wait to be written: then its thread waits


def default_processes() -> int:
    """As many as this process may use processors."""
    if hasattr(os, "sched_getaffinity"):
        return len(os.sched_getaffinity(0))
    return os.cpu_count() or 1


def local_rows(
    study: Study, pending: Iterator[int], processes: int
) -> Iterator[tuple[int, dict[str, Any]]]:
    """Compute the rows numbered by ``pending`` and yield each with its number, as they are done.

    processes : how many. Every row is asked for once its process is free, so none waits in vain for one
    that is slow. Ends its processes however the iteration ends.
    """
    pool = _Pool(study, pending, processes)
    try:
        yield from pool.rows()
    finally:
        pool.close()


class _Pool:
    """Processes, their threads, and the queue between these and whoever writes the rows down."""

    def __init__(self, study: Study, pending: Iterator[int], processes: int) -> None:
        self.study, self.pending = study, pending
        threads = max(1, default_processes() // processes)
        self.workers = [WorkerProcess(study.job, threads) for _ in range(processes)]
        self.done: queue.Queue[tuple[int, dict[str, Any]] | BaseException | None]
        self.done = queue.Queue(_WAITING * processes)
        self.next_one = threading.Lock()
        self.compiled = threading.Event()  # by the first row: the others find it on disk
        self.closed = False
        self.threads = [
            threading.Thread(target=self._feed, args=(k,), daemon=True) for k in range(processes)
        ]

    def rows(self) -> Iterator[tuple[int, dict[str, Any]]]:
        """Start, and yield until every thread is through."""
        for thread in self.threads:
            thread.start()
        left = len(self.threads)
        while left:
            one = self.done.get()
            if one is None:
                left -= 1
            elif isinstance(one, BaseException):
                raise one
            else:
                yield one

    def close(self) -> None:
        """End all processes and threads."""
        self.closed = True
        self.compiled.set()
        for worker in self.workers:
            worker.close()
        while any(thread.is_alive() for thread in self.threads):
            try:
                self.done.get(timeout=0.05)
            except queue.Empty:
                continue

    def _feed(self, k: int) -> None:
        try:
            worker = self.workers[k]
            worker.start()
            if k:
                self.compiled.wait()
            while not self.closed:
                with self.next_one:
                    number = next(self.pending, None)
                if number is None:
                    break
                values, log = self.study.row(number)
                row = worker.row(values, None if log is None else str(log))
                self.compiled.set()
                if row is not None:
                    self.done.put((number, row))
            self.compiled.set()
            worker.close()
        except BaseException as error:
            self.done.put(error)
        else:
            self.done.put(None)
