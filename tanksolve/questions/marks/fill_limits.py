"""Fill limits: the least and the most liquid with which every port keeps its rule.

A wet port needs the volume below the plane at its upper edge plus cover, and where walls part the
liquid all that other hollows can hold back; the least fill is the greatest of these needs over all
required attitudes, mirrored for dry ports and the most. No level is solved. See docs/theory/marks.md.
"""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import slope_heading_from_up
from tanksolve.kernel.capacity.level import height_bounds
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.worst_case import Worst, worst_case

Array = NDArray[np.float64]

__all__ = ["FillLimits", "Needs", "SetBy", "fill_limits"]


@dataclass(frozen=True)
class SetBy:
    """The port and the attitude that set a limit."""

    port: str
    slope_deg: float
    heading_deg: float


@dataclass(frozen=True)
class FillLimits:
    """Least and most fill of a requirement, before any allowance [m³].

    Attributes
    ----------
    least_m3, most_m3 : bounds with no gap between samples, on the safe side of the roots.
    least_root_m3, most_root_m3 : solved.
    least_set_by, most_set_by : None where no port sets that end: 0, or the capacity.
    least_short_m, most_short_m : by how much a port's edge lies above the tank's top, or below its
        bottom, at some required attitude: there no fill will do; 0 where there is none.
    evaluations : attitudes valued, the cost.
    """

    least_m3: float
    most_m3: float
    least_root_m3: float
    most_root_m3: float
    least_set_by: SetBy | None
    most_set_by: SetBy | None
    least_short_m: float
    most_short_m: float
    evaluations: int


def fill_limits(
    tank: Tank,
    ports: Sequence[Port],
    requirement: Requirement,
    *,
    pickups: Pickups = "all",
    tolerance: float = 1e-4,
) -> FillLimits:
    """Find the least and the most fill that meet ``requirement``.

    tolerance : how far a bound may lie beyond its root, as a depth of liquid spread over the
        tank's mean level section [m].
    Raises PortError where no port has a rule.
    """
    conditions = Conditions.of(tank, ports, tank.capacity, pickups)
    allowed = tolerance * tank.capacity / float(tank.upper[2] - tank.lower[2])
    wet, dry = Needs(conditions, Rule.WET), Needs(conditions, Rule.DRY)
    least = worst_case(requirement, wet.volume, wet.volume_bound, allowed) if wet.groups else None
    most = worst_case(requirement, dry.volume, dry.volume_bound, allowed) if dry.groups else None
    return FillLimits(
        least_m3=least.bound if least else 0.0,
        most_m3=tank.capacity - most.bound if most else tank.capacity,
        least_root_m3=least.value if least else 0.0,
        most_root_m3=tank.capacity - most.value if most else tank.capacity,
        least_set_by=_set_by(wet, least) if least else None,
        most_set_by=_set_by(dry, most) if most else None,
        least_short_m=_short(wet, requirement, least, tolerance),
        most_short_m=_short(dry, requirement, most, tolerance),
        evaluations=sum(found.evaluations for found in (least, most) if found),
    )


class Needs:
    """What the wet ports need of liquid, or the dry ports of air, at an attitude.

    With air for dry ports both rules read 'the need must not exceed what there is', and the worst is
    the greatest need: that of the worst group, of which the best port counts.
    """

    def __init__(self, conditions: Conditions, rule: Rule) -> None:
        self.conditions = conditions
        self.tank = conditions.tank
        self.groups = conditions.groups_of(wet=rule is Rule.WET)
        self.dry = rule is Rule.DRY

    def volume(self, up: Array) -> Array:
        """Need (D,) [m³]."""
        return np.asarray(self.conditions.needs(self.groups, up).max(axis=1))

    def volume_bound(self, up: Array, hulls: Array) -> Array:
        """At least the need (D,) [m³] all over each hull of attitudes (D, J, 3)."""
        return np.asarray(self.conditions.needs(self.groups, up, hulls).max(axis=1))

    def short(self, up: Array) -> Array:
        """How far (D,) [m] the edge is above the tank's top (wet) or below its bottom (dry)."""
        return self._short(up, None)

    def short_bound(self, up: Array, hulls: Array) -> Array:
        """At least :meth:`short` all over each hull: the margin of a brim-full or empty tank."""
        return self._short(up, hulls)

    def _short(self, up: Array, hulls: Array | None) -> Array:
        bottom, top = height_bounds(self.tank.tree, up)

        def of(column: int) -> Array:
            edge = self.conditions.edge(column, up)
            slack = 0.0 if hulls is None else self.conditions.hull_slack(column, up, hulls)
            return np.asarray((bottom - edge if self.dry else edge - top) + slack)

        each = [np.min([of(i) for i in group], axis=0) for group in self.groups]
        return np.asarray(np.max(each, axis=0))

    def setter(self, up: Array) -> Port:
        """The port that sets the need at one attitude (1, 3): of its group the one that needs least."""
        worst = self.groups[int(self.conditions.needs(self.groups, up)[0].argmax())]
        alone = [float(self.conditions.needs([(i,)], up)[0, 0]) for i in worst]
        return self.conditions.ports[worst[int(np.argmin(alone))]]


def _short(needs: Needs, requirement: Requirement, worst: Worst | None, tolerance: float) -> float:
    """How far an edge is outside the tank at the worst attitude [m], 0 where it never is."""
    if worst is None or worst.value < needs.tank.capacity * (1.0 - 1e-9):
        return 0.0
    return max(0.0, worst_case(requirement, needs.short, needs.short_bound, tolerance).value)


def _set_by(needs: Needs, worst: Worst) -> SetBy:
    up = np.array([worst.up])
    slope, heading = (float(np.degrees(a[0])) for a in slope_heading_from_up(up))
    return SetBy(needs.setter(up).name, slope, heading)
