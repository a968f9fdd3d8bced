"""How long two bays take to stand level again after the machine has tilted.

Both hold what they held on level ground; the machine then stands at an attitude, and liquid runs
through the openings between the two until their levels differ by a millimetre, or until no
opening is below the upper one. Quasi-steady: ``t = integral of dV / Q`` over the volume V that has
moved, Q by ``kernel.openings`` for the levels that the bays then have. For bays with upright walls
and openings wholly under liquid that is the closed form

    t = 2 A1 A2 / (A1 + A2) * (sqrt(h0) - sqrt(h1)) / (Cd a sqrt(2 g)).

Other bays and the pump are left out.
"""

import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.attitude import Attitude
from tanksolve.pump.door import Door
from tanksolve.pump.running import ReturnFlow

Array = NDArray[np.float64]

__all__ = ["WITHIN", "SettlingTime", "settling_times"]

WITHIN = 1e-3  # m: what is left to run when two bays count as level
_POINTS = 64  # of the quadrature


@dataclass(frozen=True)
class SettlingTime:
    """Two bays after a tilt from level ground.

    Attributes
    ----------
    from_m : difference of their levels at the start [m].
    to_m : difference in the end: WITHIN, or more where liquid stays behind a sill.
    moved_m3 : what runs over.
    seconds : until then; 0 where they are within that from the start.
    """

    bays: tuple[str, str]
    from_m: float
    to_m: float
    moved_m3: float
    seconds: float


def settling_times(
    flow: ReturnFlow, volume: float, attitude: Attitude, *, within: float = WITHIN
) -> tuple[SettlingTime, ...]:
    """The time for each two bays with an opening between, from level ground to an attitude.

    volume : of liquid [m³], at one level in all bays on level ground; within : [m].
    Bays that stand level to rounding, or that a flap keeps apart, are left out.
    """
    level_up = np.array([[0.0, 0.0, 1.0]])
    start = levels(flow.tank.tree, level_up, volume)[0]
    held = [float(volumes(bay.tree, level_up, start)[0][0]) for bay in flow.bays.bays]
    up = np.array([attitude.up])
    now = [
        float(levels(bay.tree, up, min(kept, bay.capacity))[0][0])
        for bay, kept in zip(flow.bays.bays, held, strict=True)
    ]
    downhill = [door for door in flow.all_doors() if now[door.pair[0]] > now[door.pair[1]]]
    return tuple(_Pair(flow, door, up, held).time(within) for door in downhill)


class _Pair:
    """A bay, a lower one, and what lets liquid from the one to the other, at one attitude."""

    def __init__(
        self,
        flow: ReturnFlow,
        door: Door,
        up: Array,
        held: list[float],
    ) -> None:
        self.flow, self.door, self.up = flow, door, up
        self.upper, self.lower = door.pair
        self.held = held
        self.sill = float(door.sill(up)[0])

    def _levels(self, bay: int, held: Array) -> Array:
        tank = self.flow.bays.bays[bay]
        kept = np.clip(held, 0.0, tank.capacity)
        return levels(tank.tree, np.repeat(self.up, len(held), axis=0), kept)[0]

    def _heads(self, moved: Array) -> tuple[Array, Array]:
        """Levels of the upper and the lower bay once ``moved`` (N,) [m³] has run over."""
        upper = self._levels(self.upper, self.held[self.upper] - moved)
        lower = self._levels(self.lower, self.held[self.lower] + moved)
        return upper, lower

    def _left(self, moved: Array) -> Array:
        """Head that still drives liquid over [m]."""
        upper, lower = self._heads(moved)
        return upper - np.maximum(lower, self.sill)

    def _moved_until(self, left: float) -> float:
        """Volume [m³] that has run over when the head has come down to ``left`` [m]."""
        lower_room = self.flow.bays.bays[self.lower].capacity - self.held[self.lower]
        low, high = 0.0, max(min(self.held[self.upper], lower_room), 0.0)
        for _ in range(60):
            middle = 0.5 * (low + high)
            if float(self._left(np.array([middle]))[0]) > left:
                low = middle
            else:
                high = middle
        return high

    def time(self, within: float) -> SettlingTime:
        """The time until the head is within [m] of its end."""
        names = self.flow.bays.bays[self.upper].name, self.flow.bays.bays[self.lower].name
        upper, lower = self._heads(np.zeros(1))
        start = float(upper[0] - lower[0])
        if float(self._left(np.zeros(1))[0]) <= within:
            return SettlingTime(names, start, start, 0.0, 0.0)
        most, moved = self._moved_until(0.0), self._moved_until(within)
        # in s = sqrt(1 - moved / most) the integrand is constant for upright walls
        last = math.sqrt(max(1.0 - moved / most, 0.0))
        nodes, weights = np.polynomial.legendre.leggauss(_POINTS)
        s = last + 0.5 * (1.0 - last) * (nodes + 1.0)
        heads = self._heads(most * (1.0 - s**2))
        rate = self.door.flow(np.repeat(self.up, len(s), axis=0), *heads)
        spent = 0.5 * (1.0 - last) * float(np.sum(weights * 2.0 * most * s / rate))
        upper, lower = self._heads(np.array([moved]))
        return SettlingTime(names, start, float(upper[0] - lower[0]), moved, spent)
