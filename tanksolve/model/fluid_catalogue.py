"""Liquids by their trade names.

Every figure says where it comes from. ``TYPICAL`` means just that: the maker's data sheet is
the source for a real machine.
"""

import difflib
import math
from dataclasses import replace

from tanksolve.errors import LiquidError
from tanksolve.model.fluid import D341, FLAMMABLE, Figure, Liquid
from tanksolve.model.fluid_laws import (
    D341Line,
    LinearExpansion,
    VapourLine,
    WaterDensity,
    WaterVapour,
    WaterViscosity,
)
from tanksolve.unit_systems import stated

__all__ = ["LIQUIDS", "TYPICAL", "liquid_by_name"]

TYPICAL = "typical, check the data sheet"
_RABIE = "0.0007 per K: Fluid Power Engineering, eq. 2.81 (M. G. Rabie; author from memory)"
_GRADE = (
    "An oil may be 10 % thicker than its grade's midpoint, and an aged or wrong one more: cold"
    " friction rises as much."
)
_HOT_OIL = (
    "Oil above about 60 °C burns skin at once; a jet of it injects itself. Let it cool, and let the"
    " pressure down, before a line is opened."
)
_AIR = (
    "Air dissolved in the oil comes out well above its vapour pressure: the pump maker's least"
    " inlet pressure, not the vapour pressure, is the limit that counts."
)
_POUR = (
    "The pour point is the warm end of what is published; many products pour colder: give the data"
    " sheet's own pour point. A pump needs more than pouring: see its maker's coldest start."
)
_WAX = "Wax comes out below its cloud point, which the viscosity formula knows nothing of."


def _celsius(t: float) -> float:
    return t + 273.15


def _cst(value: float) -> float:
    return value * 1e-6


def _oil(
    name: str,
    nu40: float,
    nu100: float,
    density: float,
    pour: tuple[float, str],
    grade_source: str,
) -> Liquid:
    """Make a mineral oil from its viscosities at 40 and 100 °C [cSt] and density at 15 °C.

    pour : its pour point [°C], the warm end of what is published, and where that is.
    """
    return Liquid(
        name,
        D341Line((_celsius(40.0), _cst(nu40)), (_celsius(100.0), _cst(nu100))),
        LinearExpansion(density),
        VapourLine((_celsius(20.0), 0.5), (_celsius(300.0), 101325.0)),
        _celsius(-50.0),
        _celsius(150.0),
        (
            Figure("viscosity at 40 °C", f"{nu40:g} cSt", grade_source),
            Figure(
                "viscosity at 100 °C", f"{nu100:g} cSt", f"{TYPICAL} (viscosity index near 100)"
            ),
            Figure("viscosity between and beyond", "a line", f"{D341}; from memory"),
            Figure("density at 15 °C", f"{density:g} kg/m³", TYPICAL),
            Figure("growth with heat", "0.0007 per K", _RABIE),
            Figure(
                "vapour pressure",
                "0.5 Pa at 20 °C, boiling at 300 °C",
                f"{TYPICAL} (order of safety data sheets, from memory)",
            ),
            Figure("pour point", f"{pour[0]:g} °C", pour[1]),
        ),
        (_HOT_OIL, _AIR, _POUR),
        pour_point=_celsius(pour[0]),
    )


def _iso_vg(grade: int, nu100: float, density: float, pour: float) -> Liquid:
    source = "ISO 3448 midpoint; a grade may be 10 % thicker or thinner (from memory)"
    words = "the warmest that DIN 51524-2 allows an HLP oil of the grade, from memory"
    if grade == 46:
        words += "; data sheets say -24 to -30 °C (from memory), one laboratory -39 °C"
    oil = _oil(f"ISO VG {grade}", float(grade), nu100, density, (pour, words), source)
    return replace(oil, cautions=(*oil.cautions, _GRADE))


def _diesel() -> Liquid:
    return Liquid(
        "diesel",
        D341Line((_celsius(20.0), _cst(4.1)), (_celsius(40.0), _cst(2.7))),
        LinearExpansion(835.0, expansion=0.00083),
        VapourLine((_celsius(40.0), 400.0), (_celsius(170.0), 101325.0)),
        _celsius(-40.0),
        _celsius(120.0),
        (
            Figure(
                "viscosity",
                "4.1 cSt at 20 °C, 2.7 cSt at 40 °C",
                f"{TYPICAL} (EN 590 allows 2.0 to 4.5 cSt at 40 °C; from memory)",
            ),
            Figure("viscosity between and beyond", "a line", f"{D341}; from memory"),
            Figure("density at 15 °C", "835 kg/m³", f"{TYPICAL} (EN 590: 820 to 845; from memory)"),
            Figure("growth with heat", "0.00083 per K", TYPICAL),
            Figure("vapour pressure", "0.4 kPa at 40 °C, boiling from 170 °C", TYPICAL),
            Figure("pour point", "-6 °C", f"{TYPICAL} of a summer grade (from memory)"),
            Figure(
                "cloud point",
                "5 °C",
                "a summer grade: EN 590, filters may block from 5 °C, class A (from memory)",
            ),
        ),
        (FLAMMABLE, _WAX, "A winter grade flows far colder: give its own cloud point."),
        pour_point=_celsius(-6.0),
        cloud_point=_celsius(5.0),
    )


