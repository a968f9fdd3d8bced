"""Envelope of the demo tank, and what a command costs: ``python tests/benchmarks/envelope.py``.

The envelope (72 headings, with its bounds and its map) is stated as a multiple of one batch of 10,000
planes on the same tank; commands as multiples of importing what they cannot do without. All in one
run; the commands in processes of their own, the best of five, after one run that fills the cache.
"""

import os
import subprocess
import sys
import tempfile
import time
from collections.abc import Callable

from capacity import DEMO, planes_through

from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope

COMMAND = [sys.executable, "-m", "tanksolve_cli"]


def best(run: Callable[[], object], times: int = 5) -> float:
    spent = []
    for _ in range(times):
        start = time.perf_counter()
        run()
        spent.append(time.perf_counter() - start)
    return min(spent)


def process(*words: str, cache: str | None = None) -> Callable[[], object]:
    environment = os.environ | ({"XDG_CACHE_HOME": cache} if cache else {})
    return lambda: subprocess.run(words, check=True, capture_output=True, env=environment)


def in_process() -> None:
    project = load(DEMO)
    tank = project.tank
    up, height = planes_through(tank.vertices, 10_000)
    volumes(tank.tree, up, height)
    batch = best(lambda: volumes(tank.tree, up, height))

    def run() -> object:
        return envelope(tank, project.ports, project.fill, every_deg=5.0)

    run()
    spent = best(run, 3)
    print(
        f"envelope of {len(tank.faces):,} faces, 72 headings: {spent / batch:.1f} batches of 10,000 planes "
        f"({1000 * spent:.0f} ms against {1000 * batch:.1f} ms)"
    )


def commands() -> None:
    ask = process(*COMMAND, "envelope", str(DEMO), "--json")
    ask()
    numba = best(process(sys.executable, "-c", "import numpy, numba"))
    spent = best(ask)
    print(f"tanksolve envelope, compiled before: {spent / numba:.2f}x import numpy, numba", end="")
    print(f" ({spent:.2f} s against {numba:.2f} s)")
    with tempfile.TemporaryDirectory() as cache:
        cold = best(process(*COMMAND, "envelope", str(DEMO), "--json", cache=cache), 1)
    print(f"tanksolve envelope, the first run ever: {cold / numba:.0f}x ({cold:.1f} s)")
    typer = best(process(sys.executable, "-c", "import typer"))
    words = best(process(*COMMAND, "--help"))
    print(f"tanksolve --help: {words / typer:.2f}x import typer ({words:.2f} s)")


if __name__ == "__main__":
    in_process()
    commands()
