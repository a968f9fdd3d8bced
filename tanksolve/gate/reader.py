"""The process that runs foreign readers: it takes one request after another and forks for each.

Started by :mod:`tanksolve.gate.confined` and never used from the program itself. What the readers import is
imported once, here; each request then runs in a copy of this process, under bounds of its own, so that one
file cannot touch the next.
"""

import contextlib
import importlib
import json
import os
import signal
import sys
from typing import Any

import numpy as np

__all__ = ["NO_MEMORY", "serve"]

NO_MEMORY = 77  # exit code of a reader that ran out of it


def serve(preload: str) -> None:
    """Import ``preload``, then answer each line of JSON on stdin with a line: the exit code, or -signal."""
    with contextlib.suppress(ImportError):
        importlib.import_module(preload)
    for line in sys.stdin:
        request = json.loads(line)
        code = _in_a_copy(request) if hasattr(os, "fork") else _run(request)
        sys.stdout.write(f"{code}\n")
        sys.stdout.flush()


def _in_a_copy(request: dict[str, Any]) -> int:
    child = os.fork()
    if child == 0:
        code = 1
        try:
            _confine(request["memory"], request["seconds"], request["patience"])
            code = _run(request)
        finally:
            os._exit(code)
    _, status = os.waitpid(child, 0)
    return os.waitstatus_to_exitcode(status)


def _confine(memory: int, seconds: float, patience: float) -> None:
    """Set this process's bounds: bytes beyond what it has now, processor time, time by the clock."""
    import resource

    silent = os.open(os.devnull, os.O_RDWR)
    for stream in (0, 1, 2):
        os.dup2(silent, stream)
    signal.setitimer(signal.ITIMER_REAL, patience)
    whole = max(1, round(seconds))
    resource.setrlimit(resource.RLIMIT_CPU, (whole, whole + 1))
    resource.setrlimit(resource.RLIMIT_CORE, (0, 0))
    try:
        with open("/proc/self/statm", "rb") as file:  # noqa: PTH123 -- not a file from outside
            now = int(file.read().split()[0]) * resource.getpagesize()
        resource.setrlimit(resource.RLIMIT_AS, (now + memory, now + memory))
    except (OSError, ValueError):  # systems that do not tell, or do not bound it: time bounds it
        pass


def _run(request: dict[str, Any]) -> int:
    module, _, name = request["task"].partition(":")
    try:
        arrays = getattr(importlib.import_module(module), name)(*request["words"])
    except MemoryError:
        return NO_MEMORY
    except Exception as error:  # a damaged file makes the readers fail in any way whatever
        if "MemoryError" in type(error).__name__:  # numpy's own kind
            return NO_MEMORY
        arrays = {"error": np.array(f"{type(error).__name__}: {str(error)[:2000]}")}
    np.savez(request["result"], **arrays)
    return 0
