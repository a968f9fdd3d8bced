"""The smallest tank that meets a requirement, and what a sump would gain, as a document."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tanksolve.model.liquid import Fill
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
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
)
from tanksolve.present.marks_document import required_facts, set_by_said
from tanksolve.present.style import fill_words
from tanksolve.present.understood import TANK_CAUTIONS, Inputs, wall_cautions
from tanksolve.present.wording import words
from tanksolve.questions.size.size import Smallest
from tanksolve.questions.size.sump_gain import SumpGain
from tanksolve.record import as_plain
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["SizeAnswer", "size_document"]

_SUMP = (
    "what the sump gains is for one free surface: on a slope the floor beside a sump may run dry, and the "
    "pump then has only what the sump holds"
)


@dataclass(frozen=True)
class SizeAnswer:
    """What was solved: the sizes, for a fill that stays or a usable volume [m³], and a sump's gain."""

    tank: Tank
    sizes: Sequence[Smallest]
    requirement: Requirement
    fill: Fill | None
    usable: float | None
    gain: SumpGain | None = None

    @property
    def wanted(self) -> str:
        """What the tank is sized for, in words."""
        if self.usable is not None:
            return f"{volume_words(self.usable)} between the marks"
        return f"{fill_words(self.fill)} in it" if self.fill is not None else ""


def size_document(inputs: Inputs, found: SizeAnswer, cautions: Sequence[Words] = ()) -> Document:
    """How small the tank may be along each dimension, the others kept."""
    sump = (_SUMP,) if found.gain is not None else ()

    def picture() -> "Figure":
        from tanksolve.present.size_view import size_figure

        return size_figure(
            found.tank,
            list(found.sizes),
            found.requirement,
            wanted=found.wanted,
            note=inputs.first_note,
        )

    met = any(one.smallest_m is not None or one.meets_now for one in found.sizes)
    return Document(
        "size",
        "How small may the tank be?",
        Verdict.TOLD if met else Verdict.NO,
        _sentence(found, met),
        facts=(*required_facts(found.requirement), *_facts(found)),
        tables=[_table(found.sizes)],
        cautions=(
            *inputs.cautions(math.inf),  # the tank may be filled higher than the fill given
            *cautions,
            *wall_cautions(inputs.tank),
            *sump,
            *TANK_CAUTIONS,
        ),
        understood=inputs.facts(),
        figures={"sizes": picture},
        data={
            "requirement": found.requirement.words,
            "source": found.requirement.source,
            "sizes": as_plain(found.sizes),
            "sump": as_plain(found.gain),
        },
    )


def _sentence(found: SizeAnswer, met: bool) -> Said:
    if not met:
        return say(
            "no size up to 50 times the present one keeps the requirement with {wanted}",
            wanted=found.wanted,
        )
    solved = [one for one in found.sizes if one.told_m is not None]
    if not solved:
        return say(
            "Any size down to 2 % of the present one will do, with {wanted}", wanted=found.wanted
        )
    told: dict[str, Quantity | str] = {"wanted": found.wanted}
    parts = []
    for one in solved:
        told[one.dimension] = Quantity(one.told_m, "length", "up")
        told[f"{one.dimension}_now"] = Quantity(one.now_m, "length")
        parts.append(f"{one.dimension} {{{one.dimension}}} (now {{{one.dimension}_now}})")
    return say("With {wanted}, at least one of: " + ", ".join(parts) + ", the others kept", **told)


def _table(sizes: Sequence[Smallest]) -> Table:
    columns = (
        Column("vary"),
        Column("now", "length"),
        Column("smallest, solved", "length", "up"),
        Column("proved", "length", "up"),
        Column("ends on"),
        Column("to spare", "volume", "down"),
    )
    return Table("", columns, [_row(one) for one in sizes])


def _row(one: Smallest) -> tuple[Cell, ...]:
    if one.smallest_m is None:
        told = "met down to 2 % of it" if one.meets_now else "not met up to 50 times it"
        return one.dimension, one.now_m, None, None, told, None
    ends = {"rule": "a rule", "capacity": "a jump", "port": "a jump"}[one.ends_on or "rule"]
    spare = one.residual_m3 if one.jump_words else None
    return one.dimension, one.now_m, one.smallest_m, one.held_m, ends, spare


def _facts(found: SizeAnswer) -> list[Fact]:
    facts = [_set_by(one, found.usable) for one in found.sizes if one.smallest_m is not None]
    facts.append(
        Fact(
            "ports",
            "keep to their nearer walls; one that sits on a part or wall inside the enclosing box moves "
            "with it as the tank is stretched",
            brief=False,
        )
    )
    if any(one.factor is None and not one.meets_now for one in found.sizes):
        facts.append(
            Fact(
                "not met",
                "every step of a quarter up to 50 times the present size was tried; a smaller size, or one "
                "between two steps, is not ruled out",
            )
        )
    if any(one.factor is not None for one in found.sizes):
        facts.append(
            Fact(
                "smallest",
                "of the sizes that lead up to it without a break from the present one; a smaller one "
                "further off is not ruled out",
                brief=False,
            )
        )
    gain = found.gain
    if gain is not None:
        facts.append(
            Fact(
                "sump",
                say(
                    "adds {adds}; with the pickup lowered into it the least fill is {after} instead of "
                    "{before}: {gain} "
                    + ("less" if gain.gain_m3 >= 0.0 else "more")
                    + " is unusable",
                    adds=Quantity(gain.adds_m3, "volume"),
                    after=Quantity(gain.least_after_m3, "volume"),
                    before=Quantity(gain.least_before_m3, "volume"),
                    gain=Quantity(abs(gain.gain_m3), "volume"),
                ),
            )
        )
    return facts


def _set_by(one: Smallest, usable: float | None) -> Fact:
    if not one.jump_words:
        told = "; ".join(words(set_by_said(by)) for by in one.set_by)
        return Fact(
            one.dimension, f"set by {told}", Sure.BOUND if one.held_m is not None else Sure.SOLVED
        )
    left = (
        "every rule is kept there with {spare} to spare"
        if usable is None
        else "the marks are {spare} further apart there than asked for"
    )
    return Fact(
        one.dimension,
        say(
            "ends on a jump, not on a rule: {size} {why}; " + left,
            size=Quantity(one.smallest_m, "length"),
            why=one.jump_words,
            spare=Quantity(one.residual_m3 or 0.0, "volume"),
        ),
    )
