"""The suction line from the tank to the pump, as the builder would describe it."""

import difflib
import math
import re
from dataclasses import dataclass

from tanksolve.errors import LineError
from tanksolve.unit_systems import stated

__all__ = [
    "FITTINGS",
    "HOSE_BORES",
    "Fitting",
    "LineSection",
    "PumpLimits",
    "Strainer",
    "SuctionLine",
    "fitting",
]

SEA_LEVEL = 101325.0  # Pa, US Standard Atmosphere 1976
DEFAULT_VACUUM = 16931.9  # Pa, 5 inHg: common practice, no source
COMMON_PRACTICE = "common practice, no source; use the pump maker's figure"
HOSE_BORES: tuple[float, ...] = (
    *(0.0064, 0.0079, 0.0095, 0.0127, 0.0159, 0.0191, 0.0254, 0.0318),
    *(0.0381, 0.0508, 0.0635, 0.0762, 0.0889, 0.1016),
)
"""Inner diameters [m] of inch-size hoses, 1/4 to 4 in (the sizes of SAE J517; from memory)."""


def _positive(value: float, what: str, where: str, allowed: str = "more than 0") -> None:
    if not (math.isfinite(value) and value > 0.0):
        raise LineError(f"{what} of {value:g} is not positive", where=where, allowed=allowed)


@dataclass(frozen=True)
class Fitting:
    """A loss of ``(laminar/Re + turbulent (1 + inch_effect/bore))`` velocity heads.

    Attributes
    ----------
    name : what it is.
    turbulent : loss coefficient far up in the turbulent range.
    laminar : coefficient of 1/Re; cold oil loses far more in an elbow than water does. 0 gives a
        constant coefficient.
    inch_effect : one inch [m] for Hooper's fittings, 0 for entrances and constants.
    source : where the coefficients come from.
    """

    name: str
    turbulent: float
    laminar: float = 0.0
    inch_effect: float = 0.0
    source: str = "as given"

    def __post_init__(self) -> None:
        if not (math.isfinite(self.turbulent) and self.turbulent >= 0.0):
            raise LineError(
                f"a loss coefficient of {self.turbulent:g} is negative", where=self.name
            )

    @property
    def words(self) -> str:
        """Its velocity heads, as a formula."""
        steady = f"{self.turbulent:g}"
        if self.inch_effect > 0.0:
            steady += " x (1 + 1 in/bore)"
        return f"K = {steady}" + (f" + {self.laminar:g}/Re" if self.laminar > 0.0 else "")


_HOOPER = (
    'W. B. Hooper, "The 2-K Method", Chem. Eng., 24 Aug 1981, as in the fluids library; held to the table'
    " from memory only"
)
_HOOPER_ENTRANCE = "Crane TP-410 as in the fluids library; laminar part Hooper 1981 (from memory)"
_INCH = 0.0254
FITTINGS: dict[str, str] = {
    "elbow": "Elbow, 90°, Standard (R/D = 1), Screwed",
    "long elbow": "Elbow, 90°, Long-radius (R/D = 1.5), All types",
    "elbow 45": "Elbow, 45°, Standard (R/D = 1), All types",
    "tee run": "Tee, Run, Screwed",
    "tee branch": "Elbow, Used as, Standard, Screwed",
    "gate valve": "Valve, Gate, Full line size, Beta = 1",
    "ball valve": "Valve, Ball, Reduced trim, Beta = 0.9",
    "butterfly valve": "Valve, Butterfly,",
    "swing check": "Valve, Check, Swing",
    "lift check": "Valve, Check, Lift",
}
"""Short names of fittings and their names in the ``fluids`` library's table of Hooper's."""
_ENTRANCES = ("drop tube", "wall entrance")


