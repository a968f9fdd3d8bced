"""The commissioning sheet as a document: what to measure, to pour and to tilt before a figure is trusted."""

import math
from collections.abc import Iterator

from tanksolve.model.attitude import heading_words
from tanksolve.model.ports import Rule
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Table,
    Verdict,
    say,
    slope,
)
from tanksolve.present.understood import Inputs, mouth_cell, mouth_column
from tanksolve.questions.sheet import Place, PourRow, Sheet, TiltRow, steps
from tanksolve.record import as_plain
from tanksolve.units import slope_words

__all__ = ["how_far", "sheet_document"]

_HOW_FAR = (
    "each side is tilted to half its tank limit, or as far as is required where that stays "
    f"{slope_words(math.radians(2.0))} inside it; never past {slope_words(math.radians(15.0))}"
)


_OVER = (
    "'Over centre' is liquid straight up over the centre of the opening; the margin is that less half the "
    "mouth's reach and the cover asked for."
)


def how_far(sheet: Sheet) -> str:
    """How far each side is tilted; the one angle where all are alike."""
    slopes = {round(row.slope_deg, 6) for row in sheet.tilts}
    if len(slopes) == 1 and min(slopes) > 0.0:
        return f"tilt each side to {slope_words(math.radians(slopes.pop()))}"
    return _HOW_FAR


def sheet_document(inputs: Inputs, sheet: Sheet) -> Document:
    """The whole sheet; its table for CSV is the one of dips. Blank columns are filled in by hand."""
    return Document(
        "sheet",
        say("Commissioning sheet: {tank}", tank=sheet.tank),
        Verdict.TOLD if sheet.holds_on_level_ground else Verdict.NO,
        _sentence(sheet),
        facts=tuple(_facts(sheet)),
        tables=[_pours(sheet), _places(sheet), _tilts(sheet)],
        cautions=(*inputs.cautions(), *sheet.cautions),
        understood=inputs.facts(),
        data=as_plain(sheet),
    )


def _sentence(sheet: Sheet) -> Said:
    if not sheet.holds_on_level_ground:
        return say("a port breaks its rule on level ground already: mend that first")
    count = f"Check {len(sheet.pours)} dips and {len(sheet.tilts)} tilts"
    worst = sheet.worst
    if worst is None:
        return say(count + " on the real machine before any figure is trusted")
    held = slope(math.radians(worst.slope_deg), "down")
    if not worst.limited:
        return say(
            count
            + " on the real machine before any figure is trusted; no port breaks its rule up to {held}",
            held=held,
        )
    return say(
        count + " on the machine before the lowest tank limit, {held}, {side}, {port}, is trusted",
        held=held,
        port=worst.port or "a port",
        side=heading_words(math.radians(worst.heading_deg)),
    )


def _facts(sheet: Sheet) -> Iterator[Fact]:
    blanks = "____________________  date ____________  checked by ____________________"
    yield Fact("machine", blanks, brief=False)
    for k, step in enumerate(steps(sheet.below_floor_m), 1):
        yield Fact("how", _step(sheet, f"{k}. {step}"), brief=False)
    yield Fact("how", how_far(sheet), brief=False)
    length, width, height = (Quantity(size, "length") for size in sheet.inside_m)
    below = {"below": Quantity(sheet.below_floor_m, "length")} if sheet.below_floor_m > 1e-6 else {}
    sump = ", {below} of it below the floor" if below else ""
    yield Fact(
        "inside",
        say(
            "{length} long, {width} wide, {height} high"
            + sump
            + ", end to end; measured ____________",
            length=length,
            width=width,
            height=height,
            **below,
        ),
        brief=False,
    )
    if sheet.worst is not None and sheet.worst.limited:
        yield Fact(
            "lowest limit",
            "over all headings; it may lie between the four sides below, and that one counts",
            brief=False,
        )


def _step(sheet: Sheet, step: str) -> Said:
    """A step with its amounts."""
    least_dip, most_dip = (Quantity(dip, "length", tape=True) for dip in sheet.fill_dip_m)
    values = {
        "least": Quantity(sheet.fill.least, "volume"),
        "most": Quantity(sheet.fill.most, "volume"),
        "least_dip": least_dip,
        "most_dip": most_dip,
        "below": Quantity(sheet.below_floor_m, "length"),
    }
    return Said(step, {name: value for name, value in values.items() if f"{{{name}}}" in step})


def _pours(sheet: Sheet) -> Table:
    columns = (
        Column("poured in all, standing level", "volume"),
        Column("dip predicted", "length", tape=True),
        Column("dip read", write=True),
        Column("off by more than", "rough length", "up"),
    )
    return Table("", columns, [_pour(row) for row in sheet.pours], brief=())


def _pour(row: PourRow) -> tuple[Cell, ...]:
    return row.poured_m3, row.dip_m, "", row.differs_m


def _places(sheet: Sheet) -> Table:
    all_round = all(place.round for place in sheet.places)
    columns = (
        Column("port"),
        Column("from the rear wall", "length"),
        Column("from the right wall", "length"),
        Column("above the floor", "length"),
        mouth_column(all_round),
        Column("measured", write=True),
    )
    return Table("", columns, [_place(place, all_round) for place in sheet.places], brief=())


def _place(place: Place, all_round: bool) -> tuple[Cell, ...]:
    mouth = mouth_cell(place.bore_m, place.round, all_round)
    return (f"{place.port} ({place.kind})", *place.from_rear_right_floor_m, mouth, "")


def _tilts(sheet: Sheet) -> Table:
    columns = (
        Column("tilted to"),
        Column("slope", "slope"),
        Column("port"),
        Column("tank limit", "slope", "down", brief=False),
        Column("over centre", "length"),
        Column("margin", "length", "down"),
        Column("read", brief=False, write=True),
        Column("off by more than", "rough length", "up"),
    )
    rows = [_tilt(row) for row in sheet.tilts]
    return Table(f"{sheet.verdict} {_OVER}", columns, rows, brief=range(min(len(rows), 2)))


def _tilt(row: TiltRow) -> tuple[Cell, ...]:
    limit = None if row.limit_deg is None else math.radians(row.limit_deg)
    looked_at = row.rule == Rule.DRY  # nothing is measured there
    over, differs = (None, None) if looked_at else (row.over_centre_m, row.differs_m)
    return (
        "level" if row.slope_deg == 0.0 else row.side,
        math.radians(row.slope_deg),
        *(row.port, limit, over, row.margin_m, "", differs),
    )
