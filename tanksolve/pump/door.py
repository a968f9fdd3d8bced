"""What lets liquid from one bay into another while the pump runs: the openings of plates, and pipes.

Openings side by side share one head and add up. A pipe is passed end to end: at each of its mouths
and bends the liquid has to get through that outline under the pipe's whole loss, and the tightest
counts. So a pipe over a rise is no siphon: it passes what stands above its sill.
"""

import math
from dataclasses import dataclass
from functools import cached_property

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.pools.openings import levels_before, passed
from tanksolve.model.attitude import GRAVITY
from tanksolve.model.bays import Gap

Array = NDArray[np.float64]

__all__ = ["Door", "door_of_gap", "doors_of"]


@dataclass(frozen=True, eq=False)
class Door:
    """A way from the first to the second of two bays.

    Attributes
    ----------
    pair : the two bays.
    runs : outlines one after the other, each (T, 3, 3) float [m], triangles.
    discharge : flow over that of a frictionless opening.
    """

    pair: tuple[int, int]
    runs: tuple[Array, ...]
    discharge: float

    @cached_property
    def corners(self) -> Array:
        """Triangles (T, 3, 3) [m] of all outlines."""
        return np.concatenate(self.runs)

    @property
    def factor(self) -> float:
        """Flow [m³/s] for each m^2.5 of ``kernel.pools.openings.passed``."""
        return self.discharge * math.sqrt(2.0 * GRAVITY)

    def flow(self, up: Array, upper: ArrayLike, lower: ArrayLike) -> Array:
        """Flow [m³/s] under two levels (D,) [m] at ``up`` (D, 3); 0 where the upper is not above."""
        each = [passed(up, run, upper, lower) for run in self.runs]
        return np.asarray(self.factor * np.min(each, axis=0))

    def level_before(self, up: Array, lower: ArrayLike, flow: float) -> Array:
        """Level (D,) [m] that drives a flow [m³/s] through, given the level behind (D,) [m]."""
        each = [levels_before(up, run, lower, flow / self.factor) for run in self.runs]
        return np.asarray(np.max(each, axis=0))

    def sill(self, up: Array) -> Array:
        """Height (D,) [m] that liquid must stand above to get through."""
        return np.asarray(
            np.max([(up @ run.reshape(-1, 3).T).min(axis=1) for run in self.runs], axis=0)
        )


def door_of_gap(gap: Gap, discharge: float) -> Door:
    """The way through one opening or pipe by itself; ``discharge`` is that of an opening in a plate."""
    return Door(gap.joins, gap.runs, discharge if gap.loss is None else gap.loss**-0.5)


def doors_of(gaps: tuple[Gap, ...], discharge: float) -> tuple[Door, ...]:
    """All ways between bays: the openings of each two together, each pipe by itself, both ways but for flaps."""
    plates: dict[tuple[int, int], list[Array]] = {}
    pipes: list[Door] = []
    for gap in gaps:
        for pair in (gap.joins,) if gap.one_way else (gap.joins, gap.joins[::-1]):
            if gap.loss is None:
                plates.setdefault(pair, []).append(gap.corners)
            else:
                pipes.append(Door(pair, gap.runs, door_of_gap(gap, discharge).discharge))
    each = (Door(pair, (np.concatenate(at),), discharge) for pair, at in plates.items())
    return (*each, *pipes)
