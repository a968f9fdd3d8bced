"""What a study found as a document: which variants are best, what could not be computed, and why."""

from collections.abc import Iterator, Sequence
from functools import partial
from itertools import combinations
from typing import Any

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
from tanksolve.present.study_view import trade_off_figure
from tanksolve.present.understood import TANK_CAUTIONS
from tanksolve.study.measures import KINDS, MEASURES
from tanksolve.study.run import Outcome
from tanksolve.study.study import Want

__all__ = ["study_document"]

_PLOTS = 3
_BRIEF = 12  # rows that fit a screen
_SURE = {"bound": Sure.BOUND, "solved": Sure.SOLVED, "given": Sure.GIVEN}
_AIMS = {"least": "small", "most": "great"}
_NOTHING = {"refused": "refused", "out of time": "out of time", "lost": "lost", "fault": "a fault"}


def study_document(outcome: Outcome) -> Document:
    """The winners first; every number of the study stands in its files."""
    study, found = outcome.study, outcome.found
    facts = list(_facts(outcome))
    told = len(outcome.best)
    return Document(
        "study",
        f"Which variants of {study.tank_source.name} are best?",
        _verdict(outcome),
        _sentence(outcome),
        facts=facts,
        tables=[_table(outcome)] if told else [],
        cautions=(*_cautions(outcome), *TANK_CAUTIONS),
        figures={
            name: partial(trade_off_figure, outcome, *pair)
            for name, pair in _pairs(outcome).items()
        },
        data={
            "rows": study.count,
            "by_status": found.counts,
            "meet_limits": int(found.meets.sum()),
            "pareto": int(found.pareto.sum()),
            "computed_now": outcome.computed,
            "torn_lines_dropped": outcome.dropped,
            "processor_seconds": round(found.seconds, 3),
            "identity": study.identity,
            "files": [str(path) for path in outcome.files],
            "winners": [
                {"row": k + 1, "values": dict(_varied(outcome, k)), **row["values"]}
                for k, row in outcome.best
            ],
        },
    )


def _pairs(outcome: Outcome) -> dict[str, tuple[int, int]]:
    """The trade-off plots by name: pairs of aims, as places in the list of what is wanted."""
    wants = outcome.study.wants
    aims = [wants.index(want) for want in outcome.study.objectives]
    pairs = list(combinations(aims, 2))[:_PLOTS]
    return {f"{wants[a].measure}-{wants[b].measure}".replace("_", "-"): (a, b) for a, b in pairs}


def _verdict(outcome: Outcome) -> Verdict:
    if not outcome.found.counts["ok"]:
        return Verdict.UNKNOWN
    return Verdict.TOLD if outcome.found.meets.any() else Verdict.NO


def _sentence(outcome: Outcome) -> Words:
    study, found = outcome.study, outcome.found
    numbers = {
        "rows": f"{study.count:,}",
        "ok": f"{found.counts['ok']:,}",
        "meets": f"{int(found.meets.sum()):,}",
        "pareto": f"{int(found.pareto.sum()):,}",
        "aims": _listed(
            [f"{_AIMS[want.aim]} {_name(want)}" for want in study.objectives if want.aim]
        ),
    }
    if not found.counts["ok"]:
        return say("of {rows} variants none could be computed.", **numbers)
    if not found.meets.any():
        return say("none of the {ok} variants computed meets all limits.", **numbers)
    if not study.objectives:
        return say("{meets} of {rows} variants meet all limits.", **numbers)
    return say(
        "To choose from, by {aims}: {pareto} of {rows} variants. {meets} meet all limits; each that is left "
        "out is bettered in one aim by another as good in the rest.",
        **numbers,
    )


def _listed(words: Sequence[str]) -> str:
    return " and ".join(", ".join(words).rsplit(", ", 1))


def _name(want: Want) -> str:
    return want.measure.replace("_", " ")


def _facts(outcome: Outcome) -> Iterator[Fact]:
    study, found = outcome.study, outcome.found
    for want in study.wants:
        if want.at_least is not None or want.at_most is not None:
            yield Fact("limit", _limit(want))
    for status, word in _NOTHING.items():
        if found.counts[status]:
            yield Fact("no answer", f"{found.counts[status]:,} variants {word}")
    for reason, count in found.reasons:
        yield Fact("", f"{count:,} x {reason}", brief=False)
    settings = study.settings
    yield Fact(
        "looked",
        say(
            "slopes up to {to}, bounds within {close}",
            to=Quantity(settings.search_to_deg * KINDS["slope"].to_si, "slope"),
            close=Quantity(settings.tolerance_deg * KINDS["slope"].to_si, "small angle"),
        ),
        brief=False,
    )
    yield Fact(
        "computed", say("{n} rows now, the others before", n=f"{outcome.computed:,}"), brief=False
    )
    yield Fact("took", Quantity(found.seconds, "time"), brief=False)
    for name in study.compute:
        measure = MEASURES[name]
        yield Fact(name.replace("_", " "), measure.what, _SURE[measure.sure], brief=False)
    yield Fact("files", str(outcome.folder))


def _limit(want: Want) -> Said:
    kind = KINDS[MEASURES[want.measure].kind]
    ends = {"least": want.at_least, "most": want.at_most}
    told = {k: Quantity(v * kind.to_si, kind.told) for k, v in ends.items() if v is not None}
    words = [f"at {end} {{{end}}}" for end in told]
    return say(f"{_name(want)} {' and '.join(words)}", **told)


def _varied(outcome: Outcome, k: int) -> Iterator[tuple[str, str]]:
    values = outcome.study.row(k)[0]
    for one, value in zip(outcome.study.variants.vary, values, strict=True):
        yield one.key, str(value)


def _table(outcome: Outcome) -> Table:
    study = outcome.study
    columns = [Column("row"), *(Column(one.key) for one in study.variants.vary)]
    columns += [Column("log")] if study.logs else []
    for name in study.compute:
        measure = MEASURES[name]
        columns.append(Column(name.replace("_", " "), KINDS[measure.kind].told, measure.rounding))
    rows = [_row(outcome, k, row) for k, row in outcome.best]
    return Table("", columns, rows, range(min(len(rows), _BRIEF)))


def _row(outcome: Outcome, k: int, row: dict[str, Any]) -> list[Cell]:
    study = outcome.study
    log = study.row(k)[1]
    cells: list[Cell] = [str(k + 1), *(text for _, text in _varied(outcome, k))]
    cells += [log.name] if log is not None else []
    for name in study.compute:
        kind = KINDS[MEASURES[name].kind]
        value = row["values"].get(name + kind.suffix)
        cells.append(None if value is None else value * kind.to_si)
    return cells


def _cautions(outcome: Outcome) -> Iterator[Words]:
    found = outcome.found
    searched = outcome.study.settings.search_to_deg
    ends = [row["values"].get("worst_slope_deg") for _, row in outcome.best]
    if any(end is not None and end >= searched - 1e-9 for end in ends):
        yield say(
            "slopes were looked for up to {to} and no further: variants told to hold that much may hold more",
            to=Quantity(searched * KINDS["slope"].to_si, "slope", "down"),
        )
    if found.counts["lost"]:
        yield "rows were lost with the processes that computed them: run the same command again"
    if found.counts["fault"]:
        yield "rows met a fault of the program: please report the reason that results.csv gives"
    if outcome.study.variants.sampled:
        yield (
            "a Latin hypercube meets each part of every range once, not every combination: between its "
            "variants a better one may lie"
        )
