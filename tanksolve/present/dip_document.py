"""The dipstick table as a document."""

from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Quantity,
    Sure,
    Table,
    Verdict,
    Words,
    say,
)
from tanksolve.present.understood import Inputs
from tanksolve.questions.dip import DipTable
from tanksolve.record import as_plain

__all__ = ["dip_document"]

_BRIEF = 11  # rows of a table that fits a screen


def dip_document(inputs: Inputs, table: DipTable) -> Document:
    """Depth against volume, standing level, from the lowest point of the liquid."""
    full = table.capacity_m3
    rows: list[tuple[Cell, ...]] = [
        (row.depth_m, row.volume_m3, row.volume_m3 / full) for row in table.rows
    ]
    columns = [
        Column("depth", "length", tape=True),
        Column("volume", "volume"),
        Column("of full", "share"),
    ]
    cautions: list[Words] = [
        "depths are for a tank standing level, from the lowest point of the liquid"
    ]
    if not table.one_level:
        columns[1] = Column("at one level", "volume")
        columns += [
            Column("holds at least", "volume", "down"),
            Column("holds at most", "volume", "up"),
        ]
        rows = [
            (*row, each.at_least_m3, each.at_most_m3)
            for row, each in zip(rows, table.rows, strict=True)
        ]
        cautions.append(
            f"walls part the liquid: a dipstick {table.stick} tells of its own bay; what the tank then holds, "
            "however it was filled, stands between the last two columns"
        )
    return Document(
        "dip",
        "What does a dipstick say, standing level?",
        Verdict.TOLD,
        say(
            "Standing level the full tank holds {volume}, {depth} deep ({sure}).",
            volume=Quantity(full, "volume"),
            depth=Quantity(table.depth_full_m, "length", tape=True),
            sure=Sure.SOLVED.value,
        ),
        tables=[
            Table(
                "",
                columns,
                rows,
                _spread(len(rows)),
            )
        ],
        cautions=cautions,
        understood=inputs.facts(),
        data=as_plain(table),
    )


def _spread(rows: int) -> list[int]:
    """At most so many rows at equal steps, the first and the last among them."""
    step = -(-(rows - 1) // (_BRIEF - 1))
    return sorted({*range(0, rows, max(1, step)), rows - 1})
