"""Pickups, tanks and fills side by side as a document: which is better, and by how much."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

from tanksolve.model.attitude import heading_words
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Sure,
    Table,
    Verdict,
    Words,
    say,
    slope,
)
from tanksolve.present.envelope_document import envelope_keys
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, wall_cautions
from tanksolve.questions.compare import Comparison, Contender, Measure

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["compare_document"]

_MEASURES: dict[Measure, str] = {
    "worst": "the limit over all headings, steepest first",
    "area": "the area of the envelope, greatest first",
    "unusable": "the unusable volume, least first",
}


def compare_document(
    inputs: Sequence[Inputs],
    result: Comparison,
    cautions: Sequence[Words] = (),
    *,
    on_level: bool = True,
) -> Document:
    """Which of several pickups, tanks and fills is best by the measure asked for.

    inputs : of each tank that takes part, each once.
    on_level : whether the unusable volumes are those on level ground, nothing being required.
    """
    each = (words for one in inputs for words in (*one.cautions(), *wall_cautions(one.tank)))
    first: list[Words] = []  # each once; words with numbers have no hash
    first += (words for words in each if words not in first)
    any_kept = any(one.envelope.ok_at_level for one in result.contenders)
    return Document(
        "compare",
        "Which of these is best?",
        Verdict.TOLD if any_kept else Verdict.NO,
        _sentence(result, on_level) if any_kept else say("none is kept on level ground"),
        facts=[
            Fact("ranked by", _MEASURES[result.ranked_by]),
            Fact("limits", "rounded down, unusable volumes up", Sure.BOUND),
        ],
        tables=[_table(result)],
        cautions=(*first, *cautions, *TANK_CAUTIONS),
        understood=_understood(inputs),
        figures={"plan": lambda: _figure(inputs[0], result)},
        data={
            "contenders": [_keys(one) for one in result.contenders],
            "ranked_by": result.ranked_by,
        },
    )


def _understood(inputs: Sequence[Inputs]) -> list[Fact]:
    """Each tank, and what the contenders share once; fills are in the contenders' names."""
    told: list[Fact] = []
    for one in inputs:
        told += [f for f in one.facts() if f.brief and f.label != "liquid" and f not in told]
    return told


def _sentence(result: Comparison, on_level: bool) -> Said:
    best, *others = result.contenders
    told: dict[str, Quantity | str] = {"best": best.name, **_figures_of(best, "")}
    ground = "on level ground" if on_level else "at what is required"
    words = "{best} is best: kept in every heading up to {held}, {unusable} unusable " + ground
    if others:
        told |= {"next": others[0].name, **_figures_of(others[0], "next_")}
        words += "; then {next}: {next_held}, {next_unusable}"
    return Said(words, told)


def _figures_of(one: Contender, prefix: str) -> dict[str, Quantity]:
    return {
        f"{prefix}held": slope(math.radians(one.worst_held_to_deg), "down"),
        f"{prefix}unusable": Quantity(one.unusable_m3, "volume", "up"),
    }


def _table(result: Comparison) -> Table:
    columns = (
        Column("rank", "count"),
        Column("contender"),
        Column("every heading up to", "slope", "down"),
        Column("machine stands"),
        Column("set by"),
        Column("mean of headings", "slope", "down", brief=False),
        Column("area [square degrees]", "count", brief=result.ranked_by == "area"),
        Column("unusable", "volume", "up"),
    )
    return Table("", columns, [_row(one) for one in result.contenders])


def _row(one: Contender) -> tuple[Cell, ...]:
    worst = one.envelope.worst
    where = heading_words(math.radians(worst.heading_deg)) if worst.limited else None
    return (
        one.rank,
        one.name,
        math.radians(one.worst_held_to_deg),
        where if one.envelope.ok_at_level else "not kept on level ground",
        worst.port,
        math.radians(one.mean_deg),
        one.area_deg2,
        one.unusable_m3,
    )


def _keys(one: Contender) -> dict[str, object]:
    return {
        "name": one.name,
        "rank": one.rank,
        "worst_held_to_deg": one.worst_held_to_deg,
        "mean_deg": one.mean_deg,
        "area_deg2": one.area_deg2,
        "unusable_m3": one.unusable_m3,
        "envelope": envelope_keys(one.envelope),
    }


def _figure(inputs: Inputs, result: Comparison) -> "Figure":
    from tanksolve.present.comparison import comparison_figure

    return comparison_figure(result, note=inputs.first_note)
