"""The notation of a dipstick's and a sight glass's marks, and of what may be off in reading them."""

from tanksolve.errors import QuantityError
from tanksolve.project.requirements import parse_gauge
from tanksolve.questions.marks.gauge import Gauge
from tanksolve.questions.marks.marks import Allowances
from tanksolve.units import parse_angle, parse_length, parse_volume, split_quantity

__all__ = ["parse_allowances", "parse_gauges"]


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
