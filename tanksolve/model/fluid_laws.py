"""How a liquid's viscosity, density and vapour pressure go with temperature.

Temperatures in kelvin, kinematic viscosities in m²/s, densities in kg/m³, pressures in Pa.
Each law is a frozen dataclass with one method, ``at(temperature)``.
"""

import math
from dataclasses import dataclass
from typing import Protocol

from tanksolve.errors import LiquidError
from tanksolve.unit_systems import stated

__all__ = [
    "D341Line",
    "LinearExpansion",
    "TemperatureLaw",
    "VapourLine",
    "WaterDensity",
    "WaterVapour",
    "WaterViscosity",
    "check_temperature",
    "d341_constants",
]

_CENTISTOKE = 1e-6  # m²/s; D341 is written in mm²/s


class TemperatureLaw(Protocol):
    """A property of a liquid as a function of its temperature."""

    def at(self, temperature: float) -> float:
        """Value at a temperature [K]."""
        ...


def check_temperature(temperature: float, what: str = "temperature") -> None:
    """Refuse a temperature [K] that is not finite or not above absolute zero. Raises LiquidError."""
    if not (math.isfinite(temperature) and temperature > 0.0):
        raise LiquidError(
            f"{what} of {stated(temperature, 'temperature')} is not above absolute zero",
            allowed="above -273.15 °C",
            next_step="check the sign and the unit (C, F or K)",
        )


def d341_constants(t1: float, v1: float, t2: float, v2: float) -> tuple[float, float]:
    """Constants A and B of the viscosity-temperature line through two points.

    ``log10 log10(v + 0.7) = A - B log10 T``, v in mm²/s (cSt), T in kelvin.

    References
    ----------
    ASTM D341, "Viscosity-Temperature Equations and Charts for Liquid Petroleum or Hydrocarbon
    Products" (form from memory). The standard's further terms for v below 2 mm²/s are left out.
    """
    z1, z2 = (math.log10(math.log10(v + 0.7)) for v in (v1, v2))
    slope = (z1 - z2) / (math.log10(t2) - math.log10(t1))
    return z1 + slope * math.log10(t1), slope


@dataclass(frozen=True)
class D341Line:
    """Kinematic viscosity by ASTM D341 through two points (temperature [K], viscosity [m²/s]).

    Raises LiquidError for points that are equal, inverted (thicker when hotter) or below
    0.3 mm²/s, where the form has no value.
    """

    first: tuple[float, float]
    second: tuple[float, float]

    def __post_init__(self) -> None:
        for temperature, viscosity in (self.first, self.second):
            check_temperature(temperature, "a viscosity point's temperature")
            if not (math.isfinite(viscosity) and viscosity > 0.3 * _CENTISTOKE):
                raise LiquidError(
                    f"a viscosity of {viscosity / _CENTISTOKE:g} cSt is outside the formula's range",
                    allowed="more than 0.3 cSt",
                )
        cold, hot = sorted((self.first, self.second))
        if hot[0] - cold[0] < 1.0:
            raise LiquidError("the two viscosity points are at the same temperature")
        if not cold[1] > hot[1]:
            raise LiquidError(
                f"{cold[1] / _CENTISTOKE:g} cSt at {stated(cold[0], 'temperature')} and "
                f"{hot[1] / _CENTISTOKE:g} cSt at {stated(hot[0], 'temperature')}: thicker when hotter",
                allowed="the greater viscosity at the lower temperature",
                next_step="exchange the two viscosities if they were swapped",
            )

    def at(self, temperature: float) -> float:
        """Kinematic viscosity [m²/s] at a temperature [K]."""
        check_temperature(temperature)
        (t1, v1), (t2, v2) = self.first, self.second
        a, b = d341_constants(t1, v1 / _CENTISTOKE, t2, v2 / _CENTISTOKE)
        exponent = 10.0 ** (a - b * math.log10(temperature))
        if exponent > 15.0:  # some 1e15 cSt: solid for every purpose, and 10**exponent may overflow
            return 1e15 * _CENTISTOKE
        return float((10.0**exponent - 0.7) * _CENTISTOKE)


