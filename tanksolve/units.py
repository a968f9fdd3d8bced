"""The only place where litres, degrees and millimetres exist; inside, everything is SI.

Reading: ``parse_length("4in")`` gives metres, ``parse_angle("26.8%")`` radians. A bare number, an
unknown unit and a decimal comma are refused with advice, never guessed at.
Writing: ``slope_words(angle)`` always gives degrees *and* grade percent.

Conversions are pint's (https://pint.readthedocs.io). ``gal`` is the US gallon (231 in³, NIST
Handbook 44, Appendix C); the imperial gallon goes by its own name.
"""

import functools
import math
import re
from typing import Any

from tanksolve.errors import QuantityError
from tanksolve.unit_hints import count_error, foreign_metre, metre_error, number_error, unit_error
from tanksolve.unit_systems import current, rounded, told

__all__ = [
    "INCH_OF_MERCURY",
    "floor_to",
    "length_words",
    "parse",
    "parse_angle",
    "parse_heading",
    "parse_length",
    "parse_list",
    "parse_sizes",
    "parse_volume",
    "slope_words",
    "split_quantity",
    "told_volume_unit",
    "volume_words",
]

_NUMBER = re.compile(r"\s*([+-]?(?:\d+\.?\d*|\.\d+)(?:[eE][+-]?\d+)?)\s*(.*?)\s*")
_COMMA_NUMBER = re.compile(r"\s*[+-]?\d+,\d+\s*[^\d\s,].*")
# pint evaluates a unit as an expression: "mm**9**9**9" would keep it busy for ever
_NO_UNIT = re.compile(r".{25}|.*(\d\d|[^\w\s°%\"'/*^.·²³-]|(\*\*|\^).*(\*\*|\^))", re.DOTALL)

_LONGEST = 100  # characters that a quantity may have
_GREATEST = 1e12  # of any SI unit: what is more would only overflow further on

INCH_OF_MERCURY = 3386.38  # Pa, at 0 °C: NIST SP 811, Appendix B.8 (from memory)
_SI = {
    "length": "m",
    "distance": "m",
    "volume": "m**3",
    "angle": "rad",
    "acceleration": "m/s**2",
    "flow": "m**3/s",
    "pressure": "Pa",
    "temperature": "kelvin",
    "area": "m**2",
    "density": "kg/m**3",
    "mass": "kg",
    "time": "s",
    "speed": "m/s",
    "viscosity": "m**2/s",
    "frequency": "Hz",
}
# Units with an exact divisor to SI: a tank in millimetres need not wait for pint to start.
_DIVISORS = {"length mm": 1000.0, "length cm": 100.0, "length m": 1.0, "volume L": 1000.0}
_DIVISORS |= {"density kg/m3": 1.0, "frequency rpm": 60.0}
# Spellings of the trade that pint reads otherwise or not at all (its "g" is a gram).
_SPELLINGS = {
    "%": "grade percent",
    "°": "deg",
    '"': "in",
    "l": "L",
    "litre": "L",
    "us_gal": "gal",
    "usgal": "gal",
    "US gal": "gal",
    "imperial gal": "imperial_gallon",
    "gpm": "gal/min",
    "lpm": "L/min",
    "l/min": "L/min",
    "C": "degC",
    "°C": "degC",
    "F": "degF",
    "°F": "degF",
    "mm2/s": "mm**2/s",
    "m2/s": "m**2/s",
}


@functools.cache
def _registry() -> Any:
    import pint

    return pint.UnitRegistry(cache_folder=None)


def split_quantity(text: str, where: str = "", kind: str | None = None) -> tuple[float, str]:
    """Split ``"42.5 L"`` into the number and the unit as written (perhaps empty).

    ``kind`` is what is asked for, so that a message's examples fit it.

    Raises
    ------
    QuantityError : no number, a decimal comma, or a number that is not finite.
    """
    text = text.strip()
    if len(text) > _LONGEST:
        raise QuantityError(
            f"'{text[:30]} ...' is too long for a quantity: {len(text):,} characters",
            where=where,
            allowed="as in 42L, 4in, 15deg",
        )
    if _COMMA_NUMBER.fullmatch(text):
        raise QuantityError(
            f"'{text}' has a comma in the number",
            where=where,
            allowed="a decimal point, as in 1.5",
            next_step=f"write '{text.replace(',', '.', 1)}' if that is what is meant",
        )
    match = _NUMBER.fullmatch(text)
    if match is None or not math.isfinite(float(match[1])):
        raise number_error(text, where, kind)
    return float(match[1]), match[2]


