"""Tables of headings for a reader: a heading and its mirror image in one row where they tell the same."""

import math
from collections.abc import Sequence

from tanksolve.present.document import Cell, Column
from tanksolve.present.wording import cell_words

__all__ = ["sides_once"]

Row = Sequence[Cell]


def sides_once(
    columns: Sequence[Column], rows: Sequence[Row], stands: int, heading: int
) -> list[Row]:
    """The rows, the two sides of one slope in one where all other cells read alike; headings in words.

    stands, heading : which columns say how the machine stands, in words, and the heading [rad] or None.
    """
    told = [[cell_words(c, cell) for c, cell in zip(columns, row, strict=True)] for row in rows]
    rest = [tuple(w for j, w in enumerate(one) if j not in (stands, heading)) for one in told]
    keys = [(_whole(row[heading]), other) for row, other in zip(rows, rest, strict=True)]
    at = {key: k for k, key in enumerate(keys)}
    folded: list[Row] = []
    for k, (row, (one, other)) in enumerate(zip(rows, keys, strict=True)):
        cells = list(row)
        cells[heading] = told[k][heading]
        mirror = None if one is None or one % 18000 == 0 else at.get((36000 - one, other))
        if mirror is not None and mirror < k:
            continue
        if mirror is not None:
            words = told[k][stands].replace("left side", "right side")
            cells[stands] = words.replace("right", "left or right")
            cells[heading] = f"{told[k][heading]} and {told[mirror][heading]}"
        folded.append(cells)
    return folded


def _whole(heading: Cell) -> int | None:
    """A heading [rad] in whole hundredths of a degree; None where there is none."""
    return round(100.0 * math.degrees(heading)) % 36000 if isinstance(heading, float) else None
