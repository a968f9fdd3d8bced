"""Where in a TOML text a key stands: the standard parser tells values, but not lines."""

import re
import tomllib
from collections.abc import Mapping, Sequence

__all__ = ["Path", "line_numbers", "line_of"]

Path = tuple[str | int, ...]

_HEADER = re.compile(r"\s*+(\[\[?)([^\[\]]++)\]\]?\s*+(#.*)?")
_KEY = re.compile(r"""\s*((?:[\w-]+|"[^"]*"|'[^']*')(?:\s*\.\s*(?:[\w-]+|"[^"]*"|'[^']*'))*)\s*=""")
_TOKEN = re.compile(
    r'"""(?:\\.|[^\\])*?"""'  # texts first, so that brackets and hashes in them do not count
    r"|'''.*?'''"
    r'|"(?:\\.|[^"\\\n])*"'
    r"|'[^'\n]*'|#[^\n]*|[\[{]|[\]}]",
    re.DOTALL,
)


def line_numbers(text: str) -> dict[Path, int]:
    """The line of every table header and key of a TOML text that has been parsed without error.

    Array tables count from 0: ``("baffle", 1, "at")``. What stands inside an inline table or
    array is not listed; :func:`line_of` then gives the key that holds it.
    """
    found: dict[Path, int] = {}
    counts: dict[Path, int] = {}
    table: Path = ()
    number = start = 0  # the line, counted from 0, and where it starts
    while start < len(text):
        end = text.find("\n", start)
        line = text[start : end if end >= 0 else len(text)]
        more = 0
        header = _HEADER.fullmatch(line.rstrip("\r"))
        key = _KEY.match(line)
        if header:
            table = _table(_split(header[2]), header[1] == "[[", counts)
            found.setdefault(table, number + 1)
            if header[1] == "[[":  # the list itself begins at its first table
                found.setdefault(table[:-1], number + 1)
        elif key:
            found.setdefault(table + _split(key[1]), number + 1)
            more, end = _more_lines(text, start + key.end(), end)
        number += 1 + more
        start = end + 1 if end >= 0 else len(text)
    return found


def line_of(path: Sequence[str | int], numbers: Mapping[Path, int]) -> int | None:
    """The line of a key, or of the nearest table or key that holds it."""
    for end in range(len(path), 0, -1):
        if tuple(path[:end]) in numbers:
            return numbers[tuple(path[:end])]
    return None


def _split(dotted: str) -> Path:
    """The parts of a dotted key, quotes taken off."""
    parts = re.findall(r"""[\w-]+|"[^"]*"|'[^']*'""", dotted)
    return tuple(tomllib.loads(f"k={part}")["k"] if part[0] in "\"'" else part for part in parts)


def _table(parts: Path, is_array: bool, counts: dict[Path, int]) -> Path:
    """The path of a table header, with the number of each array table on the way."""
    path: Path = ()
    for part in parts[:-1]:
        path += (part,)
        if path in counts:
            path += (counts[path] - 1,)
    path += (parts[-1],)
    if is_array:
        counts[path] = counts.get(path, 0) + 1
        path += (counts[path] - 1,)
    return path


def _more_lines(text: str, start: int, end: int) -> tuple[int, int]:
    """How many further lines the value that begins at ``start`` goes on for, and where the last ends.

    ``end`` is where its first line ends, -1 at the end of the text, and so is what is returned.
    """
    if end < 0 or not re.search(r"[\[{]|\"\"\"|'''", text[start:end]):
        return 0, end
    depth, last = 0, start
    for token in _TOKEN.finditer(text, start):
        if depth == 0 and text.find("\n", last, token.start()) >= 0:
            break
        depth += token[0] in "[{"
        depth -= token[0] in "]}"
        last = token.end()
    return text.count("\n", start, last), text.find("\n", last)
