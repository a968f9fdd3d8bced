"""A pytest plugin for campaigns: which functions of the program each test calls, and what it costs.

``REACH_INTO`` : a file that gets one JSON line a test: its name, outcome, processor time [s], functions called.
``REACH_LIMITS`` : a JSON file of processor times [s] that tests may take, by name; ``""`` stands for all others.
What a test calls while it is set up counts for its whole file, since fixtures are shared there.
"""

import json
import os
import signal
import sys
import threading
import time
from pathlib import Path
from types import CodeType, FrameType

import pytest

PROGRAM = str(Path(__file__).resolve().parents[1] / "tanksolve") + os.sep
_called: set[CodeType] = set()


class TooLong(BaseException):
    """A test took more processor time than it may; no ``except Exception`` of the program hides it."""


def outer(code: CodeType) -> str:
    """The outermost function that code stands in, as ``pools/settle.py:settle``."""
    return f"{code.co_filename[len(PROGRAM) :]}:{code.co_qualname.split('.<locals>')[0]}"


def _note(frame: FrameType, event: str, arg: object) -> None:
    _called.add(frame.f_code)


def _give_up(signum: int, frame: FrameType | None) -> None:
    raise TooLong


def _limits() -> dict[str, float]:
    told = os.environ.get("REACH_LIMITS")
    return json.loads(Path(told).read_text(encoding="utf-8")) if told else {}


class Reach:
    """Times tests, ends those that take too long, and notes what they call."""

    def __init__(self) -> None:
        self.limits = _limits()
        self.into = os.environ.get("REACH_INTO", "")
        self.begun = 0.0
        self.outcome = "passed"
        self.set_up: set[CodeType] = set()

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item, nextitem):  # type: ignore[no-untyped-def]
        _called.clear()
        self.outcome, self.set_up, self.begun = "passed", set(), time.process_time()
        limit = self.limits.get(item.nodeid, self.limits.get("", 0.0))
        if self.into:  # anew for each: a test may trace by itself
            threading.settrace(_note)
            sys.settrace(_note)
        signal.signal(signal.SIGPROF, _give_up)
        signal.setitimer(signal.ITIMER_PROF, limit)
        try:
            return (yield)
        finally:
            signal.setitimer(signal.ITIMER_PROF, 0.0)
            if self.into:
                self._write(item.nodeid)

    def pytest_runtest_logreport(self, report):  # type: ignore[no-untyped-def]
        if report.when == "setup":
            self.set_up = set(_called)
        if report.outcome != "passed":
            self.outcome = report.outcome

    def pytest_exception_interact(self, node, call, report):  # type: ignore[no-untyped-def]
        if call.excinfo.type is TooLong:
            sys.stderr.write(f"TOOLONG {node.nodeid}\n")

    def pytest_unconfigure(self):  # type: ignore[no-untyped-def]
        threading.settrace(None)
        sys.settrace(None)

    def _write(self, name: str) -> None:
        def own(codes: set[CodeType]) -> list[str]:
            return sorted({outer(c) for c in set(codes) if c.co_filename.startswith(PROGRAM)})

        line = {
            "test": name, "outcome": self.outcome, "seconds": round(time.process_time() - self.begun, 3),
            "calls": own(_called), "set_up": own(self.set_up),
        }  # fmt: skip
        with Path(self.into).open("a", encoding="utf-8") as file:
            file.write(json.dumps(line) + "\n")


def pytest_configure(config: pytest.Config) -> None:
    """Start, where a campaign asks for it."""
    config.pluginmanager.register(Reach(), "reach-of-tests")
