"""From a cold fill to the least and the most liquid that the tank will hold in use.

The most: hot, rods in, hoses drained back. The least: cold, rods out, hoses filled, leakage lost.
These two volumes are what ``marks`` and ``envelope`` want as the fill.
"""

import math
from dataclasses import dataclass
from enum import StrEnum
from typing import ClassVar

from tanksolve.errors import FillError
from tanksolve.model.fluid import Liquid
from tanksolve.model.liquid import Fill
from tanksolve.result import Result
from tanksolve.unit_systems import stated

__all__ = [
    "AIR_SPACE_RULES",
    "Action",
    "AirSpaceRule",
    "Budget",
    "Cylinder",
    "Hose",
    "SizingAdvice",
    "Temperatures",
    "VolumeStep",
    "cold_fill_for_air_space",
    "sizing_advice",
    "work_out_budget",
]

_US_GALLON = 3.785411784e-3  # m³, 231 in³: NIST Handbook 44, Appendix C


@dataclass(frozen=True)
class AirSpaceRule:
    """Air space that a published rule asks for: a part of the capacity, or a volume if greater."""

    name: str
    part: float
    least: float
    source: str

    def required(self, capacity: float) -> float:
        """Air space [m³] for a capacity [m³]."""
        return max(self.part * capacity, self.least)


AIR_SPACE_RULES: dict[str, AirSpaceRule] = {
    rule.name: rule
    for rule in (
        AirSpaceRule(
            "oil tank 10 %", 0.10, 0.0, "14 CFR 23.1013 (superseded Part 23): at least 10 %"
        ),
        AirSpaceRule(
            "oil tank 10 % or half a gallon",
            0.10,
            0.5 * _US_GALLON,
            "14 CFR 23.1013 (superseded Part 23), reciprocating engines: 10 % or 0.5 US gal",
        ),
        AirSpaceRule(
            "fuel tank 2 %", 0.02, 0.0, "14 CFR 23.969 (superseded Part 23): at least 2 %"
        ),
        AirSpaceRule("fuel outage 2 %", 0.02, 0.0, "46 CFR 58.50-1(c): outage of 2 %"),
        AirSpaceRule(
            "truck fuel tank 5 %",
            0.05,
            0.0,
            "49 CFR 393.67: filled to no more than 95 % (read in a secondary page)",
        ),
    )
}


class Action(StrEnum):
    """How a cylinder works."""

    DOUBLE = "double acting"
    SINGLE = "single acting"


@dataclass(frozen=True)
class Cylinder:
    """Cylinders of one kind: bore, rod and stroke [m]. Raises FillError for sizes that cannot be.

    A double-acting cylinder takes its rod's volume out of the tank when it extends; a
    single-acting one takes its bore's.
    """

    bore: float
    rod: float
    stroke: float
    count: int = 1
    action: Action = Action.DOUBLE

    def __post_init__(self) -> None:
        for value, what in ((self.bore, "bore"), (self.rod, "rod"), (self.stroke, "stroke")):
            _not_negative(value, f"a cylinder's {what}", "length")
        if not 0.0 < self.rod < self.bore:
            raise FillError(
                f"a rod of {stated(self.rod, 'length')} in a bore of {stated(self.bore, 'length')}",
                allowed="a rod thinner than the bore",
                next_step="exchange the two if they were swapped",
            )
        if self.count < 0:
            raise FillError(f"{self.count} cylinders cannot be")

    @property
    def drawn(self) -> float:
        """Volume [m³] that extending all of them takes out of the tank."""
        diameter = self.rod if self.action is Action.DOUBLE else self.bore
        return self.count * 0.25 * math.pi * diameter**2 * self.stroke


@dataclass(frozen=True)
class Hose:
    """Hose or tube that the tank fills once: bore and length [m]."""

    bore: float
    length: float

    def __post_init__(self) -> None:
        _not_negative(self.bore, "a hose's bore", "length")
        _not_negative(self.length, "a hose's length", "length")

    @property
    def volume(self) -> float:
        """Liquid it holds [m³]."""
        return 0.25 * math.pi * self.bore**2 * self.length


@dataclass(frozen=True)
class VolumeStep:
    """One line of the budget: what changes, and by how much liquid in the tank [m³]."""

    name: str
    to_least_m3: float
    to_most_m3: float
    source: str


@dataclass(frozen=True, eq=False, repr=False)
class Budget(Result):
    """Least and most liquid in the tank, and the air space left [m³].

    Attributes
    ----------
    steps : the lines that add up from the cold fill to the two volumes.
    air_space_m3 : capacity less the most.
    air_space_required_m3 : by the rule.
    passes : the air space is kept and the least is above nothing.
    greatest_cold_fill_m3 : the cold fill at which the air space is just kept.
    """

    rows_of: ClassVar[str] = "steps"

    capacity_m3: float
    cold_fill_m3: float
    least_m3: float
    most_m3: float
    steps: tuple[VolumeStep, ...]
    air_space_m3: float
    air_space_required_m3: float
    rule: AirSpaceRule
    greatest_cold_fill_m3: float
    passes: bool
    liquid: Liquid
    cautions: tuple[str, ...]

    @property
    def fill(self) -> Fill:
        """The two volumes for marks and envelope. Raises FillError where nothing would be left."""
        return Fill(self.least_m3, self.most_m3)


