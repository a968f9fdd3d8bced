"""A function as it is called from a script: arguments of a wrong kind, and processes that cannot solve, are told.

The functions that ``import tanksolve`` offers go through :func:`called`; inside the package nothing does.
"""

import functools
import inspect
import os
import sys
from collections.abc import Callable, Mapping, Sequence
from numbers import Real
from typing import ParamSpec, TypeVar

from tanksolve.errors import TanksolveError

__all__ = ["called"]

P = ParamSpec("P")
T = TypeVar("T")
_forked = False


def _after_fork() -> None:
    global _forked  # noqa: PLW0603
    pool = sys.modules.get("numba.np.ufunc.parallel")
    _forked = bool(getattr(pool, "_is_initialized", False))


if hasattr(os, "register_at_fork"):
    os.register_at_fork(after_in_child=_after_fork)


def called(function: Callable[P, T]) -> Callable[P, T]:
    """The same function, which raises TanksolveError where a plain TypeError, or a hang, would come of it.

    A process that was forked after its parent had solved anything shares the parent's threads in name only: the
    next parallel loop would wait for ever.
    """
    signature = inspect.signature(function)

    @functools.wraps(function)
    def checked(*given: P.args, **named: P.kwargs) -> T:
        _refuse_fork(function.__name__)
        try:
            bound = signature.bind(*given, **named)
        except TypeError as error:
            raise TanksolveError(
                str(error),
                where=f"{function.__name__}()",
                allowed=f"{function.__name__}{signature}",
            ) from None
        for name, value in bound.arguments.items():
            _check(function.__name__, signature.parameters[name], value)
        return function(*given, **named)

    checked.__module__, checked.__qualname__ = "tanksolve", function.__name__  # so that it pickles
    return checked


def _refuse_fork(name: str) -> None:
    if _forked:
        raise TanksolveError(
            "this process was forked after its parent had solved something: it has none of the parent's threads",
            where=f"{name}()",
            next_step="multiprocessing.get_context('spawn') or 'forkserver', or fork before the first call",
        )


def _check(function: str, parameter: inspect.Parameter, value: object) -> None:
    """Refuse a value that is plainly of another kind than the annotation of its parameter."""
    told = _expected(parameter, value)
    if told:
        raise TanksolveError(
            f"{parameter.name} is {_seen(value)}", where=f"{function}()", allowed=told
        )


def _expected(parameter: inspect.Parameter, value: object) -> str:
    """What was wanted instead of the value, in words; nothing where it will do."""
    name, wanted = parameter.name, parameter.annotation
    if parameter.kind in (parameter.VAR_KEYWORD, parameter.VAR_POSITIONAL):
        return ""
    if wanted in (float, int, float | None) and not isinstance(value, Real):
        nothing = value is None and wanted == float | None
        return "" if nothing else "a number in SI units (m, m³, degrees where the name says _deg)"
    if name == "tank" and not hasattr(value, "vertices"):
        return "a Tank: box(...), cylinder(...), read_mesh(...) or load(...).tank"
    if (
        name == "fill"
        and (value is None or isinstance(value, Sequence | Mapping))
        and value is not parameter.default
    ):
        return "a volume in m³, or Fill(least, most)"
    if name == "ports":
        return _ports_expected(value)
    if name == "position":
        numbers = isinstance(value, Sequence) and not isinstance(value, str) and len(value) == 3
        if not numbers or not all(isinstance(c, Real) for c in value):  # type: ignore[attr-defined]
            return "three numbers in m: forward, left, up"
    return ""


def _ports_expected(value: object) -> str:
    many = isinstance(value, Sequence) and not isinstance(value, str)
    if not many or not all(hasattr(one, "effective_rule") for one in value):  # type: ignore[attr-defined]
        return "a list of ports, as [pickup(...), breather(...)]"
    return ""


def _seen(value: object) -> str:
    from tanksolve.plain_text import clean, shortened

    return f"{shortened(clean(repr(value)))}, of type {type(value).__name__}"
