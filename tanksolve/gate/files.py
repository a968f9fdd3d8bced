"""The one way in which a file from outside is opened: an ordinary file, no longer than is sensible.

A pipe, a device or a folder under a file's name would never end, or fail somewhere inside; a file longer
than a reader can sensibly take would fill the memory. Both are told before anything is read.
"""

import errno
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from typing import BinaryIO

from tanksolve.errors import TanksolveError

__all__ = ["opened", "ordinary", "read_bytes", "size_words"]

_Refuse = Callable[..., TanksolveError]


@contextmanager
def opened(
    path: Path,
    most: int,
    what: str,
    refuse: _Refuse,
    next_step: str = "check the name and the folder",
) -> Iterator[BinaryIO]:
    """Open ``path`` for reading.

    Parameters
    ----------
    most : bytes that such a file may have.
    what : what it is, for messages: "tank file", "mesh file", "log".
    refuse : the error to raise, one of the tree in ``tanksolve.errors``.
    next_step : advice where it cannot be opened at all.

    Raises
    ------
    ``refuse`` : no such file, no permission, not an ordinary file, too long; or it cannot be read on.
    """
    try:
        with ordinary(path) as file:
            size = os.fstat(file.fileno()).st_size
            if size > most:
                raise refuse(
                    f"too long for a {what}: {size_words(size)}",
                    where=str(path),
                    allowed=f"up to {size_words(most)}",
                )
            yield file
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise refuse(
            f"the {what} cannot be read: {reason}", where=str(path), next_step=next_step
        ) from error


def read_bytes(path: Path, most: int, what: str, refuse: _Refuse, next_step: str = "") -> bytes:
    """The whole content of a file of at most ``most`` bytes; see :func:`opened`."""
    advice = {"next_step": next_step} if next_step else {}
    with opened(path, most, what, refuse, **advice) as file:
        return file.read(most)  # no more, should it grow meanwhile


def ordinary(path: Path) -> BinaryIO:
    """Open an ordinary file for reading, without waiting for the other end of a pipe. Raises OSError."""
    if "\0" in str(path):
        raise OSError(errno.EINVAL, "there is a zero byte in the name")
    handle = os.open(path, os.O_RDONLY | getattr(os, "O_NONBLOCK", 0) | getattr(os, "O_BINARY", 0))
    kind = os.fstat(handle).st_mode
    if not stat.S_ISREG(kind):
        os.close(handle)
        name = "a folder" if stat.S_ISDIR(kind) else "a pipe or a device"
        raise OSError(errno.EINVAL, f"it is {name}, not a file")
    return os.fdopen(handle, "rb")


def size_words(size: int) -> str:
    """Write a number of bytes: 900 bytes, 1.0 MB."""
    return f"{size:,} bytes" if size < 100_000 else f"{size / 1e6:,.1f} MB"
