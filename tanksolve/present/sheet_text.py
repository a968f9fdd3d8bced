"""The commissioning sheet as a page of text (Markdown), to be printed and filled in by hand."""

import math
from collections.abc import Sequence

from tanksolve.model.attitude import uphill_words
from tanksolve.present.style import fill_words
from tanksolve.questions.sheet import Place, PourRow, Sheet, TiltRow
from tanksolve.unit_systems import told
from tanksolve.units import length_words, limit_words, slope_words, volume_words

__all__ = ["sheet_text"]


def sheet_text(sheet: Sheet, unit: str | None = None) -> str:
    """Write the whole sheet; ``unit`` of volumes is ``L``, ``gal`` or ``imperial_gallon``."""
    parts = [
        f"# Commissioning sheet: {sheet.tank}",
        "Check these on the real machine before any figure is trusted.",
        f"Tank {volume_words(sheet.capacity_m3, unit)}; fill {fill_words(sheet.fill, unit)}.",
        "Machine: ____________________  Date: ____________  Checked by: ____________________",
        "## How",
        "\n".join(f"{k}. {words}" for k, words in enumerate(sheet.instructions, 1)),
        "## Places to measure",
        f"Inside, end to end: {_sizes(sheet)} (length, width, height).",
        _table(
            (
                "port",
                "from the rear wall",
                "from the right wall",
                "above the floor",
                "bore",
                "measured",
            ),
            [_place(place) for place in sheet.places],
        ),
        "## Dip after each pour, standing level",
        _table(
            ("poured in all", "dip predicted", "dip read", "differs by more than"),
            [_pour(row, unit) for row in sheet.pours],
        ),
        "## Tilt test",
        *_not_held(sheet),
        _table(
            (
                *("tilt", "port", "tank limit", "surface from the centre"),
                *("margin", "read", "differs by more than"),
            ),
            [_tilt(row, sheet.searched_to_deg) for row in sheet.tilts],
        ),
        *_worst(sheet),
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


def _sizes(sheet: Sheet) -> str:
    return " x ".join(length_words(size) for size in sheet.inside_m)


def _place(place: Place) -> tuple[str, ...]:
    bore = "-" if place.bore_m is None else length_words(place.bore_m)
    return (
        f"{place.port} ({place.kind})",
        *(length_words(c) for c in place.from_rear_right_floor_m),
        bore,
        "",
    )


def _worst(sheet: Sheet) -> list[str]:
    """The lowest limit of all headings."""
    said = []
    if sheet.worst is not None and sheet.worst.limited:
        said.append(
            f"The lowest tank limit over all headings is {limit_words(sheet.worst.slope_deg)}, "
            f"with uphill at {uphill_words(sheet.worst.heading_deg, 1)}, set by {sheet.worst.port}. "
            "It may lie between the four sides above: that one counts."
        )
    elif sheet.worst is not None:
        said.append(f"No port gives out at any heading up to {limit_words(sheet.worst.slope_deg)}.")
    return said


def _pour(row: PourRow, unit: str | None) -> tuple[str, ...]:
    return (
        volume_words(row.poured_m3, unit),
        length_words(row.dip_m),
        "",
        told(row.differs_m, "rough length", "up"),
    )


def _tilt(row: TiltRow, searched_to: float) -> tuple[str, ...]:
    side = "level" if row.slope_deg == 0.0 else row.side
    limit = f"none up to {limit_words(searched_to)}"
    if row.limit_deg is not None:
        limit = limit_words(row.limit_deg)
    over = length_words(abs(row.over_centre_m))
    return (
        f"{side} {slope_words(math.radians(row.slope_deg))}",
        row.port,
        limit,
        f"{over} {'above' if row.over_centre_m >= 0.0 else 'below'}",
        length_words(row.margin_m),
        "",
        told(row.differs_m, "rough length", "up"),
    )