def fitting(name: str) -> Fitting:
    """Make a fitting by name: one of ``FITTINGS``, ``drop tube`` or ``wall entrance``, or ``K=0.75``.

    Raises LineError for a name that is not known.
    """
    import fluids.fittings as table

    plain = name.strip().lower()
    plain = plain.removesuffix("s") if plain.removesuffix("s") in FITTINGS else plain  # 2 elbows
    if plain in FITTINGS:
        laminar, turbulent = table.Hooper[FITTINGS[plain]]
        return Fitting(plain, turbulent, laminar, _INCH, _HOOPER)
    if plain == "drop tube":
        k = float(table.entrance_distance(Di=0.05, method="Crane"))
        return Fitting(plain, k, 160.0, source=_HOOPER_ENTRANCE)
    if plain == "wall entrance":
        k = float(table.entrance_sharp(method="Crane"))
        return Fitting(plain, k, 160.0, source=_HOOPER_ENTRANCE)
    if plain.startswith("k="):
        try:
            return Fitting(plain.upper(), float(plain[2:]))
        except ValueError:
            raise LineError(f"'{name}' has no number after K=", allowed="as in K=0.75") from None
    counted = re.fullmatch(r"(\d+) *[x*]? *(\D.*)", plain)
    count, word = (f"{counted[1]} ", counted[2]) if counted else ("", plain)
    known = (*_ENTRANCES, *FITTINGS)
    near = difflib.get_close_matches(word.removesuffix("s"), known, n=1)
    raise LineError(
        f"'{name}' is not a fitting that is known here",
        allowed=", ".join((*known, "K=0.75 (a loss coefficient of your own)")),
        next_step=f"did you mean '{count}{near[0]}'?" if near else "",
    )


@dataclass(frozen=True)
class LineSection:
    """A stretch of hose or tube of one bore.

    Attributes
    ----------
    bore : inner diameter [m].
    length : [m]; 0 for fittings alone.
    fittings : in this bore.
    roughness : of the wall [m]; the default is commercial steel's, more than hose or drawn tube.
    """

    bore: float
    length: float
    fittings: tuple[Fitting, ...] = ()
    roughness: float = 4.6e-5

    def __post_init__(self) -> None:
        _positive(self.bore, "a bore", "suction line")
        if not (math.isfinite(self.length) and self.length >= 0.0):
            raise LineError(
                f"a length of {stated(self.length, 'distance')} is negative", where="suction line"
            )
        if self.bore > 1.0:
            raise LineError(
                f"a bore of {stated(self.bore, 'length')} is not a suction hose",
                where="suction line",
                allowed="up to 1000 mm",
                next_step="check the unit of the bore",
            )
        if not 0.0 <= self.roughness < 0.05 * self.bore:
            raise LineError(
                f"a roughness of {stated(self.roughness, 'length')} does not fit the bore",
                where="suction line",
                allowed="0 to 5 % of the bore",
            )

    @property
    def area(self) -> float:
        """Flow area [m²]."""
        return 0.25 * math.pi * self.bore**2

    @property
    def volume(self) -> float:
        """Liquid it holds [m³]."""
        return self.area * self.length


@dataclass(frozen=True)
class Strainer:
    """A suction strainer by its maker's figure: a drop when clean, at a flow and a viscosity.

    Attributes
    ----------
    clean_drop : [Pa] at ``flow`` [m³/s] and kinematic ``viscosity`` [m²/s].
    blocked : part of the screen that is blocked, 0 to below 1.
    """

    clean_drop: float
    flow: float
    viscosity: float = 3.2e-5
    blocked: float = 0.0

    def __post_init__(self) -> None:
        for value, what in (
            (self.clean_drop, "a clean drop"),
            (self.flow, "a flow"),
            (self.viscosity, "a viscosity"),
        ):
            _positive(value, what, "strainer")
        if not 0.0 <= self.blocked < 1.0:
            raise LineError(
                f"{100 * self.blocked:g} % blocked is not a part",
                where="strainer",
                allowed="0 to less than 100 %",
            )

    def drop(self, flow: float, viscosity: float) -> float:
        """Drop [Pa] at a flow and viscosity: the larger of the viscous and the inertial scaling.

        Viscous drop goes with flow x viscosity over the open part, inertial drop with the square
        of flow over the open part (common practice, no source).
        """
        speed = flow / self.flow / (1.0 - self.blocked)
        return self.clean_drop * max(speed * viscosity / self.viscosity, speed * speed)


