"""Whether the pump gets its oil, cold to hot, as a document."""

import math
from collections.abc import Callable, Iterator, Mapping
from typing import TYPE_CHECKING

from tanksolve.model.attitude import pitch_roll_words
from tanksolve.model.fluid import Liquid
from tanksolve.model.suction_line import COMMON_PRACTICE
from tanksolve.present.cover_cautions import cover_option
from tanksolve.present.document import (
    Cell,
    Column,
    Document,
    Fact,
    Quantity,
    Said,
    Table,
    Verdict,
    Words,
    joined,
    say,
)
from tanksolve.present.understood import Inputs
from tanksolve.pump.suction import InletState
from tanksolve.pump.suction_found import SuctionFound
from tanksolve.pump.suction_head import PickupOverRegion, SuctionHead
from tanksolve.pump.suction_limits import SuctionAnswer
from tanksolve.record import as_plain
from tanksolve.unit_systems import METRIC, in_force, using

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["liquid_facts", "suction_document"]

_VERDICTS = {"yes": Verdict.YES, "no": Verdict.NO, "not known": Verdict.UNKNOWN}


_AT_REST = (
    "walls part the liquid: the drop of level through them while the pump runs is counted only where a tank "
    "file names its plates, a pickup and a return in different bays; here it is not"
)


_NPSH = "NPSH: what pressure is left over the liquid's vapour pressure, as a height of it"


def suction_document(found: SuctionFound, inputs: Inputs | None = None) -> Document:
    """What passes and what does not, where the pressure goes, and the smallest bore that will do."""
    answer = found.answer
    warned: tuple[Words, ...] = (
        (*inputs.port_cautions(), *inputs.roof_cautions()) if inputs is not None else ()
    )
    if inputs is not None and not inputs.tank.is_convex and not found.region.head.running:
        warned = (*warned, _AT_REST)
    return Document(
        "suction",
        "Does the pump get its liquid, cold to hot?",
        _VERDICTS[found.verdict],
        _sentence(found),
        facts=tuple(_facts(found)),
        tables=_tables(answer),
        cautions=(*warned, *answer.cautions),
        understood=(
            *liquid_facts(found.duty.liquid),
            *_line_facts(found),
            *(inputs.facts() if inputs is not None else ()),
        ),
        figures=_figures(found),
        data=_keys(found),
        brief_cautions=len(warned) + 1,
    )


def _keys(found: SuctionFound) -> dict[str, object]:
    """The JSON's own keys; docs/json.md lists them."""
    with using(METRIC):
        return {
            "liquid": as_plain(found.duty.liquid),
            "required": list(found.region.required),
            "head": as_plain(found.region.head),
            "pickup": as_plain(found.region.pickup),
            "altitude_m": found.duty.altitude,
            **as_plain(found.answer),
            "verdict": found.verdict,
            "passes": found.verdict == "yes",
            "losses_pa": found.answer.worst.losses_pa,
            "cover": as_plain(found.cover),
        }


def liquid_facts(liquid: Liquid) -> Iterator[Fact]:
    """Each figure of a liquid and where it is from, in the units in force."""
    yield Fact("liquid", liquid.name)
    for figure in liquid.figures:
        words = f"{figure.quantity}: {figure.value} ({figure.source})"
        yield Fact("liquid", in_force(words), brief=False)


def _sentence(found: SuctionFound) -> Said:
    answer, worst = found.answer, found.answer.worst
    range_ = say(
        "from {cold} to {hot}",
        cold=_kelvin(answer.cold.temperature_k),
        hot=_kelvin(answer.hot.temperature_k),
    )
    if found.verdict == "yes":
        return joined(
            "",
            say("the pump gets its liquid "),
            range_,
            say(
                "; the worst is at {at}, {margin} over the limit, set by {by}",
                at=_kelvin(worst.temperature_k),
                margin=Quantity(worst.pressure_margin_pa, "pressure", "down"),
                by=worst.set_by,
            ),
        )
    first = _fails(found) if found.verdict == "no" else say("not shown to pass")
    return joined("; ", first, *_why(found))


