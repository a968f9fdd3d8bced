"""The one way this package compiles a function, so that caching and threads are settled once."""

import importlib
import sys
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from typing import Any, TypeVar, cast

import numba

__all__ = [
    "compiled",
    "compiled_inner",
    "compiled_parallel",
    "compiled_sums",
    "skip_blas_probe",
    "threads_for",
]

F = TypeVar("F", bound=Callable[..., Any])
_WORTH_SHARING = 256
_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy"}


def _decorate(function: F, **options: Any) -> F:
    try:
        return cast(F, numba.njit(cache=True, **_OPTIONS, **options)(function))
    except RuntimeError:  # numba found no folder for its cache: compile anew in each process
        return cast(F, numba.njit(cache=False, **_OPTIONS, **options)(function))


def compiled(function: F) -> F:
    """Compile ``function`` at its first call and keep the machine code on disk."""
    return _decorate(function)


def compiled_inner(function: F) -> F:
    """Compile a function that only compiled code calls: Python cannot, and compiling is quicker.

    What is left out is the code that takes each argument apart, long for tuples of arrays.
    """
    return _decorate(function, no_cpython_wrapper=True, no_cfunc_wrapper=True)


def compiled_sums(function: F) -> F:
    """Compile a loop over a fixed number of faces so that its sums may run in vector lanes.

    Only the sums written in ``function`` itself may be regrouped; what it calls keeps its order of
    operations, and the grouping is the same at every call, so results are reproducible.
    """
    return _decorate(
        function,
        fastmath={"reassoc", "contract", "nsz"},
        no_cpython_wrapper=True,
        no_cfunc_wrapper=True,
    )


def compiled_parallel(function: F) -> F:
    """Compile ``function`` with ``prange`` over threads; the body must not sum across threads."""
    return _decorate(function, parallel=True)


@contextmanager
def threads_for(count: int) -> Iterator[None]:
    """Use one thread for a small batch of ``count`` items: waking the others costs more."""
    before = numba.get_num_threads()
    numba.set_num_threads(before if count >= _WORTH_SHARING else 1)
    try:
        yield
    finally:
        numba.set_num_threads(before)


def skip_blas_probe() -> None:
    """Let numba start without looking for a BLAS, which no kernel here uses.

    To look, numba imports scipy.linalg at the first compiled function of a process, a third of a
    second. Only for a process of our own (the command line): other code of the same process could
    then not use ``np.dot`` under numba. What numba finds is settled once; SciPy itself is as before.
    """
    probe = "scipy.linalg.cython_blas"
    if probe in sys.modules or "numba.np.arraymath" in sys.modules:
        return
    sys.modules[probe] = None  # type: ignore[assignment]
    try:
        importlib.import_module("numba.np.arraymath")
    finally:
        del sys.modules[probe]
