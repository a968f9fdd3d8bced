"""Liquid through the holes of a baffle, and the seconds of running left once a pickup is bare.

Orifice flow, ``Q = Cd a sqrt(2 g h)``; Cd = 0.6 (N. Midoux, p. 51, read in a secondary page) or
0.61 (from memory). Not to be relied on for cold, thick oil, which passes far more slowly.
"""

import math
from dataclasses import dataclass

from tanksolve.errors import FillError
from tanksolve.model.attitude import GRAVITY
from tanksolve.unit_systems import told

__all__ = [
    "DISCHARGE",
    "RunningLeft",
    "drain_time",
    "equalising_time",
    "head_for_flow",
    "orifice_flow",
    "running_left",
]

DISCHARGE = 0.61


def _positive(**values: float) -> None:
    for name, value in values.items():
        if not (math.isfinite(value) and value > 0.0):
            raise FillError(f"a {name} of {value:g} (SI) is not positive")


def orifice_flow(area: float, head: float, discharge: float = DISCHARGE) -> float:
    """Flow [m³/s] through a hole of an area [m²] under a head [m]."""
    _positive(area=area)
    return discharge * area * math.sqrt(2.0 * GRAVITY * max(head, 0.0))


def head_for_flow(area: float, flow: float, discharge: float = DISCHARGE) -> float:
    """Difference of level [m] that drives a flow [m³/s] through holes of an area [m²]."""
    _positive(area=area, flow=flow)
    return (flow / (discharge * area)) ** 2 / (2.0 * GRAVITY)


def equalising_time(
    first: float, second: float, area: float, head: float, discharge: float = DISCHARGE
) -> float:
    """Seconds until two bays of surfaces [m²] with a difference of level [m] stand level."""
    _positive(bay=first, bay_beside=second, area=area, head=head)
    both = first * second / (first + second)
    return 2.0 * both * math.sqrt(head) / (discharge * area * math.sqrt(2.0 * GRAVITY))


def drain_time(surface: float, area: float, head: float, discharge: float = DISCHARGE) -> float:
    """Seconds in which a bay of a surface [m²] drains from a head [m] through a hole [m²]."""
    _positive(surface=surface, area=area, head=head)
    return 2.0 * surface * math.sqrt(head) / (discharge * area * math.sqrt(2.0 * GRAVITY))


@dataclass(frozen=True)
class RunningLeft:
    """Seconds until air reaches the pump once the pickup is bare, and what they come from.

    Attributes
    ----------
    seconds : at the soonest: the middle of laminar flow runs at twice the mean.
    seconds_plug : if all of the line ran at the mean, as fast turbulent flow nearly does.
    """

    seconds: float
    seconds_plug: float
    held_m3: float
    flow_m3_s: float
    words: str


_LAMINAR_CENTRE = 2.0  # velocity in the middle of a round pipe over the mean: Poiseuille's parabola


def running_left(flow: float, line_volume: float, held: float = 0.0) -> RunningLeft:
    """Seconds of running left when a pickup is uncovered all at once, as a range.

    Air first comes where the line is fastest. In laminar flow, as of most oil, that is its middle, at
    twice the mean; in turbulent flow about 1.2 times (from memory). So what a line holds lasts
    between half of volume over flow and all of it.

    Parameters
    ----------
    flow : of the pump [m³/s].
    line_volume : liquid in the suction line [m³], which still runs.
    held : liquid that a swirl pot or catch box holds about the pickup [m³].

    A limit by attitude alone says nothing of time: a corner of two seconds may be over sooner than
    this, or the air may already be in the pump. Raises FillError for values that cannot be.
    """
    _positive(flow=flow)
    if line_volume < 0.0 or held < 0.0 or not math.isfinite(line_volume + held):
        raise FillError("a held volume cannot be negative")
    plug = (line_volume + held) / flow
    soonest = (line_volume / _LAMINAR_CENTRE + held) / flow
    span = f"{soonest:.2f} s" if soonest == plug else f"{soonest:.2f} to {plug:.2f} s"
    words = (
        f"{span} until air reaches the pump at {told(flow, 'flow')}"
        f" ({told(line_volume, 'volume')} in the line, {told(held, 'volume')} held at the pickup; the"
        " sooner where the flow is laminar, its middle running at twice the mean)"
    )
    return RunningLeft(soonest, plug, line_volume + held, flow, words)