def _fails(found: SuctionFound) -> Said:
    answer = found.answer
    if answer.coldest_k is None or answer.hottest_k is None:
        return say("the line passes at no temperature")
    if answer.verdict != "no":
        return say("the line passes, the pickup does not")
    cold, hot = answer.cold.temperature_k, answer.hot.temperature_k
    coldest, hottest = max(cold, answer.coldest_k), min(hot, answer.hottest_k)  # of what was asked
    told = "not all of {cold} to {hot} passes: only {coldest} to {hottest} does"
    if coldest > hottest:
        coldest, hottest = answer.coldest_k, answer.hottest_k
        told = "nothing of {cold} to {hot} passes: {coldest} to {hottest} would"
    return say(
        told,
        cold=_kelvin(cold),
        hot=_kelvin(hot),
        coldest=Quantity(coldest, "temperature", "up"),
        hottest=Quantity(hottest, "temperature", "down"),
    )


def _why(found: SuctionFound) -> Iterator[Said]:
    """What decides, and the worst point of the line."""
    answer, pickup = found.answer, found.region.pickup
    if pickup is not None and pickup.verdict != "yes":
        state = "breaks its rule" if pickup.verdict == "no" else "is not shown to keep its rule"
        yield say("pickup {port} " + state, port=pickup.port)
    if answer.worst.passes and answer.verdict == "no":
        yield say("the liquid does not flow at the cold start, see the caution")
    if answer.verdict == "not known":
        yield say("no pour point is given: nothing is known of so cold a start")
    up = "{altitude} above the sea" if found.duty.altitude else "at sea level"
    yield say(
        "worst at {at}, " + up + ", {flow}, by {by}",
        at=_kelvin(answer.worst.temperature_k),
        **({"altitude": Quantity(found.duty.altitude, "distance")} if found.duty.altitude else {}),
        flow=Quantity(found.duty.flow, "flow"),
        by=_worst_words(answer.worst),
    )


def _worst_words(state: InletState) -> str:
    if state.carries_flow:
        return state.set_by
    cause, _ = max(state.shares_pa.items(), key=lambda item: item[1])
    return f"{cause}: the line cannot carry this flow there, see the caution"


def _facts(found: SuctionFound) -> Iterator[Fact]:
    answer = found.answer
    yield from (Fact("why it may growl", cause) for cause in _noise(found))
    both = found.verdict == "no" and answer.verdict == "no"  # ends stand in the sentence
    yield from _passing(answer, brief=not both)
    yield Fact("losses", _losses(answer.worst), brief=False)
    if answer.clean is not None:
        start = answer.clean.coldest_k
        held = "passes" if answer.clean.passes else "fails too"
        words = (
            say(held + "; nothing passes at all")
            if start is None
            else say(held + "; coldest start {start}", start=Quantity(start, "temperature", "up"))
        )
        yield Fact("with the strainer clean", words)
    for step in answer.steps_k:
        words = say("flow stops being laminar at {at}: friction steps up there", at=_kelvin(step))
        yield Fact("step", words, brief=False)
    for name, bore in (
        ("smallest bore that passes", answer.smallest_bore_m),
        ("smallest bore, for speed", answer.smallest_bore_for_velocity_m),
    ):
        source = "of the sizes of SAE J517, from memory"
        none = say("none " + source)
        told = none if bore is None else say("{bore} (" + source + ")", bore=_length(bore))
        yield Fact(name, told, brief=name == "smallest bore that passes")
    yield from _pickup(found)


def _noise(found: SuctionFound) -> Iterator[Words]:
    """What would make the pump noisy: cavitation, air from an uncovered pickup, or a vortex; or none of them."""
    answer, pickup, worst = found.answer, found.region.pickup, found.answer.worst
    quiet = answer.verdict == "yes"
    if not worst.passes:
        side = (
            "cold"
            if worst is answer.cold or worst.temperature_k < answer.hot.temperature_k
            else "hot"
        )
        at = _kelvin(worst.temperature_k)
        lost = max(worst.losses_pa.items(), key=lambda item: item[1])[0]
        yield (
            say(
                f"cavitation, {side}, at {{at}}: the inlet is {{short}} short, most lost to {lost}",
                at=at,
                short=Quantity(-worst.pressure_margin_pa, "pressure", "up"),
            )
            if worst.carries_flow
            else say(
                f"cavitation, {side}, at {{at}}: the liquid turns to vapour in the line", at=at
            )
        )
    elif not quiet:
        yield "not known at the cold end: no pour point tells that the liquid flows to the pump"
    if pickup is None:
        yield "air or a vortex: not judged; add the tank, --fill"
    elif pickup.margin_m < 0.0:
        yield joined("", say("air drawn in: "), pickup_said(pickup))
    elif pickup.cover_m < found.cover.vortex_formula_m:
        yield say(
            "a vortex that draws air: {over} over the mouth, {asked} by ANSI/HI 9.8: type "
            + cover_option(found.cover.vortex_formula_m)
            + " in the port",
            over=Quantity(pickup.cover_m, "length", "down"),
            asked=Quantity(found.cover.vortex_formula_m, "length", "up"),
        )
    elif quiet:
        yield (
            "nothing judged here would: look for air leaking into the line, foam, or a strainer more "
            "blocked than told (common practice, no source)"
        )


