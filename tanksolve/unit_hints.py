"""What to say of a quantity that cannot be read: the units that fit, and what may have been meant.

A hint never picks for the user between units that differ in size: ``500 mn`` may be 500 mm or
500 m, so both are named.
"""

import difflib
import re

from tanksolve.errors import QuantityError

__all__ = ["FAMILIAR", "count_error", "foreign_metre", "metre_error", "number_error", "unit_error"]

# Units offered when one is not known; the first of each kind stands in advice.
FAMILIAR = {
    "length": ("mm", "cm", "m", "in", "ft"),
    "distance": ("m", "km", "ft", "mi"),
    "volume": ("L", "ml", "m3", "cm3", "gal", "imperial_gallon", "qt", "in3", "ft3"),
    "angle": ("deg", "%", "rad", "1:N"),
    "acceleration": ("g", "m/s2", "ft/s2"),
    "flow": ("L/min", "gpm", "m3/s", "m3/h"),
    "pressure": ("kPa", "bar", "psi", "inHg", "mbar", "Pa", "MPa"),
    "temperature": ("C", "F", "K"),
    "area": ("cm2", "mm2", "m2", "in2"),
    "density": ("kg/m3", "g/cm3", "kg/L", "lb/ft3"),
    "mass": ("kg", "lb", "t"),
    "time": ("s", "min", "h"),
    "speed": ("m/s", "km/h", "mph", "ft/s"),
    "viscosity": ("cSt", "mm2/s", "m2/s"),
    "frequency": ("Hz", "rpm"),
}
_EXAMPLES = {
    "length": "120mm, 4in",
    "distance": "40m, 3km",
    "volume": "42L, 11gal",
    "angle": "15deg, 26.8%, 1:4",
    "acceleration": "0.4g, 4m/s2",
    "flow": "60L/min, 16gpm",
    "pressure": "85kPa, 5inHg",
    "temperature": "-10C, 14F",
    "area": "60cm2, 9in2",
    "density": "870kg/m3",
    "mass": "18kg, 40lb",
    "time": "30s, 2min",
    "speed": "8m/s, 30km/h",
    "viscosity": "46cSt",
    "frequency": "2Hz, 120rpm",
    "share": "5%",
}
# What stands in advice beside the first, or in its place where US units are typed.
_IN_US = {
    "length": "in",
    "distance": "ft",
    "volume": "gal",
    "flow": "gpm",
    "pressure": "psi",
    "temperature": "F",
    "density": "lb/ft3",
    "mass": "lb",
    "speed": "ft/s",
}
# Other spellings, only to tell what kind of quantity was written.
_ALSO = {
    "temperature": ("degC", "°C", "degF", "°F", "celsius", "fahrenheit", "kelvin"),
    "mass": ("g", "lbs", "kgs", "tonne"),
    "volume": ("l", "litre", "liter", "litres", "liters", "dm3"),
    "angle": ("degrees", "degree", "°"),
    "length": ("inch", "inches", "metre", "meter"),
}


def number_error(text: str, where: str, kind: str | None = None) -> QuantityError:
    """What is no number with a unit at all; examples fit the ``kind`` asked for."""
    examples = _EXAMPLES[kind] if kind else "42L, 4in, 15deg"
    return QuantityError(
        f"'{text}' is not a number with a unit", where=where, allowed=f"as in {examples}"
    )


def unit_error(
    text: str, unit: str, kind: str, where: str, system: str = "metric"
) -> QuantityError:
    """A number without a unit, with an unknown one, or with one of another kind.

    system : name of that of the units typed beside it.
    """
    known = FAMILIAR[kind]
    if not unit:
        return QuantityError(
            f"'{text}' has no unit",
            where=where,
            allowed=f"{_a(kind)} with one of: {', '.join(known)}",
            next_step=_with_units(text.strip(), kind, system),
        )
    return QuantityError(
        f"'{text}': '{unit}' is not a unit of {kind} that is known here",
        where=where,
        allowed=", ".join(known),
        next_step=_advice(unit, kind),
    )


