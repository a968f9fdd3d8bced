"""Bounds in words: rounded to the side on which they stay bounds."""

from tanksolve.unit_systems import Rounding, told
from tanksolve.units import parse, told_volume_unit, volume_words

__all__ = ["safe_length_words", "safe_temperature_words", "safe_volume_words"]


def _side(up: bool) -> Rounding:
    return "up" if up else "down"


def safe_length_words(metres: float, *, up: bool) -> str:
    """Write a bound on a length [m] in the units in force, rounded ``up`` or down."""
    return told(metres, "length", _side(up))


def safe_volume_words(cubic_metres: float, unit: str | None = None, *, up: bool) -> str:
    """Write a bound on a volume [m³], rounded ``up`` or down, in ``unit`` or in the unit in force."""
    if unit is None:
        return told(max(0.0, cubic_metres), "volume", _side(up))
    unit = told_volume_unit(cubic_metres, unit)
    half = parse(f"0.00499999{unit}", "volume")
    return volume_words(max(0.0, cubic_metres + (half if up else -half)), unit)


def safe_temperature_words(kelvin: float, *, up: bool) -> str:
    """Write a bound on a temperature [K], rounded ``up`` or down."""
    return told(kelvin, "temperature", _side(up))
