"""The program's two streams, its end by a signal, and its last words when something fails.

What is printed passes one place: characters that do something instead of being seen become escapes
there, and a character that the terminal cannot show does not end the program.
"""

import contextlib
import errno
import io
import os
import signal
import sys
import threading
from types import FrameType
from typing import TextIO

__all__ = [
    "LostOutput",
    "Stopped",
    "clean_streams",
    "failed",
    "let_go",
    "stop_on_signals",
    "stopped",
    "unheard",
]


_SIGNALS = [
    getattr(signal, name) for name in ("SIGINT", "SIGTERM", "SIGHUP") if hasattr(signal, name)
]


_CALLED_BY_C = ("_raw_object_cache_notify", "_raw_object_cache_getbuffer", "__del__")  # of llvmlite


class Stopped(BaseException):
    """A signal asked the program to end; ``number`` says which."""

    def __init__(self, number: int) -> None:
        self.number = number
        super().__init__(number)


class LostOutput(BaseException):
    """What is printed goes nowhere: the reader went away, or the device is full."""

    def __init__(self, error: OSError) -> None:
        self.error = error
        super().__init__(error)


class _Clean(io.TextIOBase):
    """A text stream that passes on nothing unseen but newlines and tabs."""

    def __init__(self, inner: TextIO | io.TextIOBase) -> None:
        self._inner = inner
        if isinstance(inner, io.TextIOWrapper):  # a terminal that cannot show ° shows \xb0
            inner.reconfigure(errors="backslashreplace")

    def write(self, text: str) -> int:
        from tanksolve.plain_text import clean

        try:
            self._inner.write(clean(text))
        except OSError as error:
            raise LostOutput(error) from None
        return len(text)

    def flush(self) -> None:
        try:
            self._inner.flush()
        except OSError as error:
            raise LostOutput(error) from None

    def isatty(self) -> bool:
        return self._inner.isatty()

    def fileno(self) -> int:
        return self._inner.fileno()

    def writable(self) -> bool:
        return True

    @property
    def encoding(self) -> str:  # type: ignore[override]
        return self._inner.encoding

    @property
    def errors(self) -> str | None:  # type: ignore[override]
        return self._inner.errors


class _Closed(io.TextIOBase):
    """A stream that was closed before the program began: what is printed on it is lost."""

    def write(self, text: str) -> int:
        raise OSError(errno.EBADF, os.strerror(errno.EBADF))


def clean_streams() -> None:
    """Let what is printed, on either stream, pass the one place."""
    while None in (sys.stdin, sys.stdout, sys.stderr):  # or a file that is opened takes its number
        if (taken := os.open(os.devnull, os.O_RDWR)) > 2:
            os.close(taken)
            break
    for name in ("stdout", "stderr"):
        stream = getattr(sys, name) or _Closed()
        if not isinstance(stream, _Clean):
            setattr(sys, name, _Clean(stream))


def stop_on_signals() -> None:
    """End with one line on Ctrl-C, SIGTERM and SIGHUP, so that what is half written is taken away.

    A second signal ends the program at once. A signal that is ignored, as under ``nohup``, stays so.
    """
    for number in _SIGNALS:
        if signal.getsignal(number) is not signal.SIG_IGN:
            with contextlib.suppress(ValueError):  # not the main thread: not our process
                signal.signal(number, _stop)


def _stop(number: int, frame: FrameType | None) -> None:
    sys.unraisablehook = _lost  # what is cut short may complain as it goes
    if _would_be_lost(frame):
        _again(number)
        return
    let_go()
    raise Stopped(number)


def _would_be_lost(frame: FrameType | None) -> bool:
    """Whether Python was called by C just now: what is raised there ends nothing.

    So the compiler calls it when a function is done, and a signal during the long call before that is
    told there first: the program went on, without the function.
    """
    while frame is not None:
        if frame.f_code.co_name in _CALLED_BY_C:
            return True
        frame = frame.f_back
    return False


def _lost(what: "sys.UnraisableHookArgs") -> None:
    if isinstance(what.exc_value, Stopped):
        stop_on_signals()
        _again(what.exc_value.number)


def _again(number: int) -> None:
    """Send the signal once more, in a moment."""

    def send() -> None:
        if os.name == "nt":  # there os.kill would end the program at once
            signal.raise_signal(number)
        else:
            os.kill(os.getpid(), number)

    later = threading.Timer(0.02, send)
    later.daemon = True
    later.start()


def let_go() -> None:
    """From here on a signal ends the program at once: all is written, or is being taken away."""
    for number in _SIGNALS:
        if signal.getsignal(number) is _stop:
            signal.signal(number, signal.SIG_DFL)


def stopped(number: int) -> int:
    """Say that a signal ended the program; the exit code that shells expect."""
    _last_words(
        f"tanksolve: stopped by {signal.Signals(number).name}; nothing half-written is left"
    )
    return 128 + number


def unheard(error: OSError) -> int:
    """The exit code where the output is lost: 0 for a closed pipe, else 1 and a message."""
    with contextlib.suppress(OSError, ValueError):  # or Python would complain of what is held back
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
    if error.errno == errno.EPIPE:  # the reader of our output went away; nothing to tell
        return 0
    _last_words(f"tanksolve: the answer cannot be written: {error.strerror or error}")
    return 1


def failed(error: BaseException) -> int:
    """Tell what nobody foresaw, in one message with what to report; exit code 1.

    With ``TANKSOLVE_DEBUG=1`` in the environment the error is raised on, with its traceback.
    """
    from tanksolve.plain_text import clean, shortened
    from tanksolve.version import __version__

    if os.environ.get("TANKSOLVE_DEBUG"):
        raise error
    if isinstance(error, MemoryError):
        _last_words(
            "tanksolve: out of memory\n  next: use a coarser mesh, or a machine with more memory"
        )
        return 1
    at, trace = "", error.__traceback__
    while trace is not None:
        code = trace.tb_frame.f_code
        if "tanksolve" in code.co_filename:
            at = f" ({os.path.basename(code.co_filename)}, line {trace.tb_lineno})"  # noqa: PTH119
        trace = trace.tb_next
    what = shortened(clean(f"{type(error).__name__}: {error}{at}".replace("\n", " ")))
    _last_words(
        f"tanksolve: a fault of the program: {what}\n"
        f"  next: report this with the command and its files; tanksolve {__version__}, Python "
        f"{sys.version.split()[0]}, {sys.platform}; TANKSOLVE_DEBUG=1 shows the place in full"
    )
    return 1


def _last_words(text: str) -> None:
    with contextlib.suppress(OSError, ValueError, LostOutput):
        sys.stderr.write(text + "\n")
        sys.stderr.flush()
