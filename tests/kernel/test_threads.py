"""Rows shared among threads: the same figures whatever their number, and in a forked copy of the process."""

import subprocess
import sys
from pathlib import Path

import numba
import numpy as np
import pytest

from tanksolve.kernel.capacity.tree import patch_tensors
from tanksolve.kernel.capacity.volumes import moments, volumes
from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.kernel.threads import in_threads
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope

MESHES = Path(__file__).resolve().parents[2] / "meshes"
SHARED = 2, 3  # never told apart where the machine has one processor


def with_threads(count, act):
    before = numba.get_num_threads()
    numba.set_num_threads(min(count, numba.config.NUMBA_NUM_THREADS))
    try:
        return act()
    finally:
        numba.set_num_threads(before)


@pytest.fixture(scope="module")
def case():
    return load(MESHES / "two_bays.toml")


def planes(count=3000):
    rng = np.random.default_rng(5)
    up = rng.normal(size=(count, 3))
    return up / np.linalg.norm(up, axis=1)[:, None], rng.uniform(-0.3, 0.4, count)


@pytest.mark.parametrize("count", SHARED)
def test_rows_are_all_done_and_each_once(count):
    done = np.zeros(5000, np.int64)

    def loop(first, last, out):
        out[first:last] += np.arange(first, last)

    with_threads(count, lambda: in_threads(loop, len(done), done))
    assert np.array_equal(done, np.arange(len(done)))


@pytest.mark.parametrize("count", SHARED)
def test_a_fault_in_a_thread_is_told(count):
    def loop(first, last):
        if first > 0 or last == 5000:
            raise ValueError("a row")

    with pytest.raises(ValueError, match="a row"):
        with_threads(count, lambda: in_threads(loop, 5000))


@pytest.mark.parametrize("count", SHARED)
def test_sums_are_the_same_to_the_last_bit(case, count):
    tank, (up, height) = case.tank, planes()
    tensors = patch_tensors(tank.tree)

    def act():
        volume, area = volumes(tank.tree, up, height)
        found = moments(tank.tree, tensors, up, height)
        below = pools_below(tank.graph, up[:300], height[:300])
        return [volume, area, *found, *below]

    for one, other in zip(with_threads(1, act), with_threads(count, act), strict=True):
        assert np.array_equal(one, other, equal_nan=True)


def test_limits_are_the_same_to_the_last_bit(case):
    def act():
        found = envelope(case.tank, case.ports, fill=case.fill, every_deg=30.0, search_to_deg=30.0)
        return [(row.held_to_deg, row.slope_deg) for row in found.limits]

    assert with_threads(1, act) == with_threads(2, act)


FORK = """
import os, numba, numpy as np
from tanksolve.kernel.threads import in_threads
numba.set_num_threads(min(2, numba.config.NUMBA_NUM_THREADS))
def loop(first, last, out):
    out[first:last] += 1
for forked in (False, True):
    child = os.fork() if forked else 0
    if child:
        os._exit(os.waitstatus_to_exitcode(os.waitpid(child, 0)[1]))
    out = np.zeros(1000)
    in_threads(loop, len(out), out)
    assert (out == 1.0).all()
os._exit(7)
"""


@pytest.mark.skipif(sys.platform == "win32", reason="no forks there")
def test_a_fork_has_threads_of_its_own():
    done = subprocess.run([sys.executable, "-c", FORK], timeout=120, check=False)
    assert done.returncode == 7
