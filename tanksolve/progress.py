"""What a long computation is at, told to whoever listens: nobody, unless a program asks.

The library prints nothing. ``with listening(say):`` hands every step told meanwhile in this thread
to ``say``, as a short phrase such as "looking for faces that cross".
"""

from collections.abc import Callable, Iterator
from contextlib import contextmanager
from contextvars import ContextVar

__all__ = ["listening", "tell"]

_listener: ContextVar[Callable[[str], None] | None] = ContextVar("_listener", default=None)


def tell(step: str) -> None:
    """Tell the listener, if there is one, what is being done now."""
    listener = _listener.get()
    if listener is not None:
        listener(step)


@contextmanager
def listening(listener: Callable[[str], None]) -> Iterator[None]:
    """Hand every step told inside the block to ``listener``."""
    before = _listener.set(listener)
    try:
        yield
    finally:
        _listener.reset(before)