def parse(text: str, kind: str, where: str = "") -> float:
    """Read a quantity with its unit and return it in SI.

    Parameters
    ----------
    text : such as ``"4in"``, ``"11 gal"``, ``"0.4g"``, ``"-20C"``.
    kind : ``length``, ``volume``, ``acceleration``, ``flow``, ``pressure``, ``temperature`` [K], ``area``,
        ``density``, ``mass``, ``time``, ``speed``, ``distance`` (travelled or climbed),
        ``viscosity`` (kinematic), ``frequency``.
        For angles use :func:`parse_angle`, which also knows grades.
    where : the option or key, for the message.

    Raises
    ------
    QuantityError : no unit, an unknown unit, one of another kind, or a metre that no tank uses (``nm``).
    """
    value = _value(text, kind, where)
    if not abs(value) <= _GREATEST:
        raise QuantityError(f"'{text}' is greater than any {kind} here", where=where)
    return value


def _value(text: str, kind: str, where: str) -> float:
    number, unit = split_quantity(text, where, kind)
    if divisor := _DIVISORS.get(f"{kind} {unit}"):
        return number / divisor
    if foreign_metre(unit, kind):
        raise metre_error(text, unit, kind, where)
    spelling = _SPELLINGS.get(unit, unit)
    if kind == "acceleration" and unit == "g":
        spelling = "standard_gravity"
    spelling = spelling.replace("²", "2").replace("³", "3")
    spelling = re.sub(r"(?<=[a-z])([23])(?![0-9])", r"**\1", spelling)
    if not spelling or _NO_UNIT.match(spelling):
        raise unit_error(text, unit, kind, where, current().name)
    try:
        return float(_registry().Quantity(number, spelling).to(_SI[kind]).magnitude)
    except Exception as error:  # pint raises a family of its own, and tokenizer errors besides
        raise unit_error(text, unit, kind, where, current().name) from error


def parse_length(text: str, where: str = "") -> float:
    """Read a length in metres; see :func:`parse`."""
    return parse(text, "length", where)


def parse_volume(text: str, where: str = "") -> float:
    """Read a volume in cubic metres; see :func:`parse`."""
    return parse(text, "volume", where)


def parse_angle(text: str, where: str = "") -> float:
    """Read an angle in radians: ``15deg``, ``0.2rad``, a grade ``26.8%`` or ``1:4`` (one up, four along).

    A bare ``0`` is taken: it is level in every unit.

    Raises
    ------
    QuantityError : a bare number (degrees and grade percent are easily confused) or unknown unit.
    """
    ratio = re.fullmatch(r"\s*([+-]?[\d.]+)\s*:\s*([\d.]+)\s*", text)
    if ratio:
        return _ratio_angle(text, ratio[1], ratio[2], where)
    number, unit = split_quantity(text, where, "angle")
    if unit == "%":
        return math.atan(number / 100.0)
    if unit in ("deg", "°", "degree", "degrees"):
        return math.radians(number)
    if unit in ("rad", "radian", "radians"):
        return number
    if number == 0.0 and not unit:
        return 0.0
    if not unit:
        raise QuantityError(
            f"'{text}' may be degrees or grade percent",
            where=where,
            allowed="15deg, 26.8%, 1:4 (one up, four along), 0.2rad",
            next_step=f"write '{text.strip()}deg' or '{text.strip()}%'",
        )
    raise unit_error(text, unit, "angle", where, current().name)


def parse_heading(text: str, where: str = "") -> float:
    """Read a heading, the direction of uphill, in radians; as :func:`parse_angle`, with its own advice."""
    try:
        return parse_angle(text, where)
    except QuantityError as error:
        raise QuantityError(
            error.what,
            where=where,
            allowed="0deg nose uphill, 90deg left side, 180deg tail, 270deg right side, or between",
            next_step=error.next_step,
        ) from None


def _ratio_angle(text: str, rise: str, run: str, where: str) -> float:
    try:
        up, along = float(rise), float(run)
    except ValueError:  # more than one decimal point
        up, along = 0.0, 0.0
    if along <= 0.0:
        raise QuantityError(f"'{text}' is not a ratio", where=where, allowed="as in 1:4")
    return math.atan2(up, along)


