"""Dotted keys of a tank file, and values put in their places.

``port.suction.at.up`` is the third length of ``at`` in the ``[[port]]`` named suction; ``baffle.2.at`` the
``at`` of the second plate; ``port."no. 1".bore`` a name with a dot in it.
"""

import re
from collections.abc import Mapping, Sequence
from typing import Any

from tanksolve.errors import FileFormatError, TanksolveError
from tanksolve.units import split_quantity

__all__ = ["Step", "apply", "found", "path_of", "shown"]

Step = str | int
_PARTS = re.compile(r"""\s*(?:"([^"\n]+)"|'([^'\n]+)'|([^."'\n]+?))\s*(\.|$)""")
_SIDES = {"forward": 0, "left": 1, "up": 2}
_DEEPEST = 8


def path_of(key: str, tables: Mapping[str, Any], where: str) -> tuple[Step, ...]:
    """The place that a dotted key names in a tank file's tables; lists are counted from 0.

    Raises FileFormatError for a key that cannot be read, or a table of a list that is not there.
    """
    path: list[Step] = []
    at: Any = tables
    for part in _parts(key, where):
        step: Step = part
        if isinstance(at, list):
            step = _numbered(part, at, key, where)
            at = at[step]
        else:
            at = at.get(part) if isinstance(at, Mapping) else None
        path.append(step)
    return tuple(path)


def _parts(key: str, where: str) -> list[str]:
    parts: list[str] = []
    at = 0
    while at < len(key):
        match = _PARTS.match(key, at)
        if match is None or len(parts) >= _DEEPEST or match.end() == at:
            break
        parts.append(match[1] or match[2] or match[3])
        at = match.end()
        if match[4] == "" and at == len(key):
            return parts
    raise FileFormatError(
        f"'{key}' is no key of a tank file",
        where=where,
        allowed="names with dots between, as in tank.length, port.suction.at.up, baffle.2.at",
    )


def _numbered(part: str, tables: Sequence[Any], key: str, where: str) -> int:
    names = [table.get("name") if isinstance(table, Mapping) else None for table in tables]
    if part in names:
        return names.index(part)
    if part.isdecimal() and 1 <= int(part[:9]) <= len(tables):
        return int(part) - 1
    known = ", ".join(f"'{name}'" for name in names if name)
    raise FileFormatError(
        f"'{key}': there is no '{part}' in the tank file",
        where=where,
        allowed=f"a number from 1 to {len(tables)}" + (f", or a name: {known}" if known else ""),
    )


def found(path: Sequence[Step], tables: Mapping[str, Any]) -> Any:
    """What stands at a place; None where nothing does."""
    at: Any = tables
    for step in path:
        if isinstance(step, int):
            at = at[step] if isinstance(at, list) else None
        elif isinstance(at, Mapping):
            at = at.get(str(step))
        else:
            return None
    return at


def apply(
    tables: dict[str, Any], path: Sequence[Step], value: Any
) -> tuple[tuple[Step, ...], object]:
    """Put a value at a place in ``tables``; returns the place of the key, and what was written there.

    A place in the tank (``at``) takes a single length for one side: forward, left or up.
    Raises FileFormatError, QuantityError where that cannot be.
    """
    table: Any = tables  # a table, or a list of them
    for number, step in enumerate(path[:-1], start=2):
        under = table.get(step) if isinstance(table, dict) else table[step]
        if number == len(path) and isinstance(under, str) and path[-1] in _SIDES:
            table[step] = _with_side(under, _SIDES[str(path[-1])], value)
            return tuple(path[:-1]), table[step]
        if under is None and isinstance(table, dict):
            under = table[step] = {}
        if not isinstance(under, dict | list):
            raise FileFormatError(
                f"'{step}' is {under!r} and holds no '{path[-1]}'",
                allowed="a place's own forward, left or up, as in port.suction.at.up",
            )
        table = under
    if isinstance(table, list) and not isinstance(path[-1], int):
        raise FileFormatError(f"'{shown(path)}' is a list", allowed="its number from 1, or a name")
    table[path[-1]] = value
    return tuple(path), value


def _with_side(place: str, side: int, value: object) -> str:
    """``"150, 150, -10 mm"`` with one of its lengths another; the unit stays the place's."""
    items = [item.strip() for item in place.split(",")]
    if side >= len(items):
        raise FileFormatError(f"'{place}' has no such side", allowed="forward, left")
    numbers = [split_quantity(item) for item in items]
    unit = numbers[-1][1]
    try:
        number, own = split_quantity(str(value))
    except TanksolveError as error:
        raise FileFormatError(error.what, allowed=f"a length in {unit}") from None
    if own != unit or any(other not in ("", unit) for _, other in numbers):
        raise FileFormatError(
            f"'{value}' goes into the place '{place}', which is in {unit}",
            allowed=f"a length in {unit}",
            next_step=f"write the values in {unit}",
        )
    items[-1] = items[-1].removesuffix(unit).strip()
    items[side] = f"{number:.10g}"
    return f"{', '.join(items)} {unit}"


def shown(path: Sequence[Step]) -> str:
    """A place as people write it, counted from 1."""
    return ".".join(str(step + 1) if isinstance(step, int) else step for step in path)
