"""Bounds in words: rounded to the side on which they stay bounds."""

import math

from tanksolve.units import length_words, parse, told_volume_unit, volume_words

__all__ = ["safe_length_words", "safe_temperature_words", "safe_volume_words"]


def safe_length_words(metres: float, *, up: bool) -> str:
    """Write a bound on a length [m] in millimetres, rounded to 0.1 mm ``up`` or down."""
    return length_words(metres + (0.499999e-4 if up else -0.499999e-4))


def safe_volume_words(cubic_metres: float, unit: str = "L", *, up: bool) -> str:
    """Write a bound on a volume [m³] in ``unit`` (L from 1 L on for mL), rounded to 0.01 of it ``up`` or down."""
    unit = told_volume_unit(cubic_metres, unit)
    half = parse(f"0.00499999{unit}", "volume")
    return volume_words(max(0.0, cubic_metres + (half if up else -half)), unit)


def safe_temperature_words(kelvin: float, *, up: bool) -> str:
    """Write a bound on a temperature [K], rounded ``up`` or down in Celsius and in Fahrenheit."""
    towards, hair = (math.ceil, -1e-6) if up else (math.floor, 1e-6)
    celsius, fahrenheit = kelvin - 273.15, 1.8 * kelvin - 459.67
    return f"{towards(10.0 * celsius + hair) / 10:.1f} °C ({towards(fahrenheit + hair)} °F)"
