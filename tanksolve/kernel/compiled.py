"""The one way this package compiles a function, so that caching and threads are settled once."""

import hashlib
import importlib
import pickle
import sys
from collections.abc import Callable
from typing import Any, TypeVar, cast

import numba
import numpy as np
from llvmlite.binding import parse_assembly
from numba.core.caching import FunctionCache
from numba.core.compiler import Compiler, CompileResult
from numba.core.dispatcher import Dispatcher
from numba.core.runtime.nrt import rtsys
from numba.core.serialize import dumps

from tanksolve.kernel import code_store

__all__ = [
    "compiled",
    "compiled_inner",
    "compiled_sums",
    "is_missing",
    "skip_blas_probe",
]

F = TypeVar("F", bound=Callable[..., Any])
_OPTIONS: dict[str, Any] = {"nogil": True, "error_model": "numpy"}
# bytes of machine code: a larger function is called, not copied into every caller
_CALLED_APART = 8000
_APART: dict[str, tuple[str, str, Any]] = {}  # by symbol: module, function, argument types
_VERSIONS = f"numba {numba.__version__} numpy {np.__version__}"


class _KernelCache(FunctionCache):
    """Machine code of one kernel on disk, in the store of this package; other users of numba keep theirs.

    numba's own cache notices edits of the file of a function only, and numbers its files through an index
    that two processes can write at once. Here the key of the store covers all kernels, and each signature
    has a file of its own, named after a hash of what numba asks for, which stands in the file as well.

    numba also copies the code of each function into all that call it and optimises it there anew. Here only
    small functions go into their callers. A larger one is handed to them as an empty module, so that they
    refer to its symbol; the linker finds it among the code that is loaded. Such symbols are kept with the
    code of the caller, and loaded before it.
    """

    def __init__(
        self, py_func: Callable[..., Any]
    ) -> None:  # not the base's: it looks for a folder
        self._name = repr(py_func)
        self._py_func = py_func
        self.enable()

    @property
    def cache_path(self) -> str:
        return str(code_store.key_folder(_VERSIONS) or "")

    def flush(self) -> None:
        """Nothing: what is kept is never stale."""

    def load_overload(self, sig: Any, target_context: Any) -> Any:
        # all that code kept needs; to ready numba for compiling, as its own cache does, takes as long again
        rtsys.initialize(target_context)
        folder = code_store.key_folder(_VERSIONS) if self._enabled else None
        if folder is None:
            return None
        key = self._index_key(sig, target_context.codegen())
        data = code_store.read(folder, self._file_name(key))
        if data is None:
            return None
        kept = pickle.loads(data)  # a folder of the user's own, see code_store
        if kept[0] != key or not all(_is_loaded(name, *of) for name, of in kept[1].items()):
            return None
        target_context.codegen()._engine._defined_symbols.update(kept[2])
        found = CompileResult._rebuild(target_context, *kept[3])
        if kept[2]:
            _APART[found.fndesc.llvm_func_name] = self._named(sig)
        return found

    def save_overload(self, sig: Any, data: Any) -> None:
        module = data.library._final_module
        calls = {f.name: _APART[f.name] for f in module.functions if f.name in _APART}
        defined: list[str] = []
        if len(data.library._get_compiled_object()) > _CALLED_APART:
            defined = [f.name for f in module.functions if not f.is_declaration]
            _APART[data.fndesc.llvm_func_name] = self._named(sig)
            empty = str(data.codegen._create_empty_module(data.library.name))
            data.library._shared_module = parse_assembly(empty)
        folder = code_store.key_folder(_VERSIONS) if self._enabled else None
        if folder is None or data.lifted or data.library.has_dynamic_globals:
            return
        if code_store.is_fresh():
            key = self._index_key(sig, data.codegen)
            entry = (key, calls, defined, data._reduce())
            code_store.write(folder, self._file_name(key), dumps(entry))

    def _named(self, sig: Any) -> tuple[str, str, Any]:
        return self._py_func.__module__, self._py_func.__qualname__, sig

    def _file_name(self, key: tuple[Any, ...]) -> str:
        return f"{self._py_func.__name__}-{hashlib.sha256(repr(key).encode()).hexdigest()[:24]}"


class _Named(Compiler):
    """numba's compiler, with symbols named after function and argument types, not after a count.

    So two processes that compile at once give a function one name, and code of either can call it.
    """

    def _compile_bytecode(self) -> Any:
        func_id = self.state.func_id
        given = f"{func_id.modname}.{func_id.func_qualname} {self.state.args}"
        func_id.unique_id = int(hashlib.sha256(given.encode()).hexdigest()[:15], 16)
        func_id.unique_name = f"{func_id.func_qualname}${func_id.unique_id}"
        return super()._compile_bytecode()


def _is_loaded(symbol: str, module: str, function: str, sig: Any) -> bool:
    """Whether code that calls ``symbol`` can run: loads that function, or compiles it."""
    if symbol not in _APART:
        getattr(importlib.import_module(module), function).compile(sig)
    return symbol in _APART


def _decorate(function: F, **options: Any) -> F:
    # code outside the kernel is not in the key of the store, so none is kept of it
    ours = function.__module__.startswith("tanksolve.kernel.")
    given = {**_OPTIONS, **options, **({"pipeline_class": _Named} if ours else {})}
    dispatcher = numba.njit(**given)(function)
    if ours and isinstance(dispatcher, Dispatcher):  # not where numba is told not to compile
        cast(Any, dispatcher)._cache = _KernelCache(function)
    return cast(F, dispatcher)


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


def is_missing(function: Callable[..., Any]) -> bool:
    """Whether code of a kernel can be kept in the store and is not, for argument types of whatever kind."""
    folder = (
        None if getattr(numba.config, "DISABLE_JIT", False) else code_store.key_folder(_VERSIONS)
    )
    return folder is not None and not any(folder.glob(f"{function.__name__}-*"))


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
