"""What manoeuvres, waves and baffles do to a tank, as a document."""

import math
from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass
from typing import TYPE_CHECKING

from tanksolve.model.attitude import heading_words
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
    say,
)
from tanksolve.present.understood import Inputs
from tanksolve.pump.motion import Manoeuvre
from tanksolve.pump.motion_check import ManoeuvreResult, Motion
from tanksolve.pump.slosh import NEAR, BaffleEffect, Slosh, Wave, WaveBand
from tanksolve.record import as_plain
from tanksolve.state.conditions import Pickups
from tanksolve.unit_systems import in_force

if TYPE_CHECKING:
    from matplotlib.figure import Figure

__all__ = ["MotionAnswer", "motion_document"]

_LEVEL = 0.05  # degrees: less is told as level


@dataclass(frozen=True)
class MotionAnswer:
    """What was solved, of which manoeuvres and excitations [Hz], and on what, in machine axes."""

    result: Motion
    manoeuvres: tuple[Manoeuvre, ...]
    excitations: tuple[float, ...]
    tank: Tank
    ports: tuple[Port, ...]
    pickups: Pickups


def motion_document(inputs: Inputs, found: MotionAnswer) -> Document:
    """Which manoeuvre breaks a rule, and which waves come near what the machine puts in."""
    result = found.result
    return Document(
        "motion",
        "What does the liquid do as the machine brakes, corners and climbs?",
        _verdict(found),
        _sentence(found),
        facts=tuple(_facts(result)),
        tables=[_manoeuvres(result), _bands(result.slosh)],
        cautions=(*inputs.cautions(), *result.cautions),
        understood=inputs.facts(),
        figures=_figures(found),
        data=as_plain(result),
        brief_cautions=len(inputs.cautions()) + 2,
    )


def _verdict(found: MotionAnswer) -> Verdict:
    result = found.result
    if not result.holds:
        return Verdict.NO
    if found.excitations and not result.slosh.fills_solved:
        return Verdict.UNKNOWN
    return Verdict.YES if result.manoeuvres else Verdict.TOLD


def _sentence(found: MotionAnswer) -> Said:
    result, slosh = found.result, found.result.slosh
    if result.manoeuvres:
        return _manoeuvre_said(result)
    if found.excitations and not slosh.fills_solved:
        return say("how this tank sloshes could not be solved")
    near = [band for band in slosh.bands if band.near]
    if near:
        return say(
            "{wave} comes near the {excitation} that the machine puts in",
            wave=_wave(near[0].name),
            excitation=Quantity(near[0].near[0].excitation_hz, "frequency"),
        )
    if not slosh.bands:
        return say("No wave is known here")
    first = slosh.bands[0]
    return say(
        "{wave} has {low} to {high}" + ("" if not found.excitations else "; no wave comes near"),
        wave=_wave(first.name),
        low=Quantity(first.low_hz, "frequency", "down"),
        high=Quantity(first.high_hz, "frequency", "up"),
    )


def _manoeuvre_said(result: Motion) -> Said:
    worst = min(result.manoeuvres, key=lambda one: one.margin_m)
    values: dict[str, Quantity | str] = {
        "name": in_force(worst.name),
        "port": worst.port,
        "margin": Quantity(abs(worst.margin_m), "length", "down" if worst.holds else "up"),
    }
    if result.holds:
        return say("every rule is kept; least in '{name}': {port}, by {margin}", **values)
    broken = sum(not one.holds for one in result.manoeuvres)
    count = f"{broken} of {len(result.manoeuvres)} manoeuvres break a rule"
    return say(count + "; worst '{name}': {port} is short by {margin}", **values)


def _wave(name: str) -> str:
    return f"the {name} wave" if name.startswith("first") else name


