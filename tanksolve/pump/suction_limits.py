"""The suction line over a range of temperatures: what passes, and the smallest bore that does.

Against temperature the margin has one hump between the steps where a section's flow stops being
laminar: thick when cold, vapour when hot. So each piece is solved by its top and a root on either
side of it; nothing is scanned.
"""

from dataclasses import dataclass, replace
from typing import Literal

from tanksolve.errors import LineError
from tanksolve.model.fluid import Liquid
from tanksolve.model.suction_line import HOSE_BORES, SEA_LEVEL, PumpLimits, SuctionLine
from tanksolve.pump.suction import LAMINAR_END, Duty, InletState, Regime, inlet_state
from tanksolve.result import Result
from tanksolve.unit_systems import stated, told
from tanksolve.units import temperature_words

__all__ = [
    "VELOCITY_ADVICE",
    "CleanStrainer",
    "SuctionAnswer",
    "SuctionCurve",
    "Verdict",
    "laminar_steps",
    "passing_temperatures",
    "smallest_bore",
    "solve_suction",
    "suction_curve",
    "worst_state",
]

Verdict = Literal["yes", "no", "not known"]
VELOCITY_ADVICE = 1.2  # m/s, greatest in a suction line: B. Casey, Power & Motion, 4 Apr 2017
_STEP = 1e-7  # K, to stand on either side of the step from laminar flow


@dataclass(frozen=True, eq=False, repr=False)
class SuctionAnswer(Result):
    """What the builder wants to know of a suction line.

    Attributes
    ----------
    cold, hot : the inlet at the ends of the range asked for.
    worst : the inlet where the margin is least within it (also at the steps between).
    verdict : whether the limits are kept over the whole range: no as well where it starts below the
        pour or cloud point; not known where no pour point is given and it starts colder than the
        coldest viscosity point.
    coldest_k, hottest_k : temperatures [K] between which everything passes; None where nothing does.
    range_k : temperatures [K] between which the liquid's figures hold and it may pass.
    intervals_k : all stretches of temperature [K] that pass, within the liquid's figures.
    steps_k : temperatures [K] where a section's flow stops being laminar, and the pressure drops.
    clean : the same line with its strainer clean; None without a part-blocked strainer.
    smallest_bore_m : smallest listed hose bore [m] that passes over the range asked for, as far as
        the liquid flows in it, or None.
    smallest_bore_for_velocity_m : smallest listed bore [m] under the advice of 1.2 m/s, or None.
    cautions : in words.
    """

    cold: InletState
    hot: InletState
    worst: InletState
    verdict: Verdict
    coldest_k: float | None
    hottest_k: float | None
    range_k: tuple[float, float]
    intervals_k: tuple[tuple[float, float], ...]
    steps_k: tuple[float, ...]
    clean: "CleanStrainer | None"
    smallest_bore_m: float | None
    smallest_bore_for_velocity_m: float | None
    pump: PumpLimits
    cautions: tuple[str, ...]

    @property
    def passes(self) -> bool:
        """Whether the limits are certainly kept over the whole range."""
        return self.verdict == "yes"


@dataclass(frozen=True)
class CleanStrainer:
    """What would pass if the strainer were clean; temperatures [K] as in :class:`SuctionAnswer`."""

    passes: bool
    coldest_k: float | None
    hottest_k: float | None


@dataclass(frozen=True)
class SuctionCurve:
    """Inlet pressure against temperature, for a plot: [K], [Pa] and the limit [Pa] at each.

    The inlet's pressure is NaN where the line cannot carry the flow.
    """

    temperature_k: tuple[float, ...]
    inlet_pressure_pa: tuple[float, ...]
    limit_pa: tuple[float, ...]
    vapour_pressure_pa: tuple[float, ...]


def laminar_steps(line: SuctionLine, duty: Duty) -> tuple[float, ...]:
    """Temperatures [K] at which a section's Reynolds number passes 2000, in rising order."""
    steps = set()
    for section in line.sections:
        viscosity = duty.flow / section.area * section.bore / LAMINAR_END
        temperature = duty.liquid.temperature_of_viscosity(viscosity)
        if temperature is not None:
            steps.add(temperature)
    return tuple(sorted(steps))


