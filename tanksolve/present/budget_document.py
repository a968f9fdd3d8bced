"""From a cold fill to the least and the most in use, as a document."""

from collections.abc import Iterator

from tanksolve.present.document import (
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Table,
    Verdict,
    say,
)
from tanksolve.present.suction_document import liquid_facts
from tanksolve.present.understood import Inputs
from tanksolve.pump.budget import Budget, SizingAdvice
from tanksolve.record import as_plain
from tanksolve.unit_systems import METRIC, current, in_force, rounded, using

__all__ = ["budget_document"]

_TYPED = {"US gal": "gal", "imperial gal": "imperial_gallon", "m³": "m3"}


def budget_document(
    result: Budget, advice: SizingAdvice | None = None, inputs: Inputs | None = None
) -> Document:
    """The least and the most that the tank holds in use, and whether the air space is kept."""
    with using(METRIC):
        data = {**as_plain(result), "sizing": as_plain(advice)}
    return Document(
        "budget",
        "How much is in the tank, from cold with all drawn out to hot with all run back?",
        Verdict.YES if result.passes else Verdict.NO,
        _sentence(result),
        facts=tuple(_facts(result, advice)),
        tables=[_table(result)],
        cautions=result.cautions,
        understood=(
            *liquid_facts(result.liquid),
            *(inputs.facts() if inputs is not None else ()),
        ),
        data=data,
        brief_cautions=1,
    )


def _sentence(result: Budget) -> Said:
    values = {
        "least": Quantity(result.least_m3, "volume", "down"),
        "most": Quantity(result.most_m3, "volume", "up"),
        "air": Quantity(abs(result.air_space_m3), "volume", "down"),
        "required": Quantity(result.air_space_required_m3, "volume", "up"),
    }
    if result.least_m3 <= 0.0:
        return say(
            "nothing is left in the tank, cold and all drawn out; hot it holds {most}",
            most=values["most"],
        )
    if result.air_space_m3 < 0.0:
        values["air"] = Quantity(-result.air_space_m3, "volume", "up")
        return say(
            "hot, {air} run over: in use the tank would hold {least} to {most}",
            **{name: values[name] for name in ("air", "least", "most")},
        )
    kept = "is kept" if result.passes else "is not kept"
    return say(
        "the air space "
        + kept
        + ": {air} hot, {required} required; in use the tank holds {least} to {most}",
        **values,
    )


def _facts(result: Budget, advice: SizingAdvice | None) -> Iterator[Fact]:
    yield Fact(
        "air space",
        say(
            "{air} of {capacity}; {required} required: {source}",
            air=Quantity(max(0.0, result.air_space_m3), "volume", "down"),
            capacity=Quantity(result.capacity_m3, "volume"),
            required=Quantity(result.air_space_required_m3, "volume", "up"),
            source=in_force(result.rule.source),
        ),
    )
    yield Fact("greatest cold fill", Quantity(result.greatest_cold_fill_m3, "volume", "down"))
    if result.least_m3 > 0.0:
        yield Fact("for other commands", f"--fill {typed_range(result.least_m3, result.most_m3)}")
    if advice is not None:
        yield Fact("size", advice.words)


def typed_range(least: float, most: float) -> str:
    """A fill [m³] as it is typed in the units in force; no narrower than it is."""
    unit = current().units["volume"]
    name = _TYPED.get(unit.symbol, unit.symbol)
    low = rounded(unit.of(least), unit.digits, "down")
    high = rounded(unit.of(most), unit.digits, "up")
    return f"{low:.{unit.digits}f}{name}..{high:.{unit.digits}f}{name}"


def _table(result: Budget) -> Table:
    rows = [(step.name, step.to_least_m3, step.to_most_m3, step.source) for step in result.steps]
    rows.append(("in the tank", result.least_m3, result.most_m3, ""))
    columns = (
        Column("liquid in the tank"),
        Column("least", "volume", "down"),
        Column("most", "volume", "up"),
        Column("from"),
    )
    told = [k for k, row in enumerate(rows) if row[1] or row[2]]
    return Table("", columns, rows, brief=told)
