"""Will the pump's suction line cavitate: inlet pressure at one temperature.

Friction factors, fittings and the atmosphere come from the ``fluids`` library
(C. Bell and contributors, https://fluids.readthedocs.io). Steady flow; the pump's pulses are not
in it. :mod:`tanksolve.pump.suction_limits` solves for the temperatures and the bore.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from tanksolve.errors import LineError
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.fluid import Liquid
from tanksolve.model.suction_line import Fitting, LineSection, PumpLimits, SuctionLine
from tanksolve.pump.atmosphere import atmospheric_pressure
from tanksolve.unit_systems import stated

__all__ = [
    "LAMINAR_END",
    "TURBULENT_START",
    "Duty",
    "InletState",
    "Regime",
    "SectionFlow",
    "friction_factor",
    "inlet_state",
    "loss_coefficient",
]

LAMINAR_END = 2000.0  # Reynolds numbers between which flow may be either: common practice
TURBULENT_START = 4000.0


class Regime(StrEnum):
    """How the liquid flows in a section."""

    LAMINAR = "laminar"
    TRANSITIONAL = "between laminar and turbulent: the larger friction is taken"
    TURBULENT = "turbulent"


@dataclass(frozen=True)
class Duty:
    """What the line has to do.

    Attributes
    ----------
    liquid : with its figures.
    flow : [m³/s] through the line.
    level_over_pump : height of the liquid's surface above the pump's inlet [m], along gravity, at
        the worst attitude that is asked for; negative where the pump lifts.
    altitude : of the site [m] above the sea.
    """

    liquid: Liquid
    flow: float
    level_over_pump: float
    altitude: float = 0.0

    def __post_init__(self) -> None:
        if not (math.isfinite(self.flow) and self.flow > 0.0):
            raise LineError(f"a flow of {stated(self.flow, 'flow')} is not positive")
        if not (math.isfinite(self.level_over_pump) and abs(self.level_over_pump) <= 100.0):
            raise LineError(
                f"a level of {stated(self.level_over_pump, 'distance')} over the pump is not on a machine",
                allowed=stated((-100.0, 100.0), "distance", " to "),
            )


@dataclass(frozen=True)
class SectionFlow:
    """Flow in one section: bore [m], velocity [m/s], Reynolds number, friction factor (Darcy) and
    losses [Pa].
    """

    bore_m: float
    velocity_m_s: float
    reynolds: float
    regime: Regime
    friction_factor: float
    friction_drop_pa: float
    fittings_drop_pa: float


@dataclass(frozen=True)
class InletState:
    """The pump's inlet at one temperature.

    Attributes
    ----------
    temperature_k [K], viscosity_m2_s [m²/s], density_kg_m3 [kg/m³], vapour_pressure_pa [Pa].
    atmospheric_pressure_pa, inlet_pressure_pa : absolute [Pa]; the inlet's is the static one.
    carries_flow : whether the inlet's pressure stays above nought and the vapour pressure. Where it
        does not, this flow cannot be: inlet pressure, vacuum and NPSH are then NaN.
    needed_pa : what the line takes at this flow [Pa]: friction, fittings, strainer, the velocity
        head and the lift where the pump stands above the liquid.
    available_pa : what the atmosphere and the level over the pump give [Pa].
    static_head_pa : of the level over the pump [Pa].
    vacuum_pa : atmosphere less inlet pressure [Pa]; negative where the inlet is above the atmosphere.
    npsh_available_m : [m of the liquid].
    pressure_margin_pa : the least of what is left over the pump's limits and over vapour pressure
        [Pa]; negative fails.
    """

    temperature_k: float
    viscosity_m2_s: float
    density_kg_m3: float
    vapour_pressure_pa: float
    sections: tuple[SectionFlow, ...]
    strainer_drop_pa: float
    static_head_pa: float
    atmospheric_pressure_pa: float
    inlet_pressure_pa: float
    vacuum_pa: float
    npsh_available_m: float
    pressure_margin_pa: float
    set_by: str
    carries_flow: bool
    needed_pa: float
    available_pa: float

    @property
    def passes(self) -> bool:
        """Whether every limit is kept."""
        return self.pressure_margin_pa >= 0.0

    @property
    def losses_pa(self) -> dict[str, float]:
        """What the line takes at this flow [Pa], one by one, in words; nothing that takes nothing."""
        each = {
            "friction": sum(f.friction_drop_pa for f in self.sections),
            "fittings": sum(f.fittings_drop_pa for f in self.sections),
            "strainer": self.strainer_drop_pa,
            "lift": max(0.0, -self.static_head_pa),
        }
        each["speed"] = self.needed_pa - sum(each.values())
        return {name: lost for name, lost in each.items() if lost > 0.0}

    @property
    def shares_pa(self) -> dict[str, float]:
        """What takes the pressure [Pa], in words."""
        friction = sum(f.friction_drop_pa + f.fittings_drop_pa for f in self.sections)
        friction += self.strainer_drop_pa
        lift = max(0.0, -self.static_head_pa)
        return {
            "friction in hose, fittings and strainer": friction,
            "the height that the pump lifts": lift,
            "the speed in the line": self.needed_pa - friction - lift,
            "the liquid's vapour pressure": self.vapour_pressure_pa,
        }


def friction_factor(reynolds: float, relative_roughness: float) -> tuple[float, Regime]:
    """Darcy friction factor and the regime; the larger of two between Re 2000 and 4000."""
    from fluids.friction import Clamond, friction_laminar

    if reynolds <= LAMINAR_END:
        return float(friction_laminar(reynolds)), Regime.LAMINAR
    turbulent = float(Clamond(reynolds, relative_roughness))
    if reynolds >= TURBULENT_START:
        return turbulent, Regime.TURBULENT
    return max(turbulent, float(friction_laminar(reynolds))), Regime.TRANSITIONAL


def loss_coefficient(fitting: Fitting, bore: float, reynolds: float) -> float:
    """Velocity heads lost in a fitting: constant, Hooper's two terms, or an entrance with a laminar part."""
    from fluids.fittings import Hooper2K

    if fitting.inch_effect > 0.0:
        inches = bore / fitting.inch_effect
        return float(Hooper2K(Di=inches, Re=reynolds, K1=fitting.laminar, Kinfty=fitting.turbulent))
    return fitting.turbulent + fitting.laminar / reynolds