def _with_units(number: str, kind: str, system: str) -> str:
    """What to write: in the units of what else was typed, or in either where nothing tells."""
    metric, other = FAMILIAR[kind][0], _IN_US.get(kind)
    if other is None:
        return f"write '{number}{metric}' if that is what is meant"
    if kind == "volume" and system == "imperial":
        other = "imperial_gallon"
    if system != "metric":
        return f"write '{number}{other}' if that is what is meant"
    return f"write '{number}{metric}' or '{number}{other}', whichever is meant"


# A metre with a prefix, short or in full; "mm", "cm", "dm" and "m" are those that tanks are drawn in.
_METRE = re.compile(
    r"(?!(?:[mcd]?m|(?:milli|centi|deci)?met(?:er|re)s?)$)(?:[^\W\d_]{1,2}[mM]|[a-z]*met(?:er|re)s?)"
)


def foreign_metre(unit: str, kind: str) -> bool:
    """Whether a length, an area or a volume is in a metre that no tank is measured in, as ``nm`` or ``MM``.

    Units tell upper from lower case: ``Mm`` is a million metres, a slip of the shift key from ``mm``.
    """
    if kind not in ("length", "area", "volume"):
        return False
    return any(_METRE.fullmatch(word) for word in re.findall(r"[^\W\d_]+", unit))


def metre_error(text: str, unit: str, kind: str, where: str) -> QuantityError:
    """A length in nanometres, megametres or the like: it is named, and ``mm`` is offered."""
    meant = {"length": "mm", "area": "mm2", "volume": "mm3"}[kind]
    number = text.strip().removesuffix(unit).strip()
    return QuantityError(
        f"'{text}': '{unit}' is not what a tank is measured in; upper and lower case differ",
        where=where,
        allowed=", ".join(FAMILIAR[kind]),
        next_step=f"did you mean {meant}? then write '{number}{meant}'",
    )


def count_error(text: str, kind: str, separator: str, count: int, where: str) -> QuantityError:
    """A list of quantities with too few or too many of them."""
    found = len(text.split(separator))
    unit = FAMILIAR[kind][0]
    hint = f"write {count} numbers and a unit, as in '{separator.join(['20'] * count)}{unit}'"
    for other in (",", "x", ";", " "):
        items = [item.strip() for item in text.strip().split(other)]
        numbers = all(re.fullmatch(r"[+-]?[\d.]+\s*\w*", item) for item in items)
        if other != separator and len(items) == count and numbers:
            whole = separator.join(items)
            hint = f"write '{whole}{'' if whole[-1].isalpha() else unit}'"
            break
    if separator == "," and found > count:
        hint = "use a decimal point, not a comma"
    return QuantityError(
        f"'{text}' has {found} number{'' if found == 1 else 's'} where {count} are needed",
        where=where,
        allowed=f"{count} numbers and a unit, as in {separator.join(['20'] * count)}{unit}",
        next_step=hint,
    )


def _a(kind: str) -> str:
    return f"an {kind}" if kind[0] == "a" else f"a {kind}"


def _kind_of(unit: str) -> str | None:
    """The kind of quantity that a unit measures; None where it is not known or is not one kind."""
    kinds = {
        kind
        for kinds in (FAMILIAR, _ALSO)
        for kind, names in kinds.items()
        if unit in names and unit != "1:N"
    }
    kinds = kinds - {"distance"} or kinds  # a metre is a length first
    return kinds.pop() if len(kinds) == 1 else None


def _advice(unit: str, kind: str) -> str:
    other = _kind_of(unit)
    if other is not None and other != kind:
        return f"'{unit}' is a unit of {other}; give {_a(kind)} with a unit from the list"
    known = FAMILIAR[kind]
    same = [name for name in known if name.lower() == unit.lower()]
    near = same or difflib.get_close_matches(unit, known, n=len(known), cutoff=0.4)
    if len(near) == 1:
        return f"did you mean '{near[0]}'?"
    if near:
        return f"write which is meant: {', '.join(name for name in known if name in near)}"
    return f"give {_a(kind)} with a unit from the list"