@dataclass(frozen=True)
class LinearExpansion:
    """Density of a liquid whose volume grows in proportion to temperature.

    ``V = V0 (1 + expansion (T - T0))``, hence the worked figure of ``Fluid Power Engineering``
    (M. G. Rabie, equation 2.81; author from memory): 200 L over 100 K at 0.0007/K grow by 14 L.
    Raises LiquidError for a density or coefficient that is not sensible.
    """

    density: float
    temperature: float = 288.15
    expansion: float = 0.0007

    def __post_init__(self) -> None:
        check_temperature(self.temperature, "the density's temperature")
        if not 300.0 <= self.density <= 3000.0:
            raise LiquidError(
                f"a density of {self.density:g} kg/m³ is not that of a tank's liquid",
                allowed="300 to 3000 kg/m³",
                next_step="check the unit: 0.87 kg/L is 870 kg/m³",
            )
        if not 0.0 <= self.expansion <= 0.003:
            raise LiquidError(
                f"an expansion of {self.expansion:g} per kelvin is not that of a liquid",
                allowed="0 to 0.003 per kelvin; mineral oil has 0.0007",
            )

    def at(self, temperature: float) -> float:
        """Density [kg/m³] at a temperature [K]."""
        check_temperature(temperature)
        growth = 1.0 + self.expansion * (temperature - self.temperature)
        if growth <= 0.1:
            raise LiquidError(
                f"{stated(temperature, 'temperature')} is too cold for this expansion"
            )
        return self.density / growth


@dataclass(frozen=True)
class VapourLine:
    """Vapour pressure through two points, straight in ``ln p`` against ``1/T`` (Clausius-Clapeyron).

    Points are (temperature [K], pressure [Pa]). Raises LiquidError for points that are equal or
    do not rise.
    """

    first: tuple[float, float]
    second: tuple[float, float]

    def __post_init__(self) -> None:
        for temperature, pressure in (self.first, self.second):
            check_temperature(temperature, "a vapour point's temperature")
            if not (math.isfinite(pressure) and pressure > 0.0):
                raise LiquidError(f"a vapour pressure of {pressure:g} Pa is not positive")
        cold, hot = sorted((self.first, self.second))
        if hot[0] - cold[0] < 1.0 or hot[1] <= cold[1]:
            raise LiquidError(
                "the two vapour pressure points do not rise with temperature",
                allowed="the greater pressure at the higher temperature",
            )

    def at(self, temperature: float) -> float:
        """Vapour pressure [Pa] at a temperature [K]."""
        check_temperature(temperature)
        (t1, p1), (t2, p2) = self.first, self.second
        slope = math.log(p2 / p1) / (1.0 / t1 - 1.0 / t2)
        return p1 * math.exp(slope * (1.0 / t1 - 1.0 / temperature))


@dataclass(frozen=True)
class WaterViscosity:
    """Water's kinematic viscosity: ``mu = 2.414e-5 Pa s * 10^(247.8 / (T - 140))`` over its density.

    References: the Vogel form as given in R. W. Fox and A. T. McDonald, "Introduction to Fluid
    Mechanics" (from memory), stated to 2.5 % from 0 to 370 °C.
    """

    def at(self, temperature: float) -> float:
        """Kinematic viscosity [m²/s] at a temperature [K]."""
        check_temperature(temperature)
        dynamic = 2.414e-5 * 10.0 ** (247.8 / (temperature - 140.0))
        return float(dynamic / WaterDensity().at(temperature))


@dataclass(frozen=True)
class WaterDensity:
    """Water's density at 1 atm, 0 to 150 °C.

    References: G. S. Kell, "Density, Thermal Expansivity, and Compressibility of Liquid Water
    from 0° to 150°C", J. Chem. Eng. Data 20 (1975) 97-105, equation 16 (from memory).
    """

    def at(self, temperature: float) -> float:
        """Density [kg/m³] at a temperature [K]."""
        check_temperature(temperature)
        t = temperature - 273.15
        terms = (999.83952, 16.945176, -7.9870401e-3, -46.170461e-6, 105.56302e-9, -280.54253e-12)
        return sum(c * t**k for k, c in enumerate(terms)) / (1.0 + 16.879850e-3 * t)


@dataclass(frozen=True)
class WaterVapour:
    """Water's saturation pressure.

    References: IAPWS-IF97, "Revised Release on the IAPWS Industrial Formulation 1997",
    equation 30 and Table 34 (from memory; its Table 35 is tested).
    """

    def at(self, temperature: float) -> float:
        """Saturation pressure [Pa] at a temperature [K], 273.15 to 647 K."""
        check_temperature(temperature)
        n1, n2, n3 = 0.11670521452767e4, -0.72421316703206e6, -0.17073846940092e2
        n4, n5, n6 = 0.12020824702470e5, -0.32325550322333e7, 0.14915108613530e2
        n7, n8 = -0.48232657361591e4, 0.40511340542057e6
        n9, n10 = -0.23855557567849, 0.65017534844798e3
        theta = temperature + n9 / (temperature - n10)
        a = theta * theta + n1 * theta + n2
        b = n3 * theta * theta + n4 * theta + n5
        c = n6 * theta * theta + n7 * theta + n8
        return float(1e6 * (2.0 * c / (-b + math.sqrt(b * b - 4.0 * a * c))) ** 4)