def _section_flow(
    section: LineSection, flow: float, viscosity: float, density: float
) -> SectionFlow:
    velocity = flow / section.area
    reynolds = velocity * section.bore / viscosity
    factor, regime = friction_factor(reynolds, section.roughness / section.bore)
    dynamic = 0.5 * density * velocity**2
    lost = sum(loss_coefficient(f, section.bore, reynolds) for f in section.fittings)
    friction = factor * section.length / section.bore * dynamic
    return SectionFlow(section.bore, velocity, reynolds, regime, factor, friction, lost * dynamic)


def inlet_state(line: SuctionLine, duty: Duty, pump: PumpLimits, temperature: float) -> InletState:
    """Pressure at the pump's inlet at one temperature [K] of the liquid.

    ``p = p_atm + rho g z - friction - fittings - strainer - rho v²/2``; NPSH available counts the
    velocity head back in: ``(p + rho v²/2 - p_v) / (rho g)``.
    Raises LiquidError for a temperature out of the liquid's range.
    """
    viscosity = duty.liquid.viscosity(temperature)
    density = duty.liquid.density(temperature)
    vapour = duty.liquid.vapour_pressure(temperature)
    flows = tuple(_section_flow(s, duty.flow, viscosity, density) for s in line.sections)
    strainer = line.strainer.drop(duty.flow, viscosity) if line.strainer else 0.0
    air = atmospheric_pressure(duty.altitude)
    head = density * GRAVITY * duty.level_over_pump
    dynamic = 0.5 * density * flows[-1].velocity_m_s ** 2
    lost = strainer + sum(f.friction_drop_pa + f.fittings_drop_pa for f in flows)
    needed, available = lost + dynamic + max(0.0, -head), air + max(0.0, head)
    inlet = air + head - lost - dynamic
    npsh = (inlet + dynamic - vapour) / (density * GRAVITY)
    margin, set_by = _least_margin(inlet, npsh, vapour, density, pump)
    carries = inlet > max(0.0, vapour)
    told = (inlet, air - inlet, npsh) if carries else (math.nan, math.nan, math.nan)
    return InletState(
        *(temperature, viscosity, density, vapour, flows, strainer, head),
        *(air, *told, margin),
        set_by=set_by,
        carries_flow=carries,
        needed_pa=needed,
        available_pa=available,
    )


def _least_margin(
    inlet: float, npsh: float, vapour: float, density: float, pump: PumpLimits
) -> tuple[float, str]:
    margins = [(inlet - vapour, "vapour pressure of the liquid")]
    if pump.least_pressure_pa is not None:
        margins.append((inlet - pump.least_pressure_pa, "the pump's least inlet pressure"))
    if pump.npsh_required_m is not None:
        head = (npsh - pump.npsh_required_m) * density * GRAVITY
        margins.append((head, "the pump's NPSH"))
    return min(margins)
