"""Numbers out of the bytes of a delimited text, row by row, without stopping at a bad one.

A row is bad where it is too short or a wanted field is not a number; it is marked, and the next
is read. Numbers of up to 15 digits with a power of ten within 22 are exact to the last bit, as in
W. D. Clinger, "How to Read Floating Point Numbers Accurately", PLDI 1990 (citation from memory).
Time stamps ``2026-05-01T10:00:00.250Z`` become seconds since 1970 (their zone is not looked at).
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.compiled import compiled, compiled_inner

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bytes = NDArray[np.uint8]

__all__ = ["GOOD", "NOT_A_NUMBER", "NUMBER", "SHORT", "STAMP", "read_rows"]

GOOD, SHORT, NOT_A_NUMBER = 0, 1, 2
NUMBER, STAMP = 0, 1
_POWERS = 10.0 ** np.arange(23)
_NEWLINE, _RETURN, _SPACE, _TAB, _QUOTE = 10, 13, 32, 9, 34
_PLUS, _MINUS, _POINT, _COMMA, _ZERO, _NINE = 43, 45, 46, 44, 48, 57


def read_rows(
    data: Bytes, separator: int, slots: Ints, kinds: Ints, first_line: int
) -> tuple[Array, NDArray[np.int8], Ints, int]:
    """Read every row of a block of whole lines.

    data : (B,) uint8   the block; the last line may lack its newline.
    separator : byte between fields.
    slots : (F,) int   for each field of a row the output column, or -1.
    kinds : (C,) int   NUMBER or STAMP for each output column.
    first_line : number of the block's first line in its file.
    Returns values (N, C), NaN where bad; status (N,); line numbers (N,); and the number of lines
    in the block. Blank lines give no row.
    """
    count = int(np.count_nonzero(data == _NEWLINE)) + 1
    values = np.full((count, len(kinds)), np.nan)
    status = np.zeros(count, np.int8)
    lines = np.zeros(count, np.int64)
    rows, passed = _read_rows(data, separator, slots, kinds, values, status, lines, first_line)
    return values[:rows], status[:rows], lines[:rows], passed


@compiled_inner
def _number(data: Bytes, at: int, separator: int) -> tuple[float, int, bool]:
    """Value of the number at ``at``, where it stops, and whether there is one."""
    size = len(data)
    negative = at < size and data[at] == _MINUS
    if at < size and (data[at] == _MINUS or data[at] == _PLUS):
        at += 1
    whole, power, digits, fraction = 0, 0, 0, False
    while at < size:
        c = data[at]
        if _ZERO <= c <= _NINE:
            digits += 1
            if whole < 100_000_000_000_000_000:
                whole = whole * 10 + (c - _ZERO)
                power -= fraction
            else:
                power += not fraction
        elif not fraction and (c == _POINT or (c == _COMMA and separator != _COMMA)):
            fraction = True
        else:
            break
        at += 1
    if digits == 0:
        return np.nan, at, False
    if at < size and (data[at] == 101 or data[at] == 69):  # e, E
        at += 1
        down = at < size and data[at] == _MINUS
        if at < size and (data[at] == _MINUS or data[at] == _PLUS):
            at += 1
        exponent, digits = 0, 0
        while at < size and _ZERO <= data[at] <= _NINE:
            exponent = min(exponent * 10 + (data[at] - _ZERO), 9999)
            digits += 1
            at += 1
        if digits == 0:
            return np.nan, at, False
        power += -exponent if down else exponent
    value = float(whole)
    if 0 <= power <= 22:
        value *= _POWERS[power]
    elif -22 <= power < 0:
        value /= _POWERS[-power]
    else:
        value *= 10.0 ** float(power)
    return (-value if negative else value), at, np.isfinite(value)


@compiled_inner
def _digits(data: Bytes, at: int, count: int) -> int:
    """The unsigned number of exactly ``count`` digits at ``at``, or -1."""
    if at + count > len(data):
        return -1
    value = 0
    for k in range(at, at + count):
        if not _ZERO <= data[k] <= _NINE:
            return -1
        value = value * 10 + (data[k] - _ZERO)
    return value


@compiled_inner
def _stamp(data: Bytes, at: int) -> tuple[float, int, bool]:
    """Seconds since 1970 of ``YYYY-MM-DDThh:mm:ss[.fff]`` at ``at``, where it stops, whether it is one.

    References: days from the civil calendar as in E. M. Reingold and N. Dershowitz, "Calendrical
    Calculations" (from memory).
    """
    year, month, day = _digits(data, at, 4), _digits(data, at + 5, 2), _digits(data, at + 8, 2)
    hour, minute = _digits(data, at + 11, 2), _digits(data, at + 14, 2)
    second = _digits(data, at + 17, 2)
    if min(year, month, day, hour, minute, second) < 0 or not 1 <= month <= 12 or day > 31:
        return np.nan, at, False
    y = year - (month <= 2)
    m = month + 9 if month <= 2 else month - 3
    days = 365 * y + y // 4 - y // 100 + y // 400 + (153 * m + 2) // 5 + day - 719469
    value = float(days * 86400 + hour * 3600 + minute * 60 + second)
    at += 19
    if at < len(data) and (data[at] == _POINT or data[at] == _COMMA):
        at += 1
        scale = 0.1
        while at < len(data) and _ZERO <= data[at] <= _NINE:
            value += scale * (data[at] - _ZERO)
            scale *= 0.1
            at += 1
    while at < len(data) and (data[at] in (90, _PLUS, _MINUS, 58) or _ZERO <= data[at] <= _NINE):
        at += 1
    return value, at, True


@compiled_inner
def _skip_spaces(data: Bytes, at: int, separator: int) -> int:
    while at < len(data) and data[at] != separator and data[at] in (_SPACE, _TAB, _QUOTE, _RETURN):
        at += 1
    return at


@compiled_inner
def _skip_field(data: Bytes, at: int, separator: int) -> int:
    """End of the field: its separator, its line's end or the data's; a separator in quotes is not one."""
    quoted = False
    while at < len(data) and data[at] != _NEWLINE:
        if data[at] == _QUOTE:
            quoted = not quoted
        elif data[at] == separator and not quoted:
            break
        at += 1
    return at


@compiled
def _read_rows(
    data: Bytes,
    separator: int,
    slots: Ints,
    kinds: Ints,
    values: Array,
    status: NDArray[np.int8],
    lines: Ints,
    first_line: int,
) -> tuple[int, int]:
    size, row, line, at = len(data), 0, first_line, 0
    while at < size:
        start = _skip_spaces(data, at, separator)
        if start >= size or data[start] == _NEWLINE:
            at, line = start + 1, line + 1
            continue
        found = 0
        for field in range(len(slots)):
            slot = slots[field]
            if slot >= 0:
                begin = _skip_spaces(data, at, separator)
                if kinds[slot] == STAMP:
                    value, stop, good = _stamp(data, begin)
                else:
                    value, stop, good = _number(data, begin, separator)
                stop = _skip_spaces(data, stop, separator)
                ended = stop >= size or data[stop] == separator or data[stop] == _NEWLINE
                if good and ended:
                    values[row, slot] = value
                else:
                    status[row] = NOT_A_NUMBER
                    stop = _skip_field(data, at, separator)
                found += 1
                at = stop
            else:
                at = _skip_field(data, at, separator)
            if at >= size or data[at] == _NEWLINE:
                break
            at += 1
        if found < len(kinds):
            status[row] = SHORT
        while at < size and data[at] != _NEWLINE:  # fields beyond the header's
            at += 1
        lines[row] = line
        row, line, at = row + 1, line + 1, at + 1
    return row, line - first_line