def _passing(answer: SuctionAnswer, *, brief: bool) -> Iterator[Fact]:
    if answer.coldest_k is None or answer.hottest_k is None:
        yield Fact("passes", "at no temperature")
        return
    for name, at in (
        ("coldest start that passes", Quantity(answer.coldest_k, "temperature", "up")),
        ("hottest liquid that passes", Quantity(answer.hottest_k, "temperature", "down")),
    ):
        yield Fact(name, say("{at}" + _end(answer, at.value), at=at), brief=brief)


def _end(answer: SuctionAnswer, kelvin: float | None) -> str:
    coldest, hottest = answer.range_k
    if kelvin == coldest:
        return " (colder the liquid is not known to flow)"
    return " (the end of the liquid's figures)" if kelvin == hottest else ""


def _losses(worst: InletState) -> Said:
    """What the line takes at its worst point, and of it each cause's share."""
    losses = worst.losses_pa
    total = sum(losses.values())
    values: dict[str, Quantity | str] = {"total": Quantity(total, "pressure")}
    parts = []
    for k, (name, lost) in enumerate(losses.items()):
        values[f"lost{k}"] = Quantity(lost, "pressure")
        values[f"share{k}"] = Quantity(lost / total, "share")
        parts.append(f"{name} {{lost{k}}} ({{share{k}}})")
    return say("at its worst point the line takes {total}: " + ", ".join(parts), **values)


def _pickup(found: SuctionFound) -> Iterator[Fact]:
    cover, pickup = found.cover, found.region.pickup
    if pickup is not None:
        yield Fact("pickup", pickup_said(pickup), brief=False)
    yield Fact(
        "cover advised",
        say(
            "{rule} by the rule of thumb (2 x bore; B. Casey, Power & Motion, 2017); {formula} by ANSI/HI 9.8 "
            "(at second hand), derived for water; type "
            + cover_option(found.cover.larger)
            + " in the port to "
            "have limits with it",
            rule=Quantity(cover.rule_of_thumb_m, "length", "up"),
            formula=Quantity(cover.vortex_formula_m, "length", "up"),
        ),
        brief=False,
    )
    if pickup is None:
        return
    over = pickup.cover_m
    advice = (("the rule of thumb", cover.rule_of_thumb_m), ("ANSI/HI 9.8", cover.vortex_formula_m))
    short = [name for name, asked in advice if over < asked]
    less = f"; less than {' and '.join(short)}" if short else ""
    least = (
        say(
            "{over} at least over the required attitudes" + less,
            over=Quantity(over, "length", "down"),
        )
        if over >= 0.0
        else say("none: the mouth is {out} out of the liquid", out=Quantity(-over, "length", "up"))
    )
    yield Fact("cover there is", least, brief=False)


def pickup_said(pickup: PickupOverRegion) -> Said:
    """Whether the pickup keeps its own rule over the required attitudes, and where it is worst."""
    values: dict[str, Quantity | str] = {
        "port": pickup.port,
        "where": _at(pickup.pitch_deg, pickup.roll_deg),
    }
    if pickup.cover_m < 0.0:
        return say("{port} is out of the liquid at {where}", **values)
    if pickup.margin_m < 0.0:
        values["short"] = Quantity(-pickup.margin_m, "length", "up")
        return say("{port} has {short} too little over it at {where}", **values)
    values["margin"] = Quantity(pickup.margin_m, "length", "down")
    kept = (
        "keeps its rule" if pickup.verdict == "yes" else "keeps it where it was solved, not proved"
    )
    return say("{port} " + kept + ", by {margin} at {where}", **values)