def _facts(result: Motion) -> Iterator[Fact]:
    slosh = result.slosh
    for band in slosh.bands:
        for one in band.near:
            words = say(
                "{name} comes near {excitation}, between {least} and {most} in the tank",
                name=_wave(band.name),
                excitation=Quantity(one.excitation_hz, "frequency"),
                least=Quantity(one.from_m3, "volume", "down"),
                most=Quantity(one.to_m3, "volume", "up"),
            )
            yield Fact("near", words, brief=band.name.startswith("first"))
    for baffle in result.baffles:
        yield Fact("baffle", _baffle(baffle))
        yield Fact("baffle", f"with the least fill {baffle.words}", brief=False)
    left = result.running_left
    if left is not None:
        span = "{soonest} to {all} once a pickup is bare, until air reaches the pump"
        seconds = {"soonest": left.seconds, "all": left.seconds_plug}
        told = {name: Quantity(one, "time", "down") for name, one in seconds.items()}
        yield Fact("running left", say(span, **told))
        yield Fact("running left", left.words, brief=False)
    if slosh.rooms > 1:
        for which, waves in (("least", slosh.at_least), ("most", slosh.at_most)):
            for room in dict.fromkeys((w.rear_m, w.front_m) for w in waves):
                yield Fact(f"at the {which} fill", _room(room, waves), brief=False)
    if slosh.fills_solved:
        high = Quantity(slosh.too_high_by, "share", "up")
        near = Quantity(NEAR, "share")
        words = say(
            f"from the tank's own surface and walls at {slosh.fills_solved} fills; may be up to "
            "{high} too high, not too low; near is within {near} (common practice, no source)",
            high=high,
            near=near,
        )
        yield Fact("waves", words, Sure.SOLVED, brief=False)
    yield from (Fact("waves", note) for note in slosh.notes)


def _baffle(baffle: BaffleEffect) -> Said:
    """What a solid baffle makes of the first longitudinal wave; '-' where there is none."""
    return say(
        "solid, {at} from the rear: {whole} becomes {rear} behind and {front} ahead of it; with holes between",
        at=Quantity(baffle.position_m, "length"),
        whole=Quantity(baffle.whole_hz, "frequency"),
        rear=Quantity(baffle.rear_hz, "frequency"),
        front=Quantity(baffle.front_hz, "frequency"),
    )


def _room(room: tuple[float, float], waves: tuple[Wave, ...]) -> Said:
    """The lowest waves of liquid that hangs together."""
    own = [w for w in waves if (w.rear_m, w.front_m) == room][:3]
    values: dict[str, Quantity | str] = {
        f"wave{k}": Quantity(w.frequency_hz, "frequency") for k, w in enumerate(own)
    }
    parts = ", ".join(f"{{wave{k}}} {w.direction}" for k, w in enumerate(own))
    return say(
        "liquid {rear} to {front} from the rear: " + parts,
        rear=Quantity(room[0], "length"),
        front=Quantity(room[1], "length"),
        **values,
    )


def _manoeuvres(result: Motion) -> Table:
    columns = (
        Column("manoeuvre"),
        Column("felt, if it lasts", "slope"),
        Column("as if standing"),
        Column("margin", "length", "down"),
        Column("port"),
        Column("rule"),
    )
    return Table("", columns, [_manoeuvre(one) for one in result.manoeuvres])


def _manoeuvre(one: ManoeuvreResult) -> tuple[Cell, ...]:
    side = heading_words(math.radians(one.heading_deg))
    return (
        in_force(one.name),
        math.radians(one.slope_deg),
        side if one.slope_deg >= _LEVEL else "level",
        *(one.margin_m, one.port, "kept" if one.holds else "broken"),
    )


def _bands(slosh: Slosh) -> Table:
    columns = (
        Column("wave"),
        Column("lowest", "frequency", "down"),
        Column("with", "volume"),
        Column("highest", "frequency", "up"),
        Column("with", "volume"),
    )
    bands = list(slosh.bands)
    brief = [k for k, band in enumerate(bands) if band.name.startswith("first")]
    return Table("", columns, [_band(band) for band in bands], brief=brief)


def _band(band: WaveBand) -> tuple[Cell, ...]:
    return band.name, band.low_hz, band.low_at_m3, band.high_hz, band.high_at_m3


def _figures(found: MotionAnswer) -> "Mapping[str, Callable[[], Figure]]":
    def drawn(in_g: bool) -> "Figure":
        from tanksolve.present.motion_plot import motion_figure
        from tanksolve.questions.envelope.envelope import envelope

        given = (found.tank, found.ports, found.result.fill)
        limits = envelope(*given, pickups=found.pickups)
        return motion_figure(limits, found.manoeuvres, in_g=in_g)

    return {"map": lambda: drawn(False), "map-in-g": lambda: drawn(True)}
