"""The envelope as a document: how steep, in every heading; and whether what is required is kept."""

import math
from collections.abc import Callable, Mapping, Sequence
from typing import TYPE_CHECKING, Any

from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind
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
    slope,
)
from tanksolve.present.flow_facts import FLOW_CAUTION, flow_facts, flow_note
from tanksolve.present.required import steepest_deg
from tanksolve.present.sides import alike, sides_of
from tanksolve.present.sides_once import sides_once
from tanksolve.present.understood import TANK_CAUTIONS, Inputs
from tanksolve.questions.envelope.envelope import Envelope, Limit
from tanksolve.questions.envelope.requirement_met import Met
from tanksolve.record import as_plain
from tanksolve.state.kept import Kept

if TYPE_CHECKING:
    from matplotlib.figure import Figure

    from tanksolve.pump.return_flow import FlowEffect

__all__ = [
    "air_cautions",
    "envelope_document",
    "envelope_keys",
    "met_facts",
    "met_sentence",
    "met_verdict",
]

_SIDES = (
    ("nose up", 0.0),
    ("nose down", 180.0),
    ("left side down", 270.0),
    ("right side down", 90.0),
)


def envelope_document(
    inputs: Inputs,
    result: Envelope,
    *,
    requirement: Requirement | None = None,
    met: Sequence[Met] = (),
    effect: "FlowEffect | None" = None,
    kept: Kept | None = None,
    pump_off: bool = False,
    cautions: Sequence[Words] = (),
) -> Document:
    """How steep the tank may stand, and whether it keeps what is required.

    Parameters
    ----------
    requirement, met : what is required and how it was judged, where it was asked for.
    effect : what a running pump does, where one runs.
    kept : how far walls keep enough for all driving with the pump off; None where they keep nothing.
    pump_off : whether that is what is asked for, and what the requirement is judged by.
    cautions : what else must be said beside the answer.
    """
    bounded = effect is None or effect.bounded
    first = (FLOW_CAUTION,) if effect is not None else ()
    keys = envelope_keys(result)
    keys["return_flow"] = None if effect is None else as_plain(effect)
    keys["kept_to_deg"] = None if kept is None else kept.slope_deg
    keys["kept"] = None if kept is None else as_plain(kept)
    if requirement is not None:
        keys |= {"requirements": as_plain(met), "source": requirement.source}
    return Document(
        "envelope",
        "How steep, in every heading, until a port breaks its rule?",
        _off_verdict(kept, requirement) if pump_off else _verdict(result, met),
        _off_sentence(kept, requirement)
        if pump_off
        else _sentence(result, met, running=effect is not None),
        facts=(
            *met_facts(met, requirement),
            *_facts(result, bounded),
            *_kept_facts(kept),
            *flow_facts(effect),
        ),
        tables=[_table(result, bounded)] if result.ok_at_level else [],
        cautions=(*inputs.cautions(), *first, *cautions, *TANK_CAUTIONS),
        understood=inputs.facts(),
        figures=_figures(inputs, result, requirement, effect),
        data=keys,
    )


def air_cautions(
    result: Envelope, tank: Tank, ports: Sequence[Port], fill: Fill
) -> tuple[str, ...]:
    """Pickups whose air cannot vent on level ground, at a limit on a main side, or at the worst."""
    if not any(port.kind is PortKind.BREATHER for port in ports):
        return ()
    from tanksolve.questions.level.shut_bays import shut_bays  # late: it costs a tenth of a second

    rows = [row for row in result.limits if row.heading_deg % 90.0 == 0.0 and row.limited]
    if result.worst.limited and result.worst.heading_deg % 90.0 != 0.0:
        rows.append(result.worst)
    places = [("on level ground", Attitude.level())]
    for row in rows:
        heading = math.radians(row.heading_deg)
        attitude = Attitude.from_slope(math.radians(row.held_to_deg), heading)
        places.append((f"at the limit {heading_words(heading)}", attitude))
    return shut_bays(tank, ports, fill.most, places)


def envelope_keys(result: Envelope) -> dict[str, Any]:
    """The keys of the envelope's JSON; docs/json.md lists them."""
    plain: dict[str, Any] = as_plain(result)
    plain["fill"] = {"unit": "m3", "least": result.fill.least, "most": result.fill.most}
    for row in (*plain["limits"], plain["worst"]):
        row["searched_to_deg"] = result.searched_to_deg
    return plain


def met_verdict(met: Sequence[Met]) -> Verdict:
    """Yes where all is proved; no where a rule is seen broken; else it is not known."""
    if all(one.met for one in met):
        return Verdict.YES
    return Verdict.NO if any(one.margin_m < 0.0 for one in met) else Verdict.UNKNOWN