def _pieces(low: float, high: float, steps: tuple[float, ...]) -> list[tuple[float, float]]:
    """Stretches between the steps, each kept off the step by a hair."""
    inside = [t for t in steps if low + 2.0 * _STEP < t < high - 2.0 * _STEP]
    starts = [low, *(t + _STEP for t in inside)]
    ends = [*(t - _STEP for t in inside), high]
    return list(zip(starts, ends, strict=True))


def passing_temperatures(
    line: SuctionLine, duty: Duty, pump: PumpLimits
) -> tuple[tuple[float, float], ...]:
    """All stretches [K] at which the limits are kept, within the liquid's figures; none below its pour
    or cloud point (``Liquid.flows_from``).
    """
    from scipy.optimize import brentq, minimize_scalar

    def margin(temperature: float) -> float:
        return inlet_state(line, duty, pump, temperature).pressure_margin_pa

    found: list[tuple[float, float]] = []
    coldest = max(duty.liquid.lowest, duty.liquid.flows_from)
    for start, end in _pieces(coldest, duty.liquid.highest, laminar_steps(line, duty)):
        inner = minimize_scalar(lambda t: -margin(t), bounds=(start, end), method="bounded")
        top = max((start, end, float(inner.x)), key=margin)
        if margin(top) < 0.0:
            continue
        low = start if margin(start) >= 0.0 else float(brentq(margin, start, top, xtol=1e-9))
        high = end if margin(end) >= 0.0 else float(brentq(margin, top, end, xtol=1e-9))
        if found and low - found[-1][1] <= 3.0 * _STEP:
            low = found.pop()[0]
        found.append((low, high))
    return tuple(found)


def worst_state(
    line: SuctionLine, duty: Duty, pump: PumpLimits, cold: float, hot: float
) -> InletState:
    """The inlet with the least margin between two temperatures [K]: at an end or beside a step."""
    ends = (t for piece in _pieces(cold, hot, laminar_steps(line, duty)) for t in piece)
    return min((inlet_state(line, duty, pump, t) for t in ends), key=lambda s: s.pressure_margin_pa)


def smallest_bore(
    line: SuctionLine, duty: Duty, pump: PumpLimits, cold: float, hot: float
) -> float | None:
    """Smallest listed hose bore [m], used for the whole line, that passes from cold to hot [K]."""
    for bore in HOSE_BORES:
        if worst_state(line.with_bore(bore), duty, pump, cold, hot).passes:
            return bore
    return None


def solve_suction(
    line: SuctionLine, duty: Duty, pump: PumpLimits, cold: float, hot: float
) -> SuctionAnswer:
    """Answer every question about the line for a liquid from ``cold`` to ``hot`` [K].

    Raises LineError where cold is not below hot, LiquidError out of the liquid's range.
    """
    if cold > hot:
        raise LineError(
            f"the cold start, {stated(cold, 'temperature')}, is above "
            f"the hot liquid, {stated(hot, 'temperature')}",
            next_step="write the colder temperature first",
        )
    liquid = duty.liquid
    flows_from = max(liquid.lowest, liquid.flows_from)
    flowing = min(max(cold, flows_from), hot)
    intervals = passing_temperatures(line, duty, pump)
    cold_end, hot_end = (inlet_state(line, duty, pump, end) for end in (cold, hot))
    worst = worst_state(line, duty, pump, cold, hot)
    coldest, hottest = intervals[-1] if intervals else (None, None)
    fast = (
        b for b in HOSE_BORES if line.with_bore(b).sections[0].area * VELOCITY_ADVICE > duty.flow
    )
    return SuctionAnswer(
        cold=cold_end,
        hot=hot_end,
        worst=worst,
        verdict=_verdict(worst, liquid, cold),
        coldest_k=coldest,
        hottest_k=hottest,
        range_k=(flows_from, liquid.highest),
        intervals_k=intervals,
        clean=_clean(line, duty, pump, cold, hot),
        steps_k=laminar_steps(line, duty),
        smallest_bore_m=smallest_bore(line, duty, pump, flowing, hot),
        smallest_bore_for_velocity_m=next(fast, None),
        pump=pump,
        cautions=_cautions(duty, pump, (cold_end, hot_end, worst), intervals),
    )


def _verdict(worst: InletState, liquid: Liquid, cold: float) -> Verdict:
    if not worst.passes:
        return "no"
    if cold >= liquid.flows_from - 1e-9:
        return "yes"
    return "no" if liquid.pour_point is not None else "not known"


