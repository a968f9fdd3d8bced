"""What a tank file may hold at most, and characters that it may not: checked before anything is built.

The bounds lie far beyond any tank. Without them a file of a megabyte can ask for hours of work, or carry
characters that do something to a terminal or a picture instead of being seen.
"""

import re
from collections import deque
from collections.abc import Mapping
from typing import Any

from tanksolve.errors import FileFormatError, TanksolveError
from tanksolve.plain_text import clean, is_plain
from tanksolve.project.lines import Path, line_of

__all__ = ["check_bounds", "check_dots", "check_name", "check_text"]

_NAME = 100  # characters
_TEXT = 20_000  # characters: a profile of some 2,000 corners
_TABLES = 200  # of one kind
_PART = r"""(?:[\w-]++|"[^"\n]*+"|'[^'\n]*+')"""
_DOTTED = re.compile(rf"(?<![\w-])(?:{_PART}[ \t]*+\.[ \t]*+){{32}}")


def check_dots(text: str, name: str) -> None:
    """Refuse a key of dozens of dotted parts, which keeps the TOML parser busy for minutes."""
    found = _DOTTED.search(text)
    if found:
        line = text.count("\n", 0, found.start()) + 1
        raise FileFormatError("a key of too many parts", where=f"{name}, line {line}")


def check_bounds(data: dict[str, Any], numbers: Mapping[Path, int], name: str) -> None:
    """Refuse too many tables, too long a text, and characters that are not seen. Raises FileFormatError.

    ``data`` is the parsed file ``name``, ``numbers`` the line of each key.
    """
    left: deque[tuple[Path, Any]] = deque([((), data)])
    while left:
        path, value = left.popleft()
        if isinstance(value, dict | list) and len(value) > _TABLES:
            what = f"{len(value):,} are given where a tank has a few"
            raise _refused(what, path, numbers, name, f"up to {_TABLES}")
        if isinstance(value, dict):
            left += [((*path, str(key)), one) for key, one in value.items()]
        elif isinstance(value, list):
            left += [((*path, k), one) for k, one in enumerate(value)]
        elif isinstance(value, str):
            try:
                (check_name if path[-1] == "name" else check_text)(value)
            except TanksolveError as error:
                raise _refused(error.what, path, numbers, name, error.allowed) from None


def check_name(text: str, where: str = "") -> None:
    """Refuse a name that is long or is not seen as it is written. Raises FileFormatError."""
    if not is_plain(text):
        raise FileFormatError(
            f"'{clean(text)[:_NAME]}' holds characters that are not seen",
            where=where,
            allowed="letters, digits, signs and spaces",
        )
    if len(text) > _NAME:
        raise FileFormatError(
            f"a name of {len(text):,} characters", where=where, allowed=f"up to {_NAME}"
        )


def check_text(text: str, where: str = "") -> None:
    """Refuse a text that is far too long or holds characters that are not seen. Raises FileFormatError."""
    if clean(text) != text:
        raise FileFormatError(
            f"'{clean(text[:_NAME])}' holds characters that are not seen",
            where=where,
            allowed="letters, digits, signs, spaces and new lines",
        )
    if len(text) > _TEXT:
        raise FileFormatError(
            f"a text of {len(text):,} characters", where=where, allowed=f"up to {_TEXT:,}"
        )


def _refused(
    what: str, path: Path, numbers: Mapping[Path, int], name: str, allowed: str
) -> FileFormatError:
    line = line_of(path, numbers)
    shown = ".".join(str(step + 1) if isinstance(step, int) else step for step in path)[:200]
    return FileFormatError(
        what,
        where=f"{name}, line {line}, {shown}" if line else f"{name}, {shown}".rstrip(", "),
        allowed=allowed,
    )
