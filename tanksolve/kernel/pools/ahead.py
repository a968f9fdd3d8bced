"""A first run on two cores: what walled tanks need is compiled by a second process meanwhile.

numba compiles one function at a time in a process. The second one begins with what a search for limits
comes to last, so the two meet halfway, and each finds in the store what the other has compiled.
"""

import contextlib
import os
import pickle
import subprocess
import sys
import threading

import numpy as np

from tanksolve.kernel.compiled import is_missing, skip_blas_probe
from tanksolve.kernel.pools.held_heights import spread_from
from tanksolve.kernel.pools.kept import least_kept
from tanksolve.kernel.pools.links import Links
from tanksolve.kernel.pools.room_bounds import room_over
from tanksolve.kernel.pools.worst_state import need, room
from tanksolve.kernel.pools.worst_state_bounds import need_over
from tanksolve.kernel.topology.mesh_graph import MeshGraph

__all__ = ["compile_all", "start"]

_CHILD = "from tanksolve.kernel.pools.ahead import compile_all; compile_all()"


def start(graph: MeshGraph, links: Links) -> None:
    """Let another process compile, where that is still to do and there is a core for it.

    graph, links : of a tank: it needs one to ask about. It ends with this process, however that ends.
    """
    if not is_missing(spread_from) or _cores() < 2 or not sys.executable:
        return
    try:  # -P: a module that lies in the working folder must not be taken for one of ours
        child = subprocess.Popen(
            [sys.executable, "-P", "-c", _CHILD], stdin=subprocess.PIPE, stdout=subprocess.DEVNULL,
            stderr=subprocess.DEVNULL,
        )  # fmt: skip
    except OSError:  # no process to be had: this one compiles alone
        return
    # it reads when it has started; to wait for that would cost what it saves
    threading.Thread(target=_hand_over, args=(child, graph, links), daemon=True).start()


def _hand_over(child: "subprocess.Popen[bytes]", *tank: object) -> None:
    assert child.stdin is not None
    with contextlib.suppress(OSError):  # it is gone
        pickle.dump(tank, child.stdin)
        child.stdin.flush()  # and stays open: it is closed when this process ends
    child.wait()  # else it would stay in the list of processes after its end
    with contextlib.suppress(OSError):
        child.stdin.close()


def _cores() -> int:
    here = getattr(os, "sched_getaffinity", None)
    return len(here(0)) if here else os.cpu_count() or 1


def compile_all() -> None:
    """The other process: ask everything once about a cell, last things first; answers do not matter."""
    skip_blas_probe()
    graph, links = pickle.load(sys.stdin.buffer)
    threading.Thread(target=_end_with_the_first, args=(sys.stdin.fileno(),), daemon=True).start()
    up, edge = np.array([[0.0, 0.0, 1.0]]), np.zeros((1, 1))
    corners = [(0.1, 0.0, 1.0), (-0.1, 0.0, 1.0), (0.0, 0.1, 1.0), (0.0, -0.1, 1.0)]
    hull, place = np.array([corners]), graph.origin[None, :]
    edges_at = np.zeros((1, 4, 1))
    least_kept(graph, place, up, hull)
    room(graph, up, place, edge, links)
    need(graph, up, place, edge, links)
    room_over(graph, up, hull, place, edge, edges_at, links)
    need_over(graph, up, hull, place, edge, edges_at, links)


def _end_with_the_first(pipe: int) -> None:
    """End this process when the other end of its pipe closes; a signal can be lost in what C calls."""
    os.read(pipe, 1)
    os._exit(0)
