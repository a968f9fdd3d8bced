"""The units that people read: metric, US or imperial, one system for every number of an answer.

Inside everything is SI; a renderer turns a value and its *kind* (``length``, ``volume``, ...) into words with
:func:`told`. The system in force is a context variable, as the precision of ``decimal`` is: messages are
composed in every layer, far from whoever knows what the user typed. The default is metric, and
:func:`using` sets it for a block only.

Sizes of units: NIST SP 811 (2008), Appendix B.8 and NIST Handbook 44, Appendix C (both from memory).
"""

import math
import re
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager
from contextvars import ContextVar
from dataclasses import dataclass, replace
from typing import Literal, TypeVar

import numpy as np
from numpy.typing import NDArray

__all__ = [
    "IMPERIAL",
    "METRIC",
    "SYSTEMS",
    "US",
    "Rounding",
    "Unit",
    "UnitSystem",
    "current",
    "in_force",
    "rounded",
    "stated",
    "tape_words",
    "told",
    "typed_system",
    "using",
]

Rounding = Literal["nearest", "up", "down"]
Amount = TypeVar("Amount", float, NDArray[np.float64])
_HAIR = 1e-6  # of a step: a value that a solver left a hair off a step counts as that step


@dataclass(frozen=True)
class Unit:
    """A unit: its ``symbol``, its ``size`` in SI, the ``digits`` told after the point.

    ``zero`` is where its scale begins, in SI (temperatures).
    """

    symbol: str
    size: float
    digits: int
    zero: float = 0.0

    def of(self, value: "Amount") -> "Amount":
        """A value in SI, or an array of them, in this unit."""
        return (value - self.zero) / self.size


@dataclass(frozen=True)
class UnitSystem:
    """A unit for each kind of quantity, and whether tapes have sixteenths of an inch."""

    name: str
    units: Mapping[str, Unit]
    sixteenths: bool = False

    def with_volume(self, unit: Unit) -> "UnitSystem":
        """The same system with another unit of volume, the one that the fill was typed in."""
        return replace(self, units={**self.units, "volume": unit})


_COMMON = {
    "time": Unit("s", 1.0, 1),
    "hours": Unit("h", 3600.0, 2),
    "viscosity": Unit("cSt", 1e-6, 1),
    "frequency": Unit("Hz", 1.0, 2),
    "acceleration": Unit("g", 9.80665, 3),  # standard gravity: the trade's unit in every system
    "share": Unit("%", 0.01, 1),
    "factor": Unit("", 1.0, 2),
    "count": Unit("", 1.0, 0),
    "angle": Unit("°", math.pi / 180.0, 1),
    "small angle": Unit("°", math.pi / 180.0, 2),
}
_INCH, _FOOT, _POUND = 0.0254, 0.3048, 0.45359237
_GALLON, _IMPERIAL_GALLON = 231 * _INCH**3, 4.54609e-3
METRIC = UnitSystem(
    "metric",
    {
        **_COMMON,
        "length": Unit("mm", 0.001, 1),
        "rough length": Unit("mm", 0.001, 0),
        "distance": Unit("m", 1.0, 1),
        "volume": Unit("L", 0.001, 2),
        "small volume": Unit("L", 0.001, 3),
        "area": Unit("m²", 1.0, 4),
        "small area": Unit("cm²", 1e-4, 1),
        "flow": Unit("L/min", 0.001 / 60.0, 1),
        "pressure": Unit("kPa", 1000.0, 2),
        "vacuum": Unit("kPa", 1000.0, 2),
        "head": Unit("m", 1.0, 2),
        "temperature": Unit("°C", 1.0, 1, 273.15),
        "warming": Unit("°C", 1.0, 1),
        "density": Unit("kg/m³", 1.0, 0),
        "mass": Unit("kg", 1.0, 2),
        "speed": Unit("m/s", 1.0, 2),
        "force": Unit("N", 1.0, 0),
        "moment": Unit("N·m", 1.0, 1),
        "inertia": Unit("m⁴", 1.0, 5),
    },
)
US = UnitSystem(
    "us",
    {
        **_COMMON,
        "length": Unit("in", _INCH, 2),
        "rough length": Unit("in", _INCH, 1),
        "distance": Unit("ft", _FOOT, 1),
        "volume": Unit("US gal", _GALLON, 2),
        "small volume": Unit("US gal", _GALLON, 3),
        "area": Unit("ft²", _FOOT**2, 3),
        "small area": Unit("in²", _INCH**2, 2),
        "flow": Unit("US gal/min", _GALLON / 60.0, 2),
        "pressure": Unit("psi", _POUND * 9.80665 / _INCH**2, 2),
        "vacuum": Unit("inHg", 3386.38, 2),  # at 0 °C
        "head": Unit("ft", _FOOT, 2),
        "temperature": Unit("°F", 1.0 / 1.8, 0, 459.67 / 1.8),
        "warming": Unit("°F", 1.0 / 1.8, 0),
        "density": Unit("lb/ft³", _POUND / _FOOT**3, 1),
        "mass": Unit("lb", _POUND, 2),
        "speed": Unit("ft/s", _FOOT, 2),
        "force": Unit("lbf", _POUND * 9.80665, 1),
        "moment": Unit("lbf·ft", _POUND * 9.80665 * _FOOT, 1),
        "inertia": Unit("ft⁴", _FOOT**4, 4),
    },
    sixteenths=True,
)
IMPERIAL = UnitSystem(
    "imperial",
    {
        **US.units,
        "volume": Unit("imperial gal", _IMPERIAL_GALLON, 2),
        "small volume": Unit("imperial gal", _IMPERIAL_GALLON, 3),
        "flow": Unit("imperial gal/min", _IMPERIAL_GALLON / 60.0, 2),
    },
    sixteenths=True,
)
SYSTEMS = {system.name: system for system in (METRIC, US, IMPERIAL)}
_current: ContextVar[UnitSystem] = ContextVar("unit_system", default=METRIC)