def parse_list(
    text: str, kind: str, separator: str, count: int, where: str = ""
) -> tuple[float, ...]:
    """Read ``count`` quantities that share the last one's unit, as in ``20,150,100mm``.

    An item may carry its own unit. Raises QuantityError, with advice on decimal commas.
    """
    items = [item.strip() for item in text.split(separator)]
    if len(items) != count:
        raise count_error(text, kind, separator, count, where)
    last_unit = split_quantity(items[-1], where, kind)[1]
    if not last_unit:
        raise unit_error(text, "", kind, where, current().name)
    units = [split_quantity(item, where, kind)[1] for item in items]
    written = (f"{i}{'' if u else last_unit}" for i, u in zip(items, units, strict=True))
    return tuple(parse(item, kind, where) for item in written)


def parse_sizes(text: str, count: int, where: str = "") -> tuple[float, ...]:
    """Read sizes ``900x300x300mm`` in metres; each must be positive."""
    sizes = parse_list(re.sub("[X×]", "x", text), "length", "x", count, where)
    if min(sizes) <= 0.0:
        raise QuantityError(f"'{text}' has a size that is not positive", where=where)
    return sizes


def floor_to(value: float, step: float) -> float:
    """Round down to a multiple of ``step``: a printed limit is not above the solved one.

    A value within 1e-9 of a step below the next multiple counts as that multiple (14.0, not 13.9).
    """
    return round(math.floor(value / step + 1e-9) * step, 10)


def ceil_to(value: float, step: float) -> float:
    """Round up to a multiple of ``step``: a printed cost is not below the solved one.

    A value within 1e-6 of a step above a multiple counts as that multiple.
    """
    return round(math.ceil(value / step - 1e-6) * step, 10)


def slope_words(angle: float, digits: int = 1) -> str:
    """Write a slope [rad] as degrees and grade percent, neither without the other, each towards nought.

    One rule for what is asked, what is met and what limits: equal slopes are told by equal figures.
    """
    if abs(angle) >= math.pi / 2.0 - 1e-9:
        return f"{math.degrees(angle):.{digits}f}° (upright or beyond: no grade)"
    degrees, grade = (
        math.copysign(rounded(abs(one), digits, "down"), one)
        for one in (math.degrees(angle), 100.0 * math.tan(angle))
    )
    return f"{degrees:.{digits}f}° ({grade:.{digits}f} % grade)"


def limit_words(degrees: float) -> str:
    """Write a limit [°], rounded down to 0.1°, with the grade of that figure, rounded down too."""
    held = floor_to(degrees, 0.1)
    grade = floor_to(100.0 * math.tan(math.radians(held)), 0.1)
    return f"{held:.1f}° ({grade:.1f} % grade)"


def length_words(metres: float) -> str:
    """Write a length [m] in the units in force: millimetres, or inches."""
    return told(metres, "length")


def told_volume_unit(cubic_metres: float, unit: str) -> str:
    """The unit to tell a volume [m³] in: the user's, but litres from 1 L on for one such as mL."""
    if unit == "L" or abs(cubic_metres) < 0.001:
        return unit
    size = parse_volume(f"1{unit}")
    decimal = abs(math.log10(size) - round(math.log10(size))) < 1e-9
    return "L" if decimal and size < 0.001 else unit


def volume_words(cubic_metres: float, unit: str | None = None) -> str:
    """Write a volume [m³] in ``unit`` (L, gal, imperial_gallon, ...), by default that in force.

    US gallons say so. From 1 L on a smaller metric unit such as mL gives way to L: ``told_volume_unit``.
    """
    if unit is None:
        return told(cubic_metres, "volume")
    unit = told_volume_unit(cubic_metres, unit)
    if unit == "L":
        return f"{1000.0 * cubic_metres:.2f} L"
    size = parse_volume(f"1{unit}")
    name = {"gal": "US gal", "gallon": "US gal", "imperial_gallon": "imperial gal"}.get(unit, unit)
    return f"{cubic_metres / size:.{2 if size < 0.01 else 5}f} {name}"


def temperature_words(kelvin: float) -> str:
    """Write a temperature [K] in degrees Celsius or Fahrenheit."""
    return told(kelvin, "temperature")


def vacuum_words(pascal: float) -> str:
    """Write a pressure below the atmosphere [Pa], or one above it as such."""
    amount = told(abs(pascal), "vacuum")
    return f"{amount} vacuum" if pascal >= 0.0 else f"{amount} above the atmosphere"