def _petrol(name: str, vapour: float, season: str) -> Liquid:
    # 29 kJ/mol of heat of vaporisation sets the slope of the line: typical of light fractions.
    cold = vapour * math.exp(-29000.0 / 8.31446 * (1.0 / 273.15 - 1.0 / 310.95))
    return Liquid(
        name,
        D341Line((_celsius(20.0), _cst(0.65)), (_celsius(40.0), _cst(0.53))),
        LinearExpansion(745.0, expansion=0.00095),
        VapourLine((273.15, cold), (310.95, vapour)),
        _celsius(-40.0),
        _celsius(80.0),
        (
            Figure("viscosity", "0.65 cSt at 20 °C, 0.53 cSt at 40 °C", TYPICAL),
            Figure("density at 15 °C", "745 kg/m³", f"{TYPICAL} (EN 228: 720 to 775; from memory)"),
            Figure("growth with heat", "0.00095 per K", TYPICAL),
            Figure(
                "vapour pressure",
                f"{stated(vapour, 'pressure')} at 37.8 °C, slope for 29 kJ/mol",
                f"{TYPICAL} ({season}; EN 228 classes from memory)",
            ),
        ),
        (
            FLAMMABLE,
            "Petrol vapour is heavier than air, runs along the ground and lights far away.",
        ),
    )


def _water() -> Liquid:
    return Liquid(
        "water",
        WaterViscosity(),
        WaterDensity(),
        WaterVapour(),
        273.15,
        _celsius(110.0),
        (
            Figure("viscosity", "a formula", "Vogel form, stated to 2.5 % (from memory)"),
            Figure("density", "a formula", "Kell 1975, equation 16 (from memory)"),
            Figure("vapour pressure", "a formula", "IAPWS-IF97, equation 30 (from memory)"),
        ),
        ("Water above about 60 °C scalds at once.",),
    )


def _water_glycol() -> Liquid:
    return Liquid(
        "water-glycol",
        D341Line((0.0 + 273.15, _cst(300.0)), (_celsius(40.0), _cst(46.0))),
        LinearExpansion(1080.0, expansion=0.00065),
        WaterVapour(),
        _celsius(-20.0),
        _celsius(65.0),
        (
            Figure("viscosity", "300 cSt at 0 °C, 46 cSt at 40 °C", f"HFC 46: {TYPICAL}"),
            Figure("viscosity between and beyond", "a line", f"{D341}; from memory"),
            Figure("density at 15 °C", "1080 kg/m³", TYPICAL),
            Figure("growth with heat", "0.00065 per K", TYPICAL),
            Figure(
                "vapour pressure",
                "that of pure water",
                "an upper bound: the water in it cannot boil sooner; IAPWS-IF97, equation 30",
            ),
        ),
        ("Makers of HFC fluids ask for cooler tanks and higher inlet pressures than for oil.",),
    )


# name: (viscosity at 100 °C [cSt], density at 15 °C [kg/m³], pour point [°C]); see _oil, _iso_vg.
_ISO_GRADES = {
    10: (2.6, 850.0, -30.0),
    15: (3.4, 855.0, -21.0),
    22: (4.3, 860.0, -21.0),
    32: (5.4, 865.0, -18.0),
    46: (6.8, 870.0, -15.0),
    68: (8.7, 875.0, -12.0),
    100: (11.2, 880.0, -12.0),
    150: (14.7, 885.0, -12.0),
}


def _catalogue() -> dict[str, Liquid]:
    grades = [_iso_vg(grade, *figures) for grade, figures in _ISO_GRADES.items()]
    sae = f"{TYPICAL} (SAE J300 sets a range, not a value)"
    pumped = "the temperature at which SAE J300 tests pumping (from memory):"
    others = [
        _oil("engine oil 10W-30", 70.0, 10.6, 875.0, (-30.0, f"{pumped} 10W, -30 °C"), sae),
        _oil("engine oil 15W-40", 110.0, 14.6, 880.0, (-25.0, f"{pumped} 15W, -25 °C"), sae),
        _oil("engine oil SAE 30", 95.0, 11.0, 885.0, (-12.0, f"{TYPICAL} (from memory)"), sae),
        _diesel(),
        _petrol("petrol", 90.0e3, "a winter blend, the worse case"),
        _petrol("petrol, summer", 60.0e3, "a summer blend"),
        _water(),
        _water_glycol(),
    ]
    return {liquid.name: liquid for liquid in (*grades, *others)}


LIQUIDS: dict[str, Liquid] = _catalogue()
_OTHER_NAMES = {"engineoil": "engine oil 15W-40", "gasoline": "petrol", "hfc46": "water-glycol"}


def _plain(name: str) -> str:
    return "".join(c for c in name.lower() if c.isalnum())


def liquid_by_name(name: str) -> Liquid:
    """Find a liquid by its name: ``ISO VG 46``, ``vg46``, ``engine oil``, ``diesel``, ``water``, ...

    Raises LiquidError, with the names that are known, for any other.
    """
    known = {_plain(key): key for key in LIQUIDS}
    known |= {_plain(key).removeprefix("iso"): key for key in LIQUIDS if key.startswith("ISO")}
    known |= _OTHER_NAMES
    found = known.get(_plain(name))
    if found is None:
        near = difflib.get_close_matches(_plain(name), known, n=1, cutoff=0.6)
        raise LiquidError(
            f"'{name}' is not a liquid that is known here",
            allowed=", ".join(LIQUIDS),
            next_step=f"did you mean '{known[near[0]]}'?"
            if near
            else "give two viscosity points and a density from the data sheet",
        )
    return LIQUIDS[found]