def _clean(
    line: SuctionLine, duty: Duty, pump: PumpLimits, cold: float, hot: float
) -> CleanStrainer | None:
    if line.strainer is None or line.strainer.blocked == 0.0:
        return None
    clean = replace(line, strainer=replace(line.strainer, blocked=0.0))
    intervals = passing_temperatures(clean, duty, pump)
    coldest, hottest = intervals[-1] if intervals else (None, None)
    return CleanStrainer(worst_state(clean, duty, pump, cold, hot).passes, coldest, hottest)


def _cautions(
    duty: Duty,
    pump: PumpLimits,
    states: tuple[InletState, InletState, InletState],
    intervals: tuple[tuple[float, float], ...],
) -> tuple[str, ...]:
    said = list(duty.liquid.cautions)
    liquid, cold = duty.liquid, states[0].temperature_k
    if cold < liquid.flows_from - 1e-9 and liquid.pour_point is not None:
        waxes = liquid.flows_from != liquid.pour_point
        said.append(
            f"Below {temperature_words(liquid.flows_from)} "
            + ("wax comes out and blocks strainers" if waxes else "the liquid does not pour")
            + f": no start at {temperature_words(cold)} passes, whatever the line."
        )
    if pump.least_pressure_pa is not None:
        said += _absolute_words(pump.least_pressure_pa, states)
    cannot = {s.temperature_k: _cannot_words(s) for s in states if not s.carries_flow}
    said += cannot.values()
    if any(f.regime is Regime.TRANSITIONAL for f in states[-1].sections):
        said.append("Flow is between laminar and turbulent; the larger friction was taken.")
    if len(intervals) > 1:
        said.append(
            "What passes has a gap, where flow stops being laminar and friction steps up; the"
            " coldest start given is the one above the gap."
        )
    said.append("Steady flow, pump at this flow from the first turn; pulses are not in it.")
    return tuple(said)


def _absolute_words(least: float, states: tuple[InletState, ...]) -> list[str]:
    """Why an inlet above the local atmosphere may fail: the pump's limit is absolute."""
    air = states[0].atmospheric_pressure_pa
    failing = [s for s in states if s.carries_flow and s.inlet_pressure_pa < least]
    if not failing or air >= SEA_LEVEL - 100.0:
        return []
    return [
        f"The air here has {told(air, 'pressure')} absolute, and the pump's least inlet pressure is"
        f" {told(least, 'pressure')} absolute: a vacuum is read as below sea-level pressure, since a pump feels"
        " absolute pressure. So even an inlet above the local atmosphere may be too low for it."
    ]


def _cannot_words(state: InletState) -> str:
    """Why no such flow can be: what it takes, what there is, and what takes the most."""
    needed = told(state.needed_pa + state.vapour_pressure_pa, "pressure")
    given = f"the atmosphere gives {told(state.atmospheric_pressure_pa, 'pressure')}"
    if state.static_head_pa > 0.0:
        given += f" and the level over the pump {told(state.static_head_pa, 'pressure')}"
    cause, share = max(state.shares_pa.items(), key=lambda item: item[1])
    if cause.startswith("friction") and state.sections[-1].regime is Regime.LAMINAR:
        cause += f", the liquid being {1e6 * state.viscosity_m2_s:.0f} cSt thick"
    return (
        f"The line cannot carry this flow at {temperature_words(state.temperature_k)}: it needs"
        f" {needed}, {given}. The greatest share, {told(share, 'pressure')}, is {cause}."
    )


def suction_curve(
    line: SuctionLine, duty: Duty, pump: PumpLimits, cold: float, hot: float, points: int = 121
) -> SuctionCurve:
    """Inlet pressure against temperature [K] for a plot, with both sides of each step in it."""
    even = [cold + (hot - cold) * k / (points - 1) for k in range(points)]
    ends = [t for piece in _pieces(cold, hot, laminar_steps(line, duty)) for t in piece]
    temperatures = tuple(sorted({*even, *ends}))
    states = [inlet_state(line, duty, pump, t) for t in temperatures]
    return SuctionCurve(
        temperatures,
        tuple(s.inlet_pressure_pa for s in states),
        tuple(s.available_pa - s.needed_pa - s.pressure_margin_pa for s in states),
        tuple(s.vapour_pressure_pa for s in states),
    )
