"""Writing a result so that it is there whole or not at all."""

import contextlib
import os
import secrets
from collections.abc import Callable
from pathlib import Path

from tanksolve.errors import OutputError

__all__ = ["check_folder", "check_new", "check_text_path", "write_text", "write_whole"]


def check_text_path(path: Path, endings: tuple[str, ...], where: str) -> None:
    """Refuse, before anything is computed, a path that no text can be written to, such as ``sheet.pdf``.

    ``endings`` are those allowed, with their dot. Raises OutputError, naming the option ``where``.
    """
    if path.suffix.lower() not in endings:
        raise OutputError(
            f"'{path}' does not end as what is written there does",
            where=where,
            allowed=", ".join(endings),
            next_step=f"write '{path.with_suffix(endings[0])}'" if path.name else "",
        )
    check_folder(path, where)


def check_folder(path: Path, where: str) -> None:
    """Refuse a path in a folder that is not there, or that is a folder. Raises OutputError."""
    try:
        path.lstat()
    except FileNotFoundError:
        pass
    except (OSError, ValueError) as error:  # a name too long, or with a NUL in it
        raise _cannot(path, error).at(where) from None
    if not path.parent.is_dir():
        raise OutputError(
            f"there is no folder '{path.parent}'", where=where, next_step="make the folder first"
        )
    if path.is_dir():
        raise OutputError("is a folder, not a file", where=where)


def check_new(path: Path) -> None:
    """Refuse a file that is there already: nothing is written over unasked. Raises OutputError."""
    if path.exists():
        raise OutputError(
            f"'{path}' is there already", next_step="choose another name, or add --force"
        )


def write_whole(path: Path, write: Callable[[Path], None]) -> None:
    """Let ``write`` fill a temporary file beside ``path``, then rename it into place.

    Raises OutputError where the folder is missing or cannot be written to; ``path`` is then as
    it was before.
    """
    # named before it is made, so that it is taken away whenever a signal comes
    temporary = path.parent / f".tanksolve-{secrets.token_hex(8)}{path.suffix}"
    try:
        os.close(os.open(temporary, os.O_CREAT | os.O_EXCL | os.O_WRONLY, 0o600))
        write(temporary)
        temporary.chmod(0o666 & ~_umask())
        temporary.replace(path)
    except (OSError, ValueError) as error:  # ValueError: a NUL in the name
        if isinstance(error, ValueError) and "\0" not in str(path):
            raise
        raise _cannot(path, error) from None
    finally:
        with contextlib.suppress(OSError, ValueError):
            temporary.unlink(missing_ok=True)


def write_text(path: Path, text: str) -> None:
    """Write ``text`` as UTF-8, whole or not at all. Raises OutputError."""
    write_whole(path, lambda temporary: _write(temporary, text))


def _write(path: Path, text: str) -> None:
    path.write_text(text, encoding="utf-8", newline="\n")


def _umask() -> int:
    mask = os.umask(0)
    os.umask(mask)
    return mask


def _cannot(path: Path, error: Exception) -> OutputError:
    reason = error.strerror if isinstance(error, OSError) else None
    return OutputError(
        f"cannot write '{path}': {reason or error}",
        allowed="a file in a folder that exists and can be written to",
        next_step="choose another place",
    )
