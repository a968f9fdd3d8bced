"""A recorded day against a tank, as a document: what it broke, for how long, and what is not known."""

import math
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from typing import TYPE_CHECKING

from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
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
    slope,
)
from tanksolve.present.understood import Inputs
from tanksolve.questions.replay.excursions import Excursion
from tanksolve.questions.replay.log_columns import Column as LogColumn
from tanksolve.questions.replay.outcome import Outcome
from tanksolve.questions.replay.replay import PortReplay, Replay
from tanksolve.questions.replay.worst_moment import worst_moment
from tanksolve.record import as_plain
from tanksolve.unit_systems import told

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["ReplayAnswer", "replay_document"]

_BRIEF = 5  # excursions that are shown without asking for all
_VERDICTS = {"kept": Verdict.YES, "broken": Verdict.NO, "not known": Verdict.UNKNOWN}
_STAMPS = {
    "zoned": "date and time with its offset from UTC",
    "local": "date and time without a zone",
    "d/m/y": "date and time, day first",
    "m/d/y": "date and time, month first",
}


@dataclass(frozen=True)
class ReplayAnswer:
    """What was replayed, and on what: tank, ports and fill in machine axes."""

    result: Replay
    tank: Tank
    ports: tuple[Port, ...]
    fill: Fill
    any_pickup: bool = False


def replay_document(
    inputs: Inputs, found: ReplayAnswer, cautions: Sequence[Words] = ()
) -> Document:
    """What the log would have done to each port's rule; its table for CSV is that of the excursions."""
    result = found.result
    return Document(
        "replay",
        "What would this recorded day have done to the tank?",
        _VERDICTS[result.verdict],
        _sentence(result),
        facts=tuple(_facts(found)),
        tables=[_excursions(result), _outcomes(result), _ports(result)],
        cautions=(*inputs.cautions(), *cautions, *result.cautions),
        understood=(*_log_facts(result), *inputs.facts()),
        figures=_figures(found),
        data={**as_plain(result), "worst_moment_margins_m": as_plain(_margins_then(found))},
        brief_cautions=len(inputs.cautions()) + len(cautions) + 1,
    )


def _margins_then(found: ReplayAnswer) -> dict[str, float]:
    """Margin of each port where the liquid is drawn at the worst moment [m]."""
    surface, settled = worst_moment(found.result, found.tank, found.ports, found.fill)
    return {port.name: port.margin_m for port in (settled or surface).ports}


def _sentence(result: Replay) -> Said:
    outcome = result.outcome
    if outcome.verdict != "broken" and result.this_route is not None:
        outcome = result.this_route if result.verdict == "broken" else outcome
    worst = min(result.ports, key=lambda port: port.worst.margin_m)
    values: dict[str, Quantity | str] = {
        "port": worst.port,
        "margin": Quantity(
            abs(worst.worst.margin_m), "length", "down" if worst.worst.margin_m >= 0.0 else "up"
        ),
        "line": str(worst.worst.line),
        "kept": Quantity(outcome.kept_s, "time"),
        "broken": Quantity(outcome.broken_s, "time"),
        "unknown": Quantity(outcome.not_known_s, "time"),
        "share": Quantity(outcome.broken_share, "share"),
    }
    if result.verdict == "kept":
        words = "all rules are kept over the whole log, {kept}; {port} by the least: {margin}, line {line}"
        return say(words, **_only(words, values))
    if result.verdict == "broken":
        words = "a rule is broken for {broken}, {share} of the log"
        if worst.worst.margin_m < 0.0:
            words += "; worst at line {line}, {port} short by {margin}"
        return say(words, **_only(words, values))
    words = "for {unknown} of the log no answer can be given; kept for {kept}"
    if outcome.not_known_s == 0.0:
        words = "of some rows of the log no answer can be given; kept for {kept}"
    return say(words, **_only(words, values))


def _only(template: str, values: Mapping[str, Quantity | str]) -> dict[str, Quantity | str]:
    return {name: value for name, value in values.items() if f"{{{name}}}" in template}


def _facts(found: ReplayAnswer) -> Iterator[Fact]:
    result = found.result
    yield Fact("worst moment", _worst_moment(result), brief=False)
    yield from (Fact("not known", why) for why in result.why_not_known)
    carried = result.carried
    if carried is not None:
        yield Fact(
            "this route",
            f"{carried.filled}; liquid carried in steps of {carried.step_deg:g}°, {carried.stops} stops",
            Sure.SAMPLED,
        )
        for least in carried.least:
            words = say(
                "{port}: least margin {margin}, line {line}, {time}",
                port=least.port,
                margin=Quantity(least.margin_m, "length"),
                line=str(least.line),
                time=Quantity(least.time_s, "time"),
            )
            yield Fact("this route", words, brief=False)
        if carried.ended_s is not None:
            end = Quantity(carried.ended_s, "time")
            yield Fact(
                "this route", say("too many stops: carried to {end} and no further", end=end)
            )
    if result.seconds_held_by_line is not None:
        held = Quantity(result.seconds_held_by_line, "time", "down")
        yield Fact("running left", say("{held} until air reaches the pump", held=held))
    if found.any_pickup:
        yield Fact("pickups", "each is judged by itself here, --any-pickup or not")
    if result.problem_count:
        first = result.problems[0]
        count = f"{result.problem_count} on its lines, the first: line {first.line}: {first.words}"
        yield Fact("remarks", count)
    for problem in result.problems[1:]:
        yield Fact("remarks", f"line {problem.line}: {problem.words}", brief=False)


