"""The second process of a first run: it compiles what the first would, and only where there is need."""

import io
import pickle
import subprocess
import sys
import threading
from pathlib import Path
from types import SimpleNamespace

import pytest

from tanksolve.kernel.pools import ahead
from tanksolve.kernel.pools.held_heights import spread_from
from tanksolve.project.load import load

DEMO = Path(__file__).resolve().parents[3] / "meshes" / "hillside_sprayer.toml"
# the argument types with which a search for limits, and the other process, compiled each loop
COMPARE = """
import io, pickle, sys
from functools import partial
from types import SimpleNamespace
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
given = pickle.dumps((case.tank.graph, case.tank.link_stations))
sys.stdin = SimpleNamespace(buffer=io.BytesIO(given))
ahead.compile_all()
ahead_of = [list(loop.signatures) for loop in loops]
assert all(len(one) == 1 for one in ahead_of), ahead_of
found = partial(envelope, case.tank, fill=case.fill, pickups=case.pickups, every_deg=45.0)
kept_of(case, words, envelope_of(found, case, None)[0])
assert [list(loop.signatures) for loop in loops] == ahead_of
"""


TANK = load(DEMO).tank


class Pipe(io.BytesIO):
    """What is written to it can be read when it has been closed."""

    def __init__(self):
        super().__init__()
        self.closed_once = threading.Event()

    def close(self):
        self.closed_once.set()


@pytest.fixture
def started(monkeypatch):
    """What is written to the processes that are started, in place of starting them."""
    written = []

    def begin(*_, **__):
        written.append(Pipe())
        return SimpleNamespace(stdin=written[-1], terminate=lambda: None)

    monkeypatch.setattr(subprocess, "Popen", begin)
    monkeypatch.setattr(ahead, "_cores", lambda: 2)
    monkeypatch.setattr(ahead, "is_kept", lambda _: False)
    return written


def test_the_other_process_gets_the_tank(started):
    ahead.start(TANK.graph, TANK.link_stations)
    (written,) = started
    assert written.closed_once.wait(10.0)
    graph, links = pickle.loads(written.getvalue())
    assert (graph.vertices == TANK.graph.vertices).all()
    assert len(links.rings) == len(TANK.link_stations.rings)


def test_none_is_started_on_one_core(started, monkeypatch):
    monkeypatch.setattr(ahead, "_cores", lambda: 1)
    ahead.start(TANK.graph, TANK.link_stations)
    assert not started


def test_none_is_started_where_the_code_is_kept(started, monkeypatch):
    monkeypatch.setattr(ahead, "is_kept", lambda function: function is spread_from)
    ahead.start(TANK.graph, TANK.link_stations)
    assert not started


def test_it_compiles_what_a_search_for_limits_asks_for_and_nothing_else():
    """In a process of its own: what others have compiled here would hide what it compiles."""
    done = subprocess.run(
        [sys.executable, "-W", "error", "-c", COMPARE, DEMO], capture_output=True, text=True, check=False
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
