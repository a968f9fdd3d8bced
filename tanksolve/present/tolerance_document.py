"""Limits with everything off the bad way, and what each error takes, as a document."""

import math
from typing import TYPE_CHECKING

from tanksolve.model.attitude import heading_words
from tanksolve.model.requirement import Requirement
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
    joined,
    say,
    slope,
)
from tanksolve.present.required import steepest_deg
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, wall_cautions
from tanksolve.questions.tolerance.tolerance import SHARES, Toleranced, ToleranceTable
from tanksolve.record import as_plain

if TYPE_CHECKING:
    from collections.abc import Sequence

    from matplotlib.figure import Figure

__all__ = ["tolerance_document"]

_WORST = "worst heading"


def tolerance_document(
    inputs: Inputs,
    result: ToleranceTable,
    cautions: "Sequence[Words]" = (),
    requirement: Requirement | None = None,
) -> Document:
    """What is left of the limits with everything off the bad way at once, and whether it is enough.

    requirement : kept where its steepest slope is within what is left of the worst heading; else it is not
        known, as what is left is a bound, and the worst heading may not be required.
    """
    lost = any(limit.adverse_deg == 0.0 for limit in result.limits)

    def picture() -> "Figure":
        from tanksolve.present.tolerance_view import tolerance_figure

        return tolerance_figure(result, note=inputs.first_note)

    return Document(
        "tolerance",
        "What is surely left of the limits with everything off the bad way?",
        Verdict.NO if lost else _judged(result, requirement),
        _sentence(result, lost, requirement),
        facts=(
            Fact("off by", f"{', '.join(result.tolerances.words())}, either way"),
            Fact(
                "limits",
                "all off the bad way, rounded down: walls, plates and openings each any way, "
                "both axes of the inclinometer",
                Sure.BOUND,
            ),
            Fact(
                "shares",
                "what each takes by itself, by derivative at the nominal limit",
                Sure.SOLVED,
                brief=False,
            ),
            *_why_no_share(result),
        ),
        tables=[_table(result)],
        cautions=(*inputs.cautions(), *cautions, *wall_cautions(inputs.tank), *TANK_CAUTIONS),
        understood=inputs.facts(),
        figures={"limits": picture},
        data=as_plain(result),
    )


def _worst(result: ToleranceTable) -> Toleranced:
    return next((one for one in result.limits if one.side == _WORST), result.limits[-1])


def _judged(result: ToleranceTable, requirement: Requirement | None) -> Verdict:
    if requirement is None:
        return Verdict.TOLD
    left = _worst(result).adverse_deg
    kept = steepest_deg(requirement) <= (result.searched_to_deg if left is None else left) + 1e-9
    return Verdict.YES if kept else Verdict.UNKNOWN


def _sentence(result: ToleranceTable, lost: bool, requirement: Requirement | None) -> Said:
    if lost:
        return say("with everything off the bad way a rule is broken on level ground already")
    told = _left_said(result)
    if requirement is None:
        return told
    kept = _judged(result, requirement) is Verdict.YES
    first = say(
        ("kept" if kept else "not proved") + " in {required}", required="; ".join(requirement.words)
    )
    return joined(". ", first, told)


def _left_said(result: ToleranceTable) -> Said:
    worst = _worst(result)
    end = slope(math.radians(result.searched_to_deg), "down")
    if worst.adverse_deg is None:
        return say("With everything off the bad way no port breaks its rule up to {end}", end=end)
    told: dict[str, Quantity | str] = {
        "left": slope(math.radians(worst.adverse_deg), "down"),
        "port": worst.port or "a port",
        "nominal": end
        if worst.nominal_deg is None
        else slope(math.radians(worst.nominal_deg), "down"),
    }
    before = "more than {nominal}" if worst.nominal_deg is None else "{nominal}"
    return say(
        "With everything off the bad way the worst limit is {left}, set by {port}, instead of "
        + before,
        **told,
    )


def _table(result: ToleranceTable) -> Table:
    names = [name for name in SHARES if name in result.limits[0].shares_deg]
    columns = (
        Column("side"),
        Column("heading", "angle", brief=False),
        Column("nothing off", "slope", "down"),
        Column("all off the bad way", "slope", "down"),
        Column("port"),
        *(column for name in names for column in _share_columns(SHARES[name])),
    )
    return Table("", columns, [_row(limit, names) for limit in result.limits])


def _row(limit: Toleranced, names: list[str]) -> tuple[Cell, ...]:
    heading = limit.heading_deg
    side = limit.side
    if side == _WORST and heading is not None:
        side = f"worst: {heading_words(math.radians(heading))}"
    shares = [share for name in names for share in _share(limit, name)]
    return (
        side,
        None if heading is None else math.radians(heading),
        None if limit.nominal_deg is None else math.radians(limit.nominal_deg),
        None if limit.adverse_deg is None else math.radians(limit.adverse_deg),
        limit.port,
        *shares,
    )


def _share_columns(title: str) -> tuple[Column, Column]:
    return Column(title, "small angle", brief=False), Column("in grade", "share", brief=False)


def _share(limit: Toleranced, name: str) -> tuple[float | None, float | None]:
    """What a tolerance takes of a nominal limit: [rad], and as a share of grade there."""
    share = limit.shares_deg[name]
    if share is None or limit.nominal_deg is None:
        return None, None
    angle = math.radians(share)
    return angle, angle / math.cos(math.radians(limit.nominal_deg)) ** 2


def _why_no_share(result: ToleranceTable) -> list[Fact]:
    """Why a '-' stands where a figure was asked for."""
    said: list[Fact] = []
    free = [limit for limit in result.limits if limit.nominal_deg is None]
    if free:
        jump = any(limit.port is not None for limit in free)
        said.append(
            Fact(
                "-",
                say(
                    "no port breaks its rule there up to {end}, so there is no limit to take from"
                    + (
                        "; a limit with all off is jumped to, no derivative tells of it"
                        if jump
                        else ""
                    ),
                    end=slope(math.radians(result.searched_to_deg), "down"),
                ),
            )
        )
    if any(limit.nominal_deg == 0.0 for limit in result.limits):
        said.append(Fact("-", "no share: broken on level ground with nothing off"))
    return said
