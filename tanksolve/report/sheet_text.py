"""The commissioning sheet as a page of text (Markdown), to be printed and filled in by hand."""

import math
from collections.abc import Sequence

from tanksolve.analysis.sheet import PourRow, Sheet, TiltRow
from tanksolve.report.style import fill_words
from tanksolve.units import length_words, slope_words, volume_words

__all__ = ["sheet_text"]


def sheet_text(sheet: Sheet, unit: str = "L") -> str:
    """Write the whole sheet; ``unit`` of volumes is ``L``, ``gal`` or ``imperial_gallon``."""
    parts = [
        f"# Commissioning sheet: {sheet.tank}",
        "Check these on the real machine before any figure is trusted.",
        f"Tank {volume_words(sheet.capacity_m3, unit)}; fill {fill_words(sheet.fill, unit)}.",
        "Machine: ____________________  Date: ____________  Checked by: ____________________",
        "## How",
        "\n".join(f"{k}. {words}" for k, words in enumerate(sheet.instructions, 1)),
        "## Dip after each pour, standing level",
        _table(
            ("poured in all", "dip predicted", "dip read", "differs by more than"),
            [_pour(row, unit) for row in sheet.pours],
        ),
        "## Tilt test",
        *_not_held(sheet),
        _table(
            (
                *("tilt", "port", "tank limit", "surface over its centre"),
                *("margin", "read", "differs by more than"),
            ),
            [_tilt(row) for row in sheet.tilts],
        ),
        f"**{sheet.verdict}**",
        "## Cautions",
        "\n".join(f"- {caution}" for caution in sheet.cautions),
    ]
    return "\n\n".join(parts) + "\n"


def _not_held(sheet: Sheet) -> list[str]:
    if sheet.holds_on_level_ground:
        return []
    return ["**A port breaks its rule on level ground already: mend that first.**"]


def _table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    widths = [max(len(row[i]) for row in (columns, *rows)) for i in range(len(columns))]
    lines = [
        "| " + " | ".join(cell.ljust(w) for cell, w in zip(row, widths, strict=True)) + " |"
        for row in (columns, *rows)
    ]
    rule = "|" + "|".join("-" * (width + 2) for width in widths) + "|"
    return "\n".join([lines[0], rule, *lines[1:]])


def _pour(row: PourRow, unit: str) -> tuple[str, ...]:
    return (
        volume_words(row.poured_m3, unit),
        length_words(row.dip_m),
        "",
        f"{math.ceil(1000.0 * row.differs_m)} mm",
    )


def _tilt(row: TiltRow) -> tuple[str, ...]:
    side = "level" if row.slope_deg == 0.0 else row.side
    limit = "none found" if row.limit_deg is None else f"{math.floor(10 * row.limit_deg) / 10:.1f}°"
    over = length_words(abs(row.over_centre_m))
    return (
        f"{side} {slope_words(math.radians(row.slope_deg))}",
        row.port,
        limit,
        over if row.over_centre_m >= 0.0 else f"{over} below it",
        length_words(row.margin_m),
        "",
        f"{math.ceil(1000.0 * row.differs_m)} mm",
    )