def current() -> UnitSystem:
    """The system in force: metric, unless :func:`using` set another."""
    return _current.get()


@contextmanager
def using(system: UnitSystem) -> Iterator[None]:
    """Tell every number of the block in ``system``."""
    token = _current.set(system)
    try:
        yield
    finally:
        _current.reset(token)


def rounded(value: float, digits: int, rounding: Rounding = "nearest") -> float:
    """``value`` at ``digits`` after the point: the nearest, or never below (``up``), never above (``down``)."""
    step = 10.0**digits
    if rounding == "nearest" or not math.isfinite(value):
        return round(value, digits)
    whole = (
        math.ceil(value * step - _HAIR) if rounding == "up" else math.floor(value * step + _HAIR)
    )
    return whole / step


def told(
    value: float, kind: str, rounding: Rounding = "nearest", system: UnitSystem | None = None
) -> str:
    """Words for a value in SI: ``told(0.0254, "length")`` is ``25.4 mm``, or ``1.00 in`` in US units.

    Parameters
    ----------
    value : in SI (angles in rad, shares of 1).
    kind : ``length``, ``volume``, ... the keys of :attr:`UnitSystem.units`.
    rounding : the side on which a bound stays a bound.
    system : the system in force by default.
    """
    unit = _fitting(value, kind, system or current())
    number = rounded(unit.of(value), unit.digits, rounding)
    number = 0.0 if number == 0.0 else number  # no "-0.0"
    gap = "" if unit.symbol in ("", "°") else " "
    return f"{number:.{unit.digits}f}{gap}{unit.symbol}"


def stated(
    value: float | Iterable[float],
    kind: str,
    between: str = " x ",
    *,
    figures: int = 6,
    solved: bool = False,
) -> str:
    """A value in SI, or several, as a person would write it: ``900 x 300 mm``, ``35.4331 in``.

    figures : how many at most; ``solved`` values have no more digits than are told of that kind.
    """
    unit = current().units[kind]
    gap = "" if unit.symbol in ("", "°") else " "
    values = value if isinstance(value, Iterable) else [value]
    digits = unit.digits if solved else 9  # a hair off is not told
    told = (f"{round(float(unit.of(one)), digits) + 0.0:.{figures}g}" for one in values)  # no "-0"
    return f"{between.join(told)}{gap}{unit.symbol}"


_CITED = re.compile(
    r"(?<![\w.])(-?\d+(?:\.\d+)?)(?: to (-?\d+(?:\.\d+)?))? ?(°C|kg/m³|kPa|mm|L/min|L|cm²|m/s|m)(?![\w²³·/])"
)
_CITED_KINDS = {
    "°C": "temperature",
    "kg/m³": "density",
    "kPa": "pressure",
    "mm": "length",
    "L/min": "flow",
    "L": "volume",
    "cm²": "small area",
    "m/s": "speed",
    "m": "distance",
}
_PER_KELVIN = re.compile(r"(\d+\.\d+) per K\b")


def in_force(text: str) -> str:
    """Words that were written in metric units, such as a source's, in the units in force.

    ``"835 kg/m³ at 15 °C"`` is ``"52.13 lb/ft³ at 59 °F"`` in US units; four figures are told.
    """
    if current().name == METRIC.name:
        return text

    def other(match: re.Match[str]) -> str:
        kind = _CITED_KINDS[match[3]]
        unit, metric = current().units[kind], METRIC.units[kind]
        values = [float(one) * metric.size + metric.zero for one in match.group(1, 2) if one]
        return f"{' to '.join(f'{unit.of(one):.4g}' for one in values)} {unit.symbol}"

    def per_degree(match: re.Match[str]) -> str:
        return f"{float(match[1]) * current().units['warming'].size:.2g} per °F"

    return _CITED.sub(other, _PER_KELVIN.sub(per_degree, text))