def _verdict(result: Envelope, met: Sequence[Met]) -> Verdict:
    if not result.ok_at_level:
        return Verdict.NO
    return met_verdict(met) if met else Verdict.TOLD


def _off_verdict(kept: Kept | None, requirement: Requirement | None) -> Verdict:
    if kept is None:
        return Verdict.UNKNOWN
    if requirement is None:
        return Verdict.TOLD
    return Verdict.YES if steepest_deg(requirement) <= kept.slope_deg else Verdict.UNKNOWN


def _off_sentence(kept: Kept | None, requirement: Requirement | None) -> Said:
    if kept is None:
        return say(
            "with the pump off: it is not known of this tank that walls keep enough anywhere"
        )
    told = say(
        "with the pump off, driving about is kept in every heading up to {held}",
        held=slope(math.radians(kept.slope_deg), "down"),
    )
    if requirement is None:
        return told
    judged = "kept" if steepest_deg(requirement) <= kept.slope_deg else "not proved"
    return say(
        judged + " in {required}: " + told.template,
        required="; ".join(requirement.words),
        **told.values,
    )


def _kept_facts(kept: Kept | None) -> list[Fact]:
    """What walls keep round the ports while nothing is drawn."""
    if kept is None:
        return []
    words = say(
        "while no pump draws, any driving is kept in every heading up to {held}: walls keep enough round "
        "the pickup. It is taken as filled with {filled}",
        held=slope(math.radians(kept.slope_deg), "down"),
        filled=kept.filled,
    )
    amounts = [
        Fact(
            "pump off",
            say(
                "{volume} stays round {port}", volume=Quantity(volume, "volume", "down"), port=name
            ),
            Sure.BOUND,
            brief=False,
        )
        for name, volume in kept.kept_m3.items()
        if volume > 0.0
    ]
    seconds = [
        Fact(
            "pump on",
            say(
                "what is kept round {port} lasts {time} up to {half}, while its pump draws and nothing comes "
                "back into its bay; a return into that bay that brings back all that is drawn counts as pump off",
                port=name,
                time=Quantity(time, "time", "down"),
                half=slope(math.radians(kept.lasts_to_deg), "down"),
            ),
            Sure.BOUND,
        )
        for name, time in kept.lasts_s.items()
    ]
    return [Fact("pump off", words, Sure.BOUND), *amounts, *seconds]


def _sentence(result: Envelope, met: Sequence[Met], *, running: bool) -> Said:
    if not result.ok_at_level:
        why = "is short by {lack}" + (" while the pump runs" if running else "")
        if result.walls_alone and not running:
            why = "may be short by {lack}: walls can hold the liquid in another bay"
        return say(
            "not kept on level ground: {port} " + why,
            port=result.worst.port or "a port",
            lack=Quantity(-result.margin_at_level_m, "length", "up"),
        )
    limit = _limit_said(result)
    if not met:
        return say("Kept in every heading up to " + limit.template, **limit.values)
    judged = met_sentence(met)
    return say(
        judged.template + ". In every heading the rules are kept up to " + limit.template,
        **judged.values,
        **limit.values,
    )


def _limit_said(result: Envelope) -> Said:
    worst = result.worst
    held = slope(math.radians(worst.held_to_deg), "down")
    if not worst.limited:
        return say("{held}, the end of the search: no port breaks its rule", held=held)
    return say(
        "{held}; the first to break its rule is {first}, {side}",
        held=held,
        first=worst.port or "a port",
        side=sides_of(result),
    )


def met_sentence(met: Sequence[Met]) -> Said:
    """The requirement that is worst off, in a sentence."""
    worst = min(met, key=lambda one: (one.met, one.margin_m))
    told: dict[str, Quantity | str] = {
        "required": worst.requirement,
        "port": worst.port,
        "where": alike(worst.heading_deg, worst.alike_deg, 30.0),
    }
    if worst.met:
        told["spare"] = Quantity(worst.held_margin_m, "length", "down")
        return say("kept in {required}, {port} by the least: {spare}, {where}", **told)
    if worst.margin_m >= 0.0:
        return say("not proved in {required}, though not seen broken: {port}, {where}", **told)
    told["lack"] = Quantity(-worst.margin_m, "length", "up")
    return say("not kept in {required}: {port} is short by {lack}, {where}", **told)


def met_facts(met: Sequence[Met], requirement: Requirement | None) -> tuple[Fact, ...]:
    """Each requirement with its margin and where that is least, and where presets are from."""
    facts = [Fact("required", _met_said(one), Sure.BOUND if one.met else None) for one in met]
    if len(facts) == 1:  # the sentence has told it
        facts = [Fact("required", _met_said(met[0]), facts[0].sure, brief=False)]
    source = requirement.source.splitlines() if requirement is not None else []
    return (*facts, *(Fact("source", line) for line in source))


