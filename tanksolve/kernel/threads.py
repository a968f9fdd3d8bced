"""Rows of a batch shared among threads: plain compiled loops that let go of the interpreter.

A loop written with ``prange`` is compiled several times over, which a first run pays for in seconds;
a plain loop over ``first <= row < last`` is compiled once and does the same here.
"""

import os
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from functools import cache
from itertools import pairwise

import numba

__all__ = ["WORTH_SHARING", "in_threads"]

WORTH_SHARING = 256  # small items, such as planes: waking another thread for fewer costs more

_PARTS = 4  # a thread: rows differ in cost


def in_threads(loop: Callable[..., None], rows: int, *arguments: object, least: int = 1) -> None:
    """Call ``loop(first, last, *arguments)`` for ranges that make up ``0 <= row < rows``.

    loop : compiled with ``nogil``; it writes its rows of arrays handed over, so that the result does
        not depend on the number of threads.
    least : rows that a thread is worth.
    """
    threads = min(numba.get_num_threads(), rows // max(1, least))
    if threads <= 1:
        loop(0, rows, *arguments)
        return
    parts = min(rows, _PARTS * threads)
    ends = [rows * k // parts for k in range(parts + 1)]
    done = [_pool(threads).submit(loop, first, last, *arguments) for first, last in pairwise(ends)]
    for part in done:
        part.result()


@cache
def _pool(threads: int) -> ThreadPoolExecutor:
    """Threads that stay: a search calls loops by the thousand. Loops never wait for one another."""
    return ThreadPoolExecutor(threads, thread_name_prefix="tanksolve")


if hasattr(os, "register_at_fork"):  # a fork has none of the threads
    os.register_at_fork(after_in_child=_pool.cache_clear)
