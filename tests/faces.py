"""The faces of an answer: which units stand on them, and whether its data know each number that they tell."""

import math
import re

from tanksolve.unit_systems import METRIC, US

SYMBOLS = {
    name: {unit.symbol for unit in system.units.values()}
    - {"", "°", "%", "s", "h", "g", "Hz", "cSt"}
    for name, system in (("metric", METRIC), ("us", US))
}
SYMBOLS["us"] |= {"gal", "inch", "ft", "psi"}
SYMBOLS["metric"] |= {"litre", "cm", "m³"}


UNITS = {unit.symbol for system in (METRIC, US) for unit in system.units.values()} | {"gal"}


def foreign(text, system):
    """Units of the other system that stand behind a number, or in brackets or a column's title."""
    other = "us" if system == "metric" else "metric"
    units = "|".join(
        sorted(map(re.escape, SYMBOLS[other] - SYMBOLS[system]), key=len, reverse=True)
    )
    return re.findall(rf"(?:[\d)] ?|[\[_])(?:{units})(?![\w²³⁴/·])", text)


def odd_numbers(face, words, known, system):
    """Numbers with a unit that words tell and the data do not know; ``known`` are the data's numbers."""
    return {
        (face, text, symbol)
        for text, symbol in re.findall(r"(-?\d+\.\d+) ?([A-Za-z°²³⁴·/]+(?: gal)?)", words)
        if symbol in UNITS  # no word, no "x" of sizes in a contender's name
        and (face, symbol) != ("map-in-g", "g")  # a scale
        and not any(
            near(float(text), one, symbol, system, len(text.split(".")[1])) for one in known
        )
    }


def system_of(tank):
    return tank.split()[0]


def told(text):
    """What was found; the inputs as understood are not in the result, and notes speak in words."""
    found = re.split(r"\n\n(?:tank |liquid  (?:ISO|water)|log )|\nliquid +ISO", text)[0]
    return " ".join(found.split())  # a unit may stand on the next line


def numbers(value):
    """Every number in plain data, and those written in its words."""
    if isinstance(value, bool) or value is None:
        return
    if isinstance(value, int | float):
        yield float(value)
    elif isinstance(value, str):
        yield from (float(one) for one in re.findall(r"-?\d+\.?\d*", value))
    elif isinstance(value, dict):
        for item in value.values():
            yield from numbers(item)
    else:
        for item in value:
            yield from numbers(item)


def near(shown, known, symbol, system, digits):
    """Whether a number that is shown with a unit is ``known`` in SI, degrees, percent or in metric words."""
    scales = [
        (unit.size, unit.zero)
        for unit in system.units.values()
        if symbol and symbol in (unit.symbol, unit.symbol.removeprefix("US "))
    ]
    metric = [(1e-3, 0.0), (1.0, 0.0)] if system is US else [(1.0, 0.0)]
    step = 10.0**-digits
    if system is METRIC and abs(known - shown) <= step:  # as words of the JSON tell it
        return True
    for size, zero in scales or [(1.0, 0.0)]:
        si = [known, *(known * one for one, _ in metric)]
        if any(abs((value - zero) / size - shown) <= 1.01 * step for value in si):
            return True
    angles = [known, math.radians(known)]
    return symbol == "°" and any(
        abs(math.degrees(a) - shown) <= step or abs(a - shown) <= step for a in angles
    )
