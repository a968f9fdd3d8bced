"""What a sump under a pickup gains: how much less liquid is unusable."""

from collections.abc import Sequence
from dataclasses import dataclass, replace

from tanksolve.errors import PortError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.sumps import Sump
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.fill_limits import fill_limits
from tanksolve.state.conditions import Pickups

__all__ = ["SumpGain", "sump_gain"]


@dataclass(frozen=True)
class SumpGain:
    """Least fill without and with a sump, the pickup over its middle and lowered by its depth.

    Attributes
    ----------
    adds_m3 : what the sump itself holds.
    least_before_m3, least_after_m3 : bounds, no gap between samples.
    gain_m3 : how much less liquid is needed; negative where the sump does harm.
    pickup_m : where the pickup then is, tank frame [m].
    """

    adds_m3: float
    least_before_m3: float
    least_after_m3: float
    gain_m3: float
    pickup_m: tuple[float, float, float]


def sump_gain(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    sump: Sump,
    *,
    pickups: Pickups = "all",
    tolerance: float = 1e-4,
) -> SumpGain:
    """Hang ``sump`` under the tank, move the first pickup into it, and compare the least fills.

    Raises PortError without a pickup, TankError where the sump does not fit.
    """
    wet = [port for port in ports if port.kind is PortKind.PICKUP]
    if not wet:
        raise PortError("a sump needs a pickup to gain anything", next_step="add --pickup")
    deeper = build(Parts(tank, sumps=(sump,)))
    place = (
        float(tank.lower[0]) + sump.at[0],
        float(tank.lower[1]) + sump.at[1],
        wet[0].position[2] - sump.depth,
    )
    moved = [replace(port, position=place) if port is wet[0] else port for port in ports]
    before = fill_limits(tank, ports, requirement, pickups=pickups, tolerance=tolerance)
    after = fill_limits(deeper, moved, requirement, pickups=pickups, tolerance=tolerance)
    return SumpGain(
        adds_m3=deeper.capacity - tank.capacity,
        least_before_m3=before.least_m3,
        least_after_m3=after.least_m3,
        gain_m3=before.least_m3 - after.least_m3,
        pickup_m=place,
    )
