"""A sign of life while the user waits, and what the wait is for."""

import importlib
import sys
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager
from typing import Any

import typer

__all__ = ["busy"]

_COMPILING = " (compiling the solver for this machine; that is kept for the next runs)"


@contextmanager
def busy(what: str) -> Iterator[None]:
    """Say on stderr what is being done once it has taken a second, then how it goes on."""
    from tanksolve.progress import listening

    done = threading.Event()
    compiles = _Compiles()
    steps = ["still at it"]  # the last is what is being done now

    def speak() -> None:
        started = time.monotonic()
        if done.wait(1.0):
            return
        told = compiles.seen
        typer.echo(f"{what}{_COMPILING if told else ''} ...", err=True)
        shown, last = "", 0.0
        while not done.wait(2.0):
            step, spent = steps[-1], time.monotonic() - started
            if step.split(", ")[0] == shown and spent - last < 10.0:  # after a comma: how far
                continue
            why = _COMPILING if compiles.seen and not told else ""
            told, shown, last = told or compiles.seen, step.split(", ")[0], spent
            typer.echo(f"  {spent:4.0f} s  {step}{why}", err=True)

    speaker = threading.Thread(target=speak, daemon=True)
    speaker.start()
    try:
        with compiles, listening(steps.append):
            yield
    finally:
        done.set()
        speaker.join()
        sys.stderr.flush()


class _Compiles:
    """Whether numba has begun to compile anything; code that it finds on disk does not count."""

    def __init__(self) -> None:
        self.seen = False
        self._events: Any = importlib.import_module("numba.core.event")
        self._events.Listener.register(_Compiles)

    def notify(self, _event: object) -> None:
        if not self.seen:
            self.seen = True
            importlib.import_module("tanksolve.kernel.compiled").skip_blas_probe()

    def __enter__(self) -> None:
        self._events.register("numba:compile", self)

    def __exit__(self, *_: object) -> None:
        self._events.unregister("numba:compile", self)
