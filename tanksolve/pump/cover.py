"""How much liquid should stand over a pickup so that it draws no air through a vortex.

Two answers stand side by side. The fluid-power rule of thumb, twice the bore, is the default. The
submergence formula of ANSI/HI 9.8 was derived for water, which swirls more readily than oil, and
asks for about twice as much. Neither is a measurement of this tank.
"""

import math
from dataclasses import dataclass
from enum import StrEnum

from tanksolve.errors import PortError
from tanksolve.model.attitude import GRAVITY
from tanksolve.unit_systems import stated, told

__all__ = [
    "RULE_OF_THUMB",
    "CoverAdvice",
    "Mouth",
    "cover_advice",
    "gordon_submergence",
    "hydraulic_institute_submergence",
]

RULE_OF_THUMB = 2.0  # bores below the surface: B. Casey, Power & Motion, 4 Apr 2017


class Mouth(StrEnum):
    """How the suction line ends in the tank."""

    OPEN = "open end"
    BELL = "bell mouth"
    STRAINER = "strainer"


def hydraulic_institute_submergence(velocity: float, diameter: float) -> float:
    """Least submergence [m] of an opening of a diameter [m] entered at a velocity [m/s].

    ``S = D (1 + 2.3 F)``, ``F = V / sqrt(g D)``. References: ANSI/HI 9.8, "Rotodynamic Pumps for
    Pump Intake Design" (tank suction; read in a secondary page). Derived for water.
    """
    return diameter * (1.0 + 2.3 * velocity / math.sqrt(GRAVITY * diameter))


def gordon_submergence(velocity: float, diameter: float, lateral: bool = False) -> float:
    """Least submergence [m] after Gordon, ``S = C V sqrt(D)``; straight or lateral approach.

    References: J. L. Gordon, "Vortices at Intakes", Water Power, April 1970 (coefficients 0.3 and
    0.4 in feet from memory). Derived for hydro-power intakes.
    """
    per_root_foot = 1.0 / math.sqrt(0.3048)  # C is in s/ft^0.5, whence 0.5434 and 0.7245 in SI
    return (0.4 if lateral else 0.3) * per_root_foot * velocity * math.sqrt(diameter)


@dataclass(frozen=True)
class CoverAdvice:
    """Cover over a pickup by the rule of thumb and by a published vortex formula, all in m.

    Attributes
    ----------
    rule_of_thumb_m : the default, 2 x bore.
    vortex_formula_m : ANSI/HI 9.8, derived for water, at the mouth's diameter and entry speed.
    difference_m : what the formula asks for beyond the rule; negative where it asks for less.
    recommended : the rule of thumb, as fed into the envelope unless another is chosen.
    mouth_diameter_m, entry_velocity_m_s : what went into the formula [m], [m/s].
    """

    mouth: Mouth
    bore_m: float
    flow_m3_s: float
    mouth_diameter_m: float
    entry_velocity_m_s: float
    froude: float
    rule_of_thumb_m: float
    vortex_formula_m: float
    difference_m: float
    words: str

    @property
    def recommended(self) -> float:
        """The cover [m] used as the port's default."""
        return self.rule_of_thumb_m

    @property
    def larger(self) -> float:
        """The larger of the two [m], for whoever wants to be on the safe side of both."""
        return max(self.rule_of_thumb_m, self.vortex_formula_m)


def cover_advice(
    flow: float,
    bore: float,
    mouth: Mouth = Mouth.OPEN,
    mouth_diameter: float | None = None,
    strainer_length: float | None = None,
) -> CoverAdvice:
    """Advise on the cover over a pickup.

    Parameters
    ----------
    flow : [m³/s]; bore : inner diameter of the suction line [m].
    mouth_diameter : of the bell or of the strainer's screen [m]; at least the bore.
    strainer_length : of the screen [m]; its flow enters all round.

    Raises PortError for sizes or a flow that are not positive, or a mouth narrower than the bore.
    """
    _check(flow, bore, mouth, mouth_diameter, strainer_length)
    diameter = bore if mouth is Mouth.OPEN or mouth_diameter is None else mouth_diameter
    area = 0.25 * math.pi * diameter**2
    if mouth is Mouth.STRAINER and strainer_length is not None:
        area = math.pi * diameter * strainer_length
    velocity = flow / area
    rule = RULE_OF_THUMB * bore
    formula = hydraulic_institute_submergence(velocity, diameter)
    difference = formula - rule
    words = (
        f"{told(rule, 'rough length')} by the rule of thumb (2 x bore; B. Casey, Power & Motion, 2017);"
        f" {told(formula, 'rough length')} by ANSI/HI 9.8 (at second hand), derived for water:"
        f" {told(abs(difference), 'rough length')} {'more' if difference >= 0 else 'less'}"
    )
    if mouth is Mouth.STRAINER:
        words += "; applying the formula to a screen is this program's reading, no source"
    return CoverAdvice(
        *(mouth, bore, flow, diameter, velocity, velocity / math.sqrt(GRAVITY * diameter)),
        *(rule, formula, difference, words),
    )


def _check(
    flow: float,
    bore: float,
    mouth: Mouth,
    mouth_diameter: float | None,
    strainer_length: float | None,
) -> None:
    for value, what in ((flow, "flow"), (bore, "bore"), (mouth_diameter, "mouth")):
        if value is not None and not (math.isfinite(value) and value > 0.0):
            raise PortError(f"a {what} of {value:g} (SI) is not positive")
    if mouth is not Mouth.OPEN and mouth_diameter is None:
        raise PortError(f"a {mouth} needs its diameter", next_step="give the mouth's diameter")
    if mouth is Mouth.STRAINER and not (strainer_length and strainer_length > 0.0):
        raise PortError("a strainer needs its length", next_step="give the screen's length")
    if mouth_diameter is not None and mouth_diameter < bore:
        raise PortError(
            f"a mouth of {stated(mouth_diameter, 'length')} is narrower than the bore, {stated(bore, 'length')}",
            next_step="exchange the two if they were swapped",
        )