def _worst_moment(result: Replay) -> Said:
    """The row with the least margin of any port, and how the machine stands to the liquid there."""
    port = min(result.ports, key=lambda one: one.worst.margin_m)
    moment = port.worst
    attitude = Attitude(moment.up)
    level = attitude.slope < math.radians(0.05)
    return say(
        "{port}, margin {margin}, at {slope}, {side}, line {line}, {time}",
        port=port.port,
        margin=Quantity(moment.margin_m, "length", "down"),
        slope=slope(attitude.slope),
        side="level" if level else heading_words(attitude.heading),
        line=str(moment.line),
        time=Quantity(moment.time_s, "time"),
    )


def _log_facts(result: Replay) -> Iterator[Fact]:
    """What was read, and the first rows as they were understood."""
    rows = "{log}: {rows} rows, {start} to {end}"
    values: dict[str, Quantity | str] = {
        "log": result.log,
        "rows": str(result.rows),
        "start": Quantity(result.start_s, "time"),
        "end": Quantity(result.end_s, "time"),
    }
    if result.step_s is not None:
        rows += f", usually {result.step_s:g} s from row to row"
    yield Fact("log", say(rows, **values))
    for k, column in enumerate(result.columns):
        unit = _STAMPS.get(column.stamp, column.unit)
        sign = f", {column.sign}" if column.sign else ""
        words = f"{column.quantity}: column '{column.header}' [{unit}]{sign}"
        yield Fact("log", words, brief=bool(column.sign))
        first = ", ".join(_value(column, row[k]) for row in result.first_rows)
        yield Fact("log", f"{column.quantity}: first {first}", brief=False)
    if result.time_constant_s is not None:
        yield Fact("log", f"smoothed by a time constant of {result.time_constant_s:g} s")


def _value(column: LogColumn, value: float | None) -> str:
    """One value as it was understood, with this project's sign and unit."""
    if value is None:
        return "nothing"
    if column.is_stamp:
        zone = " UTC" if column.stamp == "zoned" else ""
        return f"{datetime.fromtimestamp(value, UTC):%Y-%m-%d %H:%M:%S}{zone}"
    if column.kind == "time":
        return f"{value:g} s"
    if column.kind != "angle":
        return told(value, column.kind)
    degrees = math.degrees(value)
    if column.quantity == "heading":
        return f"{degrees:.1f}°"
    ways = {"pitch": ("nose up", "nose down"), "roll": ("right side down", "left side down")}
    if round(degrees, 2) == 0.0:
        return "level"
    grade = f" ({100.0 * math.tan(abs(value)):.1f} %)" if abs(degrees) < 90.0 else ""
    return f"{abs(degrees):.2f}°{grade} {ways[column.quantity][degrees < 0.0]}"


def _outcomes(result: Replay) -> Table:
    """Kept, broken and not known, in seconds and as shares of the log."""
    rows = [_outcome_row("all rules, whatever came before", result.outcome)]
    if result.this_route is not None:
        rows.append(_outcome_row("all rules, along this route", result.this_route))
    return Table("", [Column("over the whole log"), *_OUTCOME], rows)


_OUTCOME = (
    Column("kept", "time"),
    Column("share", "share"),
    Column("broken", "time"),
    Column("share", "share"),
    Column("not known", "time"),
    Column("share", "share"),
)


def _outcome_row(name: str, outcome: Outcome) -> tuple[Cell, ...]:
    return (
        name,
        *(outcome.kept_s, outcome.kept_share),
        *(outcome.broken_s, outcome.broken_share),
        *(outcome.not_known_s, outcome.not_known_share),
    )


def _ports(result: Replay) -> Table:
    columns = (
        Column("port"),
        Column("rule"),
        Column("kept", "time"),
        Column("broken", "time"),
        Column("not known", "time"),
        Column("times"),
        Column("longest", "time"),
        Column("least margin", "length", "down"),
        Column("line", brief=False),
    )
    return Table("", columns, [_port_row(port) for port in result.ports])


def _port_row(port: PortReplay) -> tuple[Cell, ...]:
    outcome = port.outcome
    return (
        *(port.port, port.rule, outcome.kept_s, outcome.broken_s, outcome.not_known_s),
        *(str(port.excursion_count), port.longest_s, port.worst.margin_m, str(port.worst.line)),
    )


def _excursions(result: Replay) -> Table:
    """The deepest first; a list of none has its columns still."""
    found = [e for port in result.ports for e in port.excursions]
    found.sort(key=lambda e: e.worst.margin_m)
    columns = (
        Column("port"),
        Column("from", "time"),
        Column("lasting", "time"),
        Column("line", brief=False),
        Column("margin", "length", "down"),
        Column("worst at", "time"),
        Column("worst line"),
        Column("running left", "time", "down"),
        Column("remark"),
    )
    count = sum(port.excursion_count for port in result.ports)
    title = f"rules broken, deepest first; {count} in all"
    rows = [_excursion_row(e) for e in found]
    return Table(title, columns, rows, brief=range(min(_BRIEF, len(rows))))


def _excursion_row(e: Excursion) -> tuple[Cell, ...]:
    remark = "; ".join(filter(None, [e.fault, "end not seen" if e.cut_short else ""]))
    return (
        *(e.port, e.start_s, e.length_s, str(e.line)),
        *(e.worst.margin_m, e.worst.time_s, str(e.worst.line), e.running_left_s, remark),
    )


def _figures(found: ReplayAnswer) -> "Mapping[str, Callable[[], Figure]]":
    def margins() -> "Figure":
        from tanksolve.present.replay_plot import replay_figure

        return replay_figure(found.result)

    def worst() -> "Figure":
        from tanksolve.present.replay_plot import worst_moment_figure

        return worst_moment_figure(found.result, found.tank, found.ports, found.fill)

    return {"margins": margins, "worst": worst}