def _fitting(value: float, kind: str, system: UnitSystem) -> Unit:
    """The unit, but litres from one litre on for one such as mL."""
    unit = system.units[kind]
    if kind == "volume" and unit.symbol in _DECIMAL and unit.size < 0.001 <= abs(value):
        return METRIC.units["volume"]
    return unit


def tape_words(metres: float, rounding: Rounding = "nearest") -> str:
    """A length to be laid off with a tape: in inches to 1/16, rounded like the decimal beside it."""
    system = current()
    decimal = told(metres, "length", rounding, system)
    if not system.sixteenths:
        return decimal
    sixteenths = round(rounded(abs(metres) / _INCH * 16.0, 0, _outwards(metres, rounding)))
    whole, part = divmod(sixteenths, 16)
    sign = "-" if metres < 0.0 and sixteenths else ""
    if part == 0:
        return f"{sign}{whole} in ({decimal})"
    share = math.gcd(part, 16)
    fraction = f"{part // share}/{16 // share}"
    return f"{sign}{f'{whole} ' if whole else ''}{fraction} in ({decimal})"


def _outwards(value: float, rounding: Rounding) -> Rounding:
    """The rounding of the magnitude of a value that may be negative."""
    if value >= 0.0 or rounding == "nearest":
        return rounding
    return "down" if rounding == "up" else "up"


_DECIMAL = ("mL", "ml", "cm³", "mm³", "cL", "dL")
_LENGTHS = dict.fromkeys(("mm", "cm", "dm", "m", "millimetre", "centimetre", "metre"), METRIC)
_LENGTHS |= dict.fromkeys(("in", '"', "inch", "inches", "ft", "foot", "feet"), US)
_VOLUMES = {
    **dict.fromkeys(("L", "l", "litre", "liter", "litres", "liters"), METRIC.units["volume"]),
    **{name: Unit("mL", 1e-6, 2) for name in ("mL", "ml")},
    **{name: Unit("cm³", 1e-6, 2) for name in ("cm3", "cm³", "cc")},
    **{name: Unit("m³", 1.0, 5) for name in ("m3", "m³")},
    **dict.fromkeys(("gal", "gallon", "gallons", "us_gal", "usgal"), US.units["volume"]),
    **{name: Unit("qt", _GALLON / 4.0, 2) for name in ("qt", "quart", "quarts")},
    **{name: Unit("in³", _INCH**3, 2) for name in ("in3", "in³")},
    **{name: Unit("ft³", _FOOT**3, 5) for name in ("ft3", "ft³")},
    **dict.fromkeys(("imperial_gallon", "imperial_gallons", "imperial"), IMPERIAL.units["volume"]),
}
_OTHERS = dict.fromkeys(("psi", "inHg", "F", "degF", "gpm", "mph", "lb", "in2", "ft2"), US)
_OTHERS |= dict.fromkeys(("kPa", "bar", "mbar", "C", "degC", "lpm", "kg", "cm2", "mm2"), METRIC)
_TYPED = re.compile(r"(?<![\w.])[+-]?(?:\d+\.?\d*|\.\d+)\s?([A-Za-z_]+[23²³]?|\")(?!\w)")


def typed_system(texts: Iterable[str], then: Iterable[str] = ()) -> UnitSystem:
    """The system of what was typed: the first length decides, volumes follow the first volume.

    Without a length the volume decides, without both any other unit; metric where there is none.

    texts : that describe the tank, such as ``36x12x12in`` and ``11gal``, in the order in which they count.
    then : that ask something of it: where the tank says nothing, the first unit in them decides.
    """
    found, later = (
        [match[1] for text in group for match in _TYPED.finditer(_apart(text))]
        for group in (texts, then)
    )
    volume = next((_VOLUMES[name] for name in (*found, *later) if name in _VOLUMES), None)
    system = _system_in([name for name in found if name in _LENGTHS])
    system = system or _system_in([name for name in found if name in _VOLUMES])
    system = system or _system_in([*found, *later]) or METRIC
    if volume is None:
        return system
    if system is US and volume == IMPERIAL.units["volume"]:
        return IMPERIAL
    return system.with_volume(volume)


def _system_in(names: Iterable[str]) -> UnitSystem | None:
    """The system of the first unit that belongs to one; volumes that are not metric count as US."""
    for name in names:
        if name in _VOLUMES:
            return METRIC if _VOLUMES[name].symbol in ("L", "m³", *_DECIMAL) else US
        if system := _LENGTHS.get(name) or _OTHERS.get(name):
            return system
    return None


def _apart(text: str) -> str:
    """Sizes ``36x12x12in`` as ``36 x 12 x 12in``: their numbers stand apart."""
    return re.sub(r"(?<=[\da-z\"])\s*[xX×]\s*(?=[\d.])", " x ", text)
