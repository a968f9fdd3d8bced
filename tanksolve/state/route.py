"""Liquid carried along a route as closely as it is printed, and to the worse side where a crest is level.

``kernel.pools.settle`` halves a step until the answer stands still, but a pool that spills on the way
runs in steps: the level moves by a millimetre with the longest step allowed. So the longest step is
halved too until no level over a port moves by more than ``CLOSE``. And where liquid stands at a crest
that is level to rounding, which side it takes is decided by the last digit: the route is carried a
hair to each side as well.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.pools.settle import MAX_STEP, Settled, settle
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["CLOSE", "carried", "carried_to_each_side"]

CLOSE = 2e-5  # m: levels are printed to 0.1 mm
_FINEST = MAX_STEP / 256.0
_ELSEWHERE = 1e-3  # m: so far apart, a hair's turn has sent liquid another way
_HAIR = 1e-7  # rad: far below what a machine can be told to stand at, far above rounding


def carried(
    tank: Tank, way: Array, volume: float, places: Array, poured_at: Array
) -> tuple[Settled, float]:
    """Where ``volume`` [m³] stands along ``way`` (P, 3), and by how much [m] the last halving moved it.

    places : (Q, 3) [m]   where levels are asked for; poured_at : (S, 3) [m], none: all bays at one level.
    """
    step = MAX_STEP / 4.0
    before = _settled(tank, way, volume, places, poured_at, step)
    while True:
        step /= 2.0
        found = _settled(tank, way, volume, places, poured_at, step)
        moved = _moved(before, found)
        if moved <= CLOSE or step <= _FINEST:
            return found, moved
        before = found


def carried_to_each_side(
    tank: Tank, way: Array, volume: float, places: Array, poured_at: Array
) -> list[tuple[Settled, float]]:
    """The route as given, and turned by a hair to the four sides where that leads elsewhere."""
    rough = _settled(tank, way, volume, places, poured_at, MAX_STEP)
    ways = [way]
    for turn in ((_HAIR, 0.0), (-_HAIR, 0.0), (0.0, _HAIR), (0.0, -_HAIR)):
        aside = way + np.array([*turn, 0.0])
        aside /= np.linalg.norm(aside, axis=1, keepdims=True)
        if _moved(rough, _settled(tank, aside, volume, places, poured_at, MAX_STEP)) > _ELSEWHERE:
            ways.append(aside)
    return [carried(tank, each, volume, places, poured_at) for each in ways]


def _settled(
    tank: Tank, way: Array, volume: float, places: Array, poured_at: Array, step: float
) -> Settled:
    return settle(
        tank.graph,
        way,
        volume,
        places,
        links=tank.link_stations,
        poured_at=poured_at,
        max_step=step,
    )


def _moved(before: Settled, after: Settled) -> float:
    """The most by which a level over a place differs at the end [m]; infinite where one is dry and one not."""
    a, b = before.port_level[0, -1], after.port_level[0, -1]
    if not len(a):
        a, b = np.sort(before.level[0, -1]), np.sort(after.level[0, -1])
        if np.isfinite(a).sum() != np.isfinite(b).sum():
            return np.inf
    return float(np.abs(np.nan_to_num(a) - np.nan_to_num(b)).max(initial=0.0))
