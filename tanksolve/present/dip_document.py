"""The dipstick table as a document."""

from tanksolve.present.document import Column, Document, Quantity, Sure, Table, Verdict, say
from tanksolve.present.understood import Inputs
from tanksolve.questions.dip import DipTable
from tanksolve.record import as_plain

__all__ = ["dip_document"]

_BRIEF = 11  # rows of a table that fits a screen


def dip_document(inputs: Inputs, table: DipTable) -> Document:
    """Depth against volume, standing level, from the lowest point of the liquid."""
    full = table.capacity_m3
    rows = [(row.depth_m, row.volume_m3, row.volume_m3 / full) for row in table.rows]
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
                [
                    Column("depth", "length", tape=True),
                    Column("volume", "volume"),
                    Column("of full", "share"),
                ],
                rows,
                _spread(len(rows)),
            )
        ],
        cautions=("depths are for a tank standing level, from the lowest point of the liquid",),
        understood=inputs.facts(),
        data=as_plain(table),
    )


def _spread(rows: int) -> list[int]:
    """At most so many rows at equal steps, the first and the last among them."""
    step = -(-(rows - 1) // (_BRIEF - 1))
    return sorted({*range(0, rows, max(1, step)), rows - 1})
