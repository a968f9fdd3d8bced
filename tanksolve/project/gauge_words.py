"""The notation of a dipstick's and a sight glass's marks, and of what may be off in reading them."""

import numpy as np

from tanksolve.errors import PortError, QuantityError
from tanksolve.model.tank import Tank
from tanksolve.project.requirements import parse_gauge
from tanksolve.questions.marks.gauge import Gauge
from tanksolve.questions.marks.marks import Allowances
from tanksolve.unit_systems import stated
from tanksolve.units import parse_angle, parse_length, parse_volume, split_quantity

__all__ = ["check_sticks", "parse_allowances", "parse_gauges"]

_HAIR = 1e-6  # m


def parse_allowances(
    error: str | None, tilt: str | None, thermal: str | None, draw_down: str | None
) -> Allowances:
    """What may be off, each None where not given. Raises QuantityError, naming the option."""
    growth = 0.0
    if thermal is not None:
        number, unit = split_quantity(thermal, "--thermal", "share")
        if unit != "%":
            raise QuantityError(
                f"'{thermal}' is not a share", where="--thermal", allowed="as in 5%"
            )
        growth = number / 100.0
    return Allowances(
        reading_error=parse_length(error, "--reading-error") if error else 0.0,
        tilt=parse_angle(tilt, "--reading-tilt") if tilt else 0.0,
        thermal_growth=growth,
        draw_down=parse_volume(draw_down, "--draw-down") if draw_down else 0.0,
    )


def parse_gauges(sticks: list[str], glasses: list[str]) -> list[Gauge]:
    """Dipsticks and sight glasses, named by their kind and number. Raises QuantityError."""
    named = [("dipstick", text) for text in sticks] + [("sight glass", text) for text in glasses]
    counts: dict[str, int] = {}
    gauges = []
    for kind, text in named:
        counts[kind] = counts.get(kind, 0) + 1
        name = kind if counts[kind] == 1 else f"{kind} {counts[kind]}"
        gauges.append(parse_gauge(name, text, f"--{kind.replace(' ', '-')}"))
    return gauges


def check_sticks(gauges: list[Gauge], tank: Tank) -> None:
    """Refuse a dipstick whose tip is not between the tank's walls. Raises PortError.

    A sight glass stands where it likes: liquid comes to it through tubes.
    """
    for gauge in gauges:
        foot = np.asarray(gauge.foot[:2])
        low, high = tank.lower[:2], tank.upper[:2]
        if gauge.name.startswith("dipstick") and np.any(
            (foot < low - _HAIR) | (foot > high + _HAIR)
        ):
            raise PortError(
                f"the tip at {stated(gauge.foot, 'length', ', ')} is outside the tank",
                where=f"--dipstick ({gauge.name})",
                allowed="a tip between its walls; it is "
                f"{stated(high - low, 'length', solved=True)} (length x width)",
                next_step=tank.origin_words,
            )