def _line_facts(found: SuctionFound) -> Iterator[Fact]:
    """The sources of the line's figures, what is required, and the level over the pump."""
    for name, words in found.line.sources.items():
        yield Fact("line", in_force(f"{name}: {words}"), brief=False)
    for required in found.region.required:
        yield Fact("required", required)
    yield Fact("level", _level(found.region.head))
    if found.region.head.running:
        yield Fact(
            "running",
            "the drop through the openings from return to pickup is counted, at this flow",
            brief=False,
        )
    pump = found.answer.pump
    if pump.least_pressure_pa is not None:
        least = Quantity(pump.least_pressure_pa, "pressure")
        brief = pump.source == COMMON_PRACTICE  # one line of a screen; the table says absolute
        words = (
            "least {least}: {source}"
            if brief
            else "at least {least} absolute at the inlet: {source}"
        )
        yield Fact("pump", say(words, least=least, source=in_force(pump.source)))
    if pump.npsh_required_m is not None:
        npsh = Quantity(pump.npsh_required_m, "head")
        yield Fact("pump", say("an NPSH of {npsh} is required", npsh=npsh))


def _level(head: SuctionHead) -> Said:
    """The level over the pump, and where it is from."""
    side = "over" if head.level_over_pump_m >= 0.0 else "below"
    level = Quantity(abs(head.level_over_pump_m), "length", "down" if side == "over" else "up")
    if head.volume_m3 is None:
        return say("{level} " + side + " the pump's inlet, as given", level=level)
    return say(
        "{level} " + side + " the pump's inlet, {where}, at {volume}",
        level=level,
        where=_at(head.pitch_deg, head.roll_deg),
        volume=Quantity(head.volume_m3, "volume"),
    )


def _at(pitch_deg: float, roll_deg: float) -> str:
    return pitch_roll_words(math.radians(pitch_deg), math.radians(roll_deg))


def _tables(answer: SuctionAnswer) -> list[Table]:
    """The pump's inlet at three temperatures: pressures always, the flow and the losses in full."""
    states = (("cold", answer.cold), ("hot", answer.hot), ("worst between", answer.worst))
    inlet = (
        Column("at the inlet"),
        Column("liquid at", "temperature"),
        Column("absolute", "pressure"),
        Column("vacuum", "vacuum"),
        Column("vapour", "pressure", brief=False),
        Column("NPSH", "head"),
        Column("over the limit", "pressure", "down"),
    )
    flow = (
        Column("in the line"),
        Column("viscosity", "viscosity"),
        Column("density", "density"),
        Column("speed", "speed"),
        Column("Reynolds", "count"),
        Column("flow"),
        Column("friction", "pressure"),
        Column("fittings", "pressure"),
        Column("strainer", "pressure"),
    )
    rows = [(name, *_inlet(state)) for name, state in states]
    ends = [0, 1] if answer.worst in (answer.cold, answer.hot) else None
    return [
        Table(_NPSH, inlet, rows, brief=ends),
        Table("", flow, [(name, *_flow(state)) for name, state in states], brief=()),
    ]


def _inlet(state: InletState) -> tuple[Cell, ...]:
    told = (
        state.inlet_pressure_pa,
        state.vacuum_pa,
        state.vapour_pressure_pa,
        state.npsh_available_m,
        state.pressure_margin_pa,
    )
    if not state.carries_flow:  # what cannot be is not told as a number
        told = (math.nan, math.nan, state.vapour_pressure_pa, math.nan, math.nan)
    return (state.temperature_k, *told)


def _flow(state: InletState) -> tuple[Cell, ...]:
    fast = max(state.sections, key=lambda flow: flow.velocity_m_s)
    return (
        *(state.viscosity_m2_s, state.density_kg_m3, fast.velocity_m_s, fast.reynolds),
        fast.regime.name.lower(),
        sum(flow.friction_drop_pa for flow in state.sections),
        sum(flow.fittings_drop_pa for flow in state.sections),
        state.strainer_drop_pa,
    )


def _kelvin(kelvin: float) -> Quantity:
    return Quantity(kelvin, "temperature")


def _length(metres: float) -> Quantity:
    return Quantity(metres, "length")


def _figures(found: SuctionFound) -> "Mapping[str, Callable[[], Figure]]":
    def inlet() -> "Figure":
        from tanksolve.present.suction_plot import suction_figure
        from tanksolve.pump.suction_limits import suction_curve

        curve = suction_curve(found.line, found.duty, found.limits, *found.ends)
        return suction_figure(found.answer, curve, found.duty)

    return {"inlet": inlet}
