"""The second process of a first run: it compiles what the first would, and only where there is need."""

import io
import pickle
import subprocess
import sys
import threading
from pathlib import Path
from types import SimpleNamespace

import pytest

from tanksolve.kernel import code_store
from tanksolve.kernel.compiled import is_missing
from tanksolve.kernel.pools import ahead
from tanksolve.kernel.pools.held_heights import spread_from
from tanksolve.project.load import load

DEMO = Path(__file__).resolve().parents[3] / "meshes" / "hillside_sprayer.toml"
# the argument types with which a search for limits, and the other process, compiled each loop
COMPARE = """
import os, pickle, sys, threading
from functools import partial
from tanksolve.kernel.pools import ahead, kept, room_bounds, worst_state, worst_state_bounds
from tanksolve.project.case import read_tank_case
from tanksolve.project.envelope_case import envelope_of, kept_of
from tanksolve.project.tank_words import TankWords
from tanksolve.questions.envelope.envelope import envelope

loops = [
    *(worst_state_bounds._rows, room_bounds._rows),
    *(worst_state._wet_rows, worst_state._dry_rows, kept._kept_rows),
]
words = TankWords(sys.argv[1])
case = read_tank_case(words)
reads, writes = os.pipe()
sys.stdin, pipe = os.fdopen(reads), os.fdopen(writes, "wb")
given = (case.tank.graph, case.tank.link_stations)
threading.Thread(target=lambda: (pickle.dump(given, pipe), pipe.flush())).start()
ahead.compile_all()
ahead_of = [list(loop.signatures) for loop in loops]
assert all(len(one) == 1 for one in ahead_of), ahead_of
found = partial(envelope, case.tank, fill=case.fill, pickups=case.pickups, every_deg=45.0)
kept_of(case, words, envelope_of(found, case, None)[0])
assert [list(loop.signatures) for loop in loops] == ahead_of
print("compared")
"""


# the other process, of which nothing is asked but to last
SLOW = """
import time
from tanksolve.kernel.pools import ahead
ahead.least_kept = lambda *_: time.sleep(600)
ahead.compile_all()
"""

TANK = load(DEMO).tank


class Pipe(io.BytesIO):
    """Tells when what was written to it is flushed."""

    def __init__(self):
        super().__init__()
        self.flushed, self.ended, self.shut = (threading.Event() for _ in range(3))

    def flush(self):
        self.flushed.set()

    def close(self):
        self.shut.set()


@pytest.fixture
def started(monkeypatch):
    """The pipes of processes that would be started."""
    pipes = []

    def begin(*_, **__):
        pipes.append(Pipe())
        return SimpleNamespace(stdin=pipes[-1], wait=pipes[-1].ended.wait)

    monkeypatch.setattr(subprocess, "Popen", begin)
    monkeypatch.setattr(ahead, "_cores", lambda: 2)
    monkeypatch.setattr(ahead, "is_missing", lambda function: function is spread_from)
    return pipes


def test_the_other_process_gets_the_tank(started):
    ahead.start(TANK.graph, TANK.link_stations)
    (written,) = started
    assert written.flushed.wait(10.0)
    assert not written.shut.is_set()  # to close it would end the other
    written.ended.set()
    assert written.shut.wait(10.0)
    graph, links = pickle.loads(written.getvalue())
    assert (graph.vertices == TANK.graph.vertices).all()
    assert len(links.rings) == len(TANK.link_stations.rings)


def test_none_is_started_on_one_core(started, monkeypatch):
    monkeypatch.setattr(ahead, "_cores", lambda: 1)
    ahead.start(TANK.graph, TANK.link_stations)
    assert not started


def test_none_is_started_where_the_code_is_kept(started, monkeypatch):
    monkeypatch.setattr(ahead, "is_missing", lambda _: False)
    ahead.start(TANK.graph, TANK.link_stations)
    assert not started


def test_it_compiles_what_a_search_for_limits_asks_for_and_nothing_else():
    """In a process of its own: what others have compiled here would hide what it compiles."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", COMPARE, DEMO], capture_output=True, text=True, check=False
    )  # fmt: skip
    assert done.stdout == "compared\n", done.stderr


def test_the_answer_comes_where_no_process_can_be_started(started, monkeypatch):
    def refused(*_, **__):
        raise BlockingIOError(11, "no more processes")

    monkeypatch.setattr(subprocess, "Popen", refused)
    ahead.start(TANK.graph, TANK.link_stations)
    assert not started


def test_nothing_is_missing_where_nothing_can_be_kept(monkeypatch):
    monkeypatch.setattr(code_store, "key_folder", lambda _: None)
    assert not is_missing(spread_from)


def test_it_ends_when_the_first_process_is_gone():
    """However that ended: its end of the pipe closes with it."""
    other = subprocess.Popen([sys.executable, "-P", "-c", SLOW], stdin=subprocess.PIPE)
    pickle.dump((TANK.graph, TANK.link_stations), other.stdin)
    other.stdin.flush()
    with pytest.raises(subprocess.TimeoutExpired):
        other.wait(3.0)
    other.stdin.close()
    assert other.wait(60.0) == 0