def _not_negative(value: float, what: str, kind: str) -> None:
    if not (math.isfinite(value) and value >= 0.0):
        raise FillError(f"{what} of {stated(value, kind)} is negative", allowed="0 or more")


@dataclass(frozen=True)
class Temperatures:
    """Temperatures [K] at which the liquid is poured, and the coldest and hottest in use."""

    fill: float
    coldest: float
    hottest: float

    def __post_init__(self) -> None:
        if not self.coldest <= self.fill <= self.hottest:
            c, f, h = (stated(t, "temperature") for t in (self.coldest, self.fill, self.hottest))
            raise FillError(
                f"coldest {c}, filled at {f}, hottest {h} are not in order",
                allowed="coldest, then the filling temperature, then hottest",
            )


def work_out_budget(
    capacity: float,
    cold_fill: float,
    liquid: Liquid,
    temperatures: Temperatures,
    cylinders: tuple[Cylinder, ...] = (),
    hoses: tuple[Hose, ...] = (),
    leakage: float = 0.0,
    circuit: float = 0.0,
    rule: AirSpaceRule = AIR_SPACE_RULES["oil tank 10 %"],
) -> Budget:
    """Work out the least and the most liquid that the tank holds in use.

    Parameters
    ----------
    capacity, cold_fill : of the tank, and poured into it at ``temperatures.fill`` [m³].
    leakage : lost between services [m³].
    circuit : liquid already outside the tank in lines, cylinders and coolers [m³]; its growth with
        heat comes back to the tank, its shrinking is drawn from it.

    Raises FillError for volumes that cannot be, LiquidError out of the liquid's range.
    """
    for value, what in (
        (cold_fill, "a cold fill"),
        (leakage, "a leakage"),
        (circuit, "a circuit volume"),
    ):
        _not_negative(value, what, "volume")
    Fill(cold_fill, cold_fill).check(capacity)
    grown = liquid.volume_ratio(temperatures.hottest, temperatures.fill) - 1.0
    shrunk = liquid.volume_ratio(temperatures.coldest, temperatures.fill) - 1.0
    wetted = cold_fill + circuit
    heat = "liquid's density"
    steps = (
        VolumeStep("cold fill", cold_fill, cold_fill, "as given"),
        VolumeStep("growth and shrinking with heat", wetted * shrunk, wetted * grown, heat),
        VolumeStep("cylinders extended", -sum(c.drawn for c in cylinders), 0.0, "rod volume"),
        VolumeStep("hoses filled", -sum(h.volume for h in hoses), 0.0, "bore and length"),
        VolumeStep("leakage between services", -leakage, 0.0, "as given"),
    )
    least, most = sum(s.to_least_m3 for s in steps), sum(s.to_most_m3 for s in steps)
    required = rule.required(capacity)
    greatest = cold_fill_for_air_space(capacity, required, grown, circuit)
    return Budget(
        *(capacity, cold_fill, least, most, steps, capacity - most, required, rule, greatest),
        passes=capacity - most >= required and least > 0.0,
        liquid=liquid,
        cautions=_cautions(liquid, capacity, least, most),
    )


def cold_fill_for_air_space(
    capacity: float, air_space: float, growth: float, circuit: float = 0.0
) -> float:
    """Greatest cold fill [m³] that leaves ``air_space`` [m³] when grown by the part ``growth``."""
    return max(0.0, (capacity - air_space - circuit * growth) / (1.0 + growth))


def _cautions(liquid: Liquid, capacity: float, least: float, most: float) -> tuple[str, ...]:
    said = []
    if most > capacity:
        said.append("Hot, the tank runs over: pour less.")
    if least <= 0.0:
        said.append(
            "Cold and extended, nothing is left in the tank: it is too small, or pour more."
        )
    said += liquid.cautions
    said.append("The tank's own growth with heat is left out; a plastic tank's is not small.")
    return tuple(said)


@dataclass(frozen=True)
class SizingAdvice:
    """Capacity over pump flow, as advice and not as law: minutes of flow that the tank holds."""

    minutes: float
    words: str


def sizing_advice(capacity: float, flow: float) -> SizingAdvice:
    """Compare a capacity [m³] with a pump's flow [m³/s]: three minutes of it, on a machine one.

    References: hydraulicspneumatics.com, which cites NFPA/T3.16.2 (read in that page).
    """
    if not (math.isfinite(flow) and flow > 0.0):
        raise FillError(f"a pump flow of {stated(flow, 'flow')} is not positive")
    minutes = capacity / (60.0 * flow)
    verdict = (
        "at or above the usual three"
        if minutes >= 3.0
        else "below the usual three; a mobile machine may have as little as one"
        if minutes >= 1.0
        else "below even the one of small mobile tanks: look at heat, air release and cover"
    )
    words = f"the tank holds {minutes:.1f} minutes of the pump's flow, {verdict} (advice, not law)"
    return SizingAdvice(minutes, words)
