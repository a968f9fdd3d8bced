"""Runs a reader of foreign formats in a process of its own, with bounds on memory and time.

Libraries that read many formats trust what a file says of itself: a count of 10⁹, an archive that
inflates a thousandfold, a loop. In a process of its own such a reader may run out of memory or time, or
crash; it is then ended, and all that comes back are arrays of numbers and text.
"""

import atexit
import contextlib
import json
import os
import signal
import subprocess
import sys
import tempfile
import threading
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import numpy as np
from numpy.typing import NDArray

from tanksolve.gate.reader import NO_MEMORY

__all__ = ["Budget", "ConfinedError", "run_confined"]

_LOADED = 3.0  # a busy machine takes longer by the clock than by the processor
_START = "import sys; from tanksolve.gate.reader import serve; serve(sys.argv[1])"
_THREADS = ("OPENBLAS_NUM_THREADS", "OMP_NUM_THREADS", "MKL_NUM_THREADS")
_OUT_OF_TIME = (-9, -14, -24)  # killed, its alarm, its processor time


@dataclass(frozen=True)
class Budget:
    """What a confined task may use.

    Attributes
    ----------
    memory : bytes beyond what Python and its libraries take.
    seconds : of processor time.
    """

    memory: int
    seconds: float


class ConfinedError(Exception):
    """A confined task that gave nothing.

    Attributes
    ----------
    reason : ``time``, ``memory``, ``crash``, or ``refused`` with the reader's own words as the text.
    """

    def __init__(self, reason: str, text: str = "") -> None:
        self.reason = reason
        super().__init__(text)


def run_confined(task: str, words: tuple[str, ...], budget: Budget) -> dict[str, NDArray[Any]]:
    """Run ``module:function`` with the given words in a process of its own.

    The function takes the words as texts and returns a dictionary of arrays of numbers or text, which
    come back as they are. Raises ConfinedError.
    """
    with tempfile.TemporaryDirectory(prefix="tanksolve-") as folder:
        result = Path(folder) / "result.npz"
        request = {
            "task": task,
            "words": words,
            "result": str(result),
            "memory": budget.memory,
            "seconds": budget.seconds,
            "patience": _LOADED * budget.seconds + 10.0,
        }
        code = _ask(task.partition(":")[0], request)
        if code in _OUT_OF_TIME:
            raise ConfinedError("time")
        if code == NO_MEMORY:
            raise ConfinedError("memory")
        if code != 0 or not result.exists():
            raise ConfinedError("crash")
        with np.load(result, allow_pickle=False) as arrays:
            found = {name: arrays[name] for name in arrays.files}
    if "error" in found:
        raise ConfinedError("refused", str(found["error"]))
    return found


def _ask(module: str, request: dict[str, Any]) -> int:
    """The exit code of a request; the process that answers is kept for the next one."""
    line = json.dumps(request) + "\n"
    if not hasattr(os, "fork"):
        once = _start(module)
        try:
            return int(once.communicate(line, timeout=request["patience"])[0])
        except (subprocess.TimeoutExpired, ValueError):
            once.kill()
            return _OUT_OF_TIME[0]
    with _lock:
        server = _servers.get(module)
        if server is None or server.poll() is not None:
            server = _servers[module] = _start(module)
        assert server.stdin is not None
        assert server.stdout is not None
        try:
            server.stdin.write(line)
            server.stdin.flush()
            return int(server.stdout.readline())
        except (OSError, ValueError):  # it died
            del _servers[module]
            return 1
        except BaseException:  # the user stops the program: what runs there must not go on
            _end(_servers.pop(module))
            raise


_lock = threading.Lock()
_servers: dict[str, "subprocess.Popen[str]"] = {}


def _start(module: str) -> "subprocess.Popen[str]":
    places = os.pathsep.join(place or os.curdir for place in sys.path)
    return subprocess.Popen(
        [sys.executable, "-c", _START, module],
        env={**os.environ, **dict.fromkeys(_THREADS, "1"), "PYTHONPATH": places},
        stdin=subprocess.PIPE,
        stdout=subprocess.PIPE,
        stderr=subprocess.DEVNULL,
        text=True,
        start_new_session=True,  # Ctrl-C is ours to pass on
    )


def _end(server: "subprocess.Popen[str]") -> None:
    """End a server and whatever it has started."""
    with contextlib.suppress(OSError):
        os.killpg(server.pid, signal.SIGKILL)
    for stream in (server.stdin, server.stdout):
        if stream is not None:
            with contextlib.suppress(OSError):
                stream.close()
    server.wait()


@atexit.register
def _end_all() -> None:
    while _servers:
        _end(_servers.popitem()[1])
