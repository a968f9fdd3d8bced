"""Reading back what a document tells, to hold its faces against each other."""

import math
import re

from tanksolve.unit_systems import current

ANGLES = ("slope", "heading", "angle", "small angle")


def numbers_of(quantity):
    """The quantity's number as JSON has it: SI, angles in degrees."""
    return math.degrees(quantity.value) if quantity.kind in ANGLES else quantity.value


def spoken(words, quantity):
    """The SI value that words tell, in the units in force."""
    number = float(re.search(r"-?[\d.]+", words)[0])
    if quantity.kind in ANGLES:
        return math.radians(number)
    unit = current().units[quantity.kind]
    assert words.endswith(unit.symbol)
    return number * unit.size + unit.zero


def step(quantity, system):
    """By how much words may differ from the value: a step of the rounding, half of it to the nearest."""
    if quantity.kind in ANGLES:
        size = math.radians(0.1)
    else:
        unit = system.units[quantity.kind]
        size = unit.size * 10.0**-unit.digits
    nearest = (
        quantity.rounding == "nearest" and quantity.kind != "slope"
    )  # which is never rounded up
    return size * (0.5 if nearest else 1.0) + 1e-9


spoken.step = step