@dataclass(frozen=True)
class SuctionLine:
    """Sections from the tank to the pump, in order, and perhaps a strainer. Raises LineError if none."""

    sections: tuple[LineSection, ...]
    strainer: Strainer | None = None

    def __post_init__(self) -> None:
        if not self.sections:
            raise LineError("the line has no section", allowed="at least one bore and length")

    def with_bore(self, bore: float) -> "SuctionLine":
        """The same line with every section at one bore [m]."""
        sections = tuple(
            LineSection(bore, s.length, s.fittings, min(s.roughness, 0.049 * bore))
            for s in self.sections
        )
        return SuctionLine(sections, self.strainer)

    @property
    def sources(self) -> dict[str, str]:
        """Where the figures in use come from, in words, by what they are of."""
        found = {f.name: f"{f.words} ({f.source})" for s in self.sections for f in s.fittings}
        rough = sorted({s.roughness for s in self.sections})
        walls = ", ".join(stated(r, "length", figures=2) for r in rough)
        found["wall's roughness"] = f"{walls} (commercial steel's unless given; from memory)"
        found["friction"] = (
            "64/Re up to Re 2000, Colebrook from Re 4000 (fluids library), the larger between (common"
            " practice, no source)"
        )
        if self.strainer is not None:
            found["strainer"] = (
                "its maker's drop, with flow x viscosity or flow squared, the larger (common practice, no"
                " source)"
            )
        return found

    @property
    def volume(self) -> float:
        """Liquid it holds [m³]."""
        return sum(section.volume for section in self.sections)

    def check_against_tank(self, smallest_side: float) -> None:
        """Refuse a bore larger than the tank's smallest side [m]. Raises LineError."""
        for section in self.sections:
            if section.bore >= smallest_side:
                raise LineError(
                    f"a bore of {stated(section.bore, 'length')} is larger than the tank",
                    where="suction line",
                    allowed=f"less than the tank's smallest side, {stated(smallest_side, 'length')}",
                    next_step="check the units of the bore and of the tank",
                )


@dataclass(frozen=True)
class PumpLimits:
    """What the pump's maker asks for at its inlet; any or all of it.

    Attributes
    ----------
    least_pressure_pa : absolute [Pa], or None.
    npsh_required_m : net positive suction head required [m of the liquid], or None.
    source : where the figure comes from, in words.
    """

    least_pressure_pa: float | None = None
    npsh_required_m: float | None = None
    source: str = "as given"

    def __post_init__(self) -> None:
        if self.least_pressure_pa is None and self.npsh_required_m is None:
            raise LineError(
                "the pump has no limit", allowed="a least pressure, a vacuum or an NPSH"
            )
        if self.least_pressure_pa is not None:
            _positive(self.least_pressure_pa, "a least inlet pressure [Pa absolute]", "pump")
        if self.npsh_required_m is not None:
            _positive(self.npsh_required_m, "an NPSH [m]", "pump")

    @classmethod
    def from_vacuum(cls, vacuum: float, source: str = "as given") -> "PumpLimits":
        """A greatest vacuum [Pa], read as below standard sea-level pressure.

        The pump feels absolute pressure: at altitude the same gauge reading is a worse inlet.
        """
        if not 0.0 <= vacuum < SEA_LEVEL:
            raise LineError(
                f"a vacuum of {stated(vacuum, 'pressure')} is not one",
                where="pump",
                allowed="0 to less than 101.325 kPa (29.92 inHg)",
            )
        return cls(SEA_LEVEL - vacuum, None, f"{source}; below sea-level pressure")

    @classmethod
    def common_practice(cls) -> "PumpLimits":
        """5 inHg of vacuum, where the maker's figure is not at hand."""
        return cls(SEA_LEVEL - DEFAULT_VACUUM, None, COMMON_PRACTICE)
