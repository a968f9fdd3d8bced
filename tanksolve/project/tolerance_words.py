"""The notation of what may be off: fill, openings, walls and the inclinometer."""

import math

from tanksolve.errors import FillError
from tanksolve.questions.tolerance.tolerance import Tolerances
from tanksolve.units import parse_angle, parse_length, parse_volume

__all__ = ["parse_tolerances"]


def parse_tolerances(
    fill: str | None, position: str | None, walls: str | None, gauge: str | None
) -> Tolerances:
    """The tolerances given. Raises QuantityError; FillError where there is none, or a bad one."""
    off = Tolerances(
        fill=parse_volume(fill, "--fill-error") if fill is not None else 0.0,
        position=parse_length(position, "--position-error") if position is not None else 0.0,
        walls=parse_length(walls, "--wall-error") if walls is not None else 0.0,
        gauge=math.degrees(parse_angle(gauge, "--gauge-error")) if gauge is not None else 0.0,
    )
    if off == Tolerances():
        raise FillError(
            "no tolerance is given, or only noughts: there is nothing to be off",
            allowed="--fill-error 2L, --position-error 5mm, --wall-error 2mm, --gauge-error 0.5deg",
            next_step="give at least one; 'tanksolve envelope' tells the limits with nothing off",
        )
    return off