def _met_said(one: Met) -> Said:
    told: dict[str, Quantity | str] = {
        "required": one.requirement,
        "port": one.port,
        "at": slope(math.radians(one.slope_deg)),
        "where": Quantity(math.radians(one.heading_deg), "heading"),
        "margin": Quantity(abs(one.held_margin_m), "length", "down" if one.met else "up"),
    }
    state = "kept, least margin {margin}" if one.met else "not shown to be kept"
    if one.margin_m < 0.0:
        state = "broken by {margin}"
    return say("{required}: " + state + ": {port} at {at}, uphill at heading {where}", **told)


def _facts(result: Envelope, bounded: bool) -> list[Fact]:
    """The limit on each of the four sides, and where the ports hold again further out."""
    if not result.ok_at_level:
        return []
    rows = {round(row.heading_deg, 6): row for row in result.limits}
    worst = slope(math.radians(result.worst.held_to_deg), "down")
    facts = [Fact("every heading", worst, Sure.BOUND if bounded else Sure.STATED)]
    facts += [
        Fact(side, _row_said(rows[heading], result)) for side, heading in _SIDES if heading in rows
    ]
    for island in result.islands:
        words = say(
            "uphill at heading {heading} the rules are kept again from {low} to {high}: "
            "do not count on reaching that",
            heading=Quantity(math.radians(island.heading_deg), "heading"),
            low=slope(math.radians(island.from_deg), "up"),
            high=slope(math.radians(island.to_deg), "down"),
        )
        facts.append(Fact("beyond", words, Sure.SAMPLED, brief=False))
    return facts


def _row_said(row: Limit, result: Envelope) -> Said:
    if not row.limited:
        end = slope(math.radians(result.searched_to_deg), "down")
        held = slope(math.radians(row.held_to_deg), "down")
        if row.held_to_deg < result.searched_to_deg - 0.1:
            return say("{held}; grazing", held=held)
        return say("no port breaks its rule up to {end}", end=end)
    held = slope(math.radians(row.held_to_deg), "down")
    return say("{held}: {port}", held=held, port=row.port or "-")


def _table(result: Envelope, bounded: bool) -> Table:
    """Every heading; shown with the whole answer only."""
    columns = (
        Column("machine stands"),
        Column("heading", "angle"),
        Column("tank limit", "slope", "down"),
        Column("solved", "small angle", "down"),
        Column("port"),
        Column("remark"),
    )
    rows = [_row(row, result) for row in result.limits]
    last = []
    if result.worst.limited:
        last.append((*_row(result.worst, result)[:-1], "worst of all headings"))
    title = (
        "Each heading by itself; between those listed count on the worst of all only; "
        f"{(Sure.BOUND if bounded else Sure.STATED).value}, rounded down"
    )
    # what was solved beside the limit proved is left out for a reader: it is not to be counted on
    kept, told = (
        [columns[k] for k in (0, 1, 2, 4, 5)],
        [[row[k] for k in (0, 1, 2, 4, 5)] for row in (*rows, *last)],
    )
    folded = sides_once(kept, told, 0, 1)
    turned = (kept[0], Column("heading"), *kept[2:])
    fewer = len(folded) < len(rows) + len(last)
    alike = "; where both sides are the same they are told once" if fewer else ""
    reader = Table(f"{title}{alike}", turned, folded)
    return Table(title, columns, [*rows, *last], brief=(), reader=reader)


def _row(row: Limit, result: Envelope) -> tuple[Cell, ...]:
    remark = "" if row.limited else "no port breaks its rule up to there"
    return (
        heading_words(math.radians(row.heading_deg)),
        math.radians(row.heading_deg),
        math.radians(row.held_to_deg),
        None if row.slope_deg is None else math.radians(row.slope_deg),
        row.port,
        "grazing" if row.grazing else remark,
    )


def _figures(
    inputs: Inputs, result: Envelope, required: Requirement | None, effect: "FlowEffect | None"
) -> "Mapping[str, Callable[[], Figure]]":
    note = "; ".join(filter(None, [inputs.first_note, flow_note(effect)]))

    def plan() -> "Figure":
        from tanksolve.present.plan import plan_figure

        return plan_figure(result, required=required, note=note)

    def margins() -> "Figure":
        from tanksolve.present.pitch_roll_map import map_figure

        return map_figure(result, required=required, note=note)

    return {"plan": plan, "map": margins}
