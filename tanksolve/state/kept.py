"""How far the machine may drive, pump off, on what walls keep round its ports.

``state.conditions`` gives a port no credit for what a wall alone keeps: a pump that draws there while
the return runs elsewhere empties it. While nothing is drawn, a bay keeps what
:mod:`tanksolve.kernel.pools.kept` proves of all attitudes that the machine may take, so a port in it is
covered as long as the bay keeps more than its other hollows and the liquid below the port's edge take.
"""

import math
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.kept import least_kept
from tanksolve.model.bays import Bays
from tanksolve.model.liquid import Fill
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions
from tanksolve.state.openings import is_wet
from tanksolve.state.worst_case import worst_case

Array = NDArray[np.float64]

__all__ = ["Kept", "kept_out_to"]

_LEVEL = np.array([[0.0, 0.0, 1.0]])
_CLOSE = math.radians(0.1)
_MORE = math.radians(0.5)  # a kept slope no further out than this is not worth a line
_AROUND = np.radians(np.arange(0.0, 360.0, 22.5))
_MOST_CELLS = 3000  # for each bound: with fewer cells it is lower, never wrong
_SHARE = 1e-3  # of a bay: how closely what it keeps is bounded
_SPARE = 1.0 - 1e-9  # more must be kept than is taken


@dataclass(frozen=True)
class Kept:
    """What holds of driving with the pump off, whatever the route inside the slope told.

    Attributes
    ----------
    slope_deg : slope [°] in every heading up to which all driving is proved; a bound.
    kept_m3 : what each bay with a pickup keeps for certain then [m³], by the port's name.
    filled : how the tank is taken to have been filled, in words.
    lasts_to_deg, lasts_s : slope [°] half-way from the limits of any route to ``slope_deg``, and for how long
        [s] what is kept covers each pickup up to there while its pump draws and nothing comes back; only
        of pickups with a flow.
    """

    slope_deg: float
    kept_m3: dict[str, float]
    filled: str
    lasts_to_deg: float
    lasts_s: dict[str, float]


@dataclass(frozen=True, eq=False)
class _Bay:
    """The bay of one wet port: what it was filled with [m³], its gates, and the port alone in it."""

    filled: float
    gates: Array
    alone: Conditions

    def keeps(self, slope: float) -> float:
        """What is left in it for certain after any drive up to a slope [rad] in any heading [m³]."""
        graph = self.alone.tank.graph

        def lost(up: Array, hulls: Array | None = None) -> Array:
            return -np.minimum(least_kept(graph, self.gates, up, hulls), self.filled)

        need = Requirement.every_heading(slope)
        tolerance = _SHARE * graph.capacity
        return max(0.0, -worst_case(need, lost, lost, tolerance, most_cells=_MOST_CELLS).bound)

    def keeps_at(self, up: Array) -> float:
        """The least of what is left at samples (D, 3) [m³]: no less is known, so it rules out only."""
        return float(
            np.minimum(least_kept(self.alone.tank.graph, self.gates, up), self.filled).min()
        )

    def lasts(self, slope: float, flow: float) -> float:
        """Seconds for which a flow [m³/s] may draw on what is kept, at any attitude up to a slope [rad]."""

        def need(up: Array, hulls: Array | None = None) -> Array:
            return self.alone.needs(self.alone.groups, up, hulls)[:, 0]

        disc, tolerance = Requirement.every_heading(slope), _SHARE * self.alone.tank.capacity
        taken = worst_case(disc, need, need, tolerance, most_cells=_MOST_CELLS).bound
        return max(0.0, _SPARE * self.keeps(slope) - taken) / flow


def kept_out_to(
    conditions: Conditions, bays: Bays, search_to: float, beyond: float = 0.0
) -> Kept | None:
    """Find how steep all driving may be with the pump off; None where walls keep nothing to count on.

    bays : of the same tank, in the same frame; search_to : slope up to which to look [rad].
    beyond : slope [rad] that is held anyway: None where samples show that no more than that is kept.
    The tank is taken as filled on level ground to one level in every bay.
    """
    each = {k: _bay(conditions, bays, k) for k in conditions.columns(wet=True)}
    known = {k: bay for k, bay in each.items() if bay is not None}
    if not known or not conditions.walls_may_part:
        return None

    if beyond > 0.0 and _seen_bare(conditions, known, beyond + _MORE):
        return None

    def proved(slope: float) -> dict[str, float] | None:
        kept = {k: bay.keeps(slope) for k, bay in known.items()}
        if not _all_covered(conditions, known, kept, slope):
            return None
        return {conditions.ports[k].name: kept[k] for k in known}

    best = proved(beyond)
    if best is None:
        return None
    low, high = beyond, search_to
    while high - low > _CLOSE:
        middle = 0.5 * (low + high)
        found = proved(middle)
        low, high, best = (low, middle, best) if found is None else (middle, high, found)
    half = 0.5 * (beyond + low)
    flows = {k: conditions.ports[k].flow for k in known}
    lasts = {
        conditions.ports[k].name: bay.lasts(half, flow)
        for k, bay in known.items()
        if (flow := flows[k])
    }
    filled = "every bay to one level, standing level"
    return Kept(math.degrees(low), best, filled, math.degrees(half), lasts)


def _seen_bare(conditions: Conditions, known: dict[int, _Bay], slope: float) -> bool:
    """Whether samples up to a slope already show a port that may come bare.

    The four sides first: what a bay keeps is no less at fewer samples, so what is bare there is bare.
    """
    for share, around in (([1.0], _AROUND[::4]), ([0.5, 1.0], _AROUND)):
        slopes, headings = np.meshgrid(slope * np.array(share), around)
        up = up_from_slope_heading(slopes.ravel(), headings.ravel())
        kept = {k: bay.keeps_at(up) for k, bay in known.items()}
        if (_short(conditions, known, kept, up) > 0.0).any():
            return True
    return False


def _short(
    conditions: Conditions,
    known: dict[int, _Bay],
    kept: dict[int, float],
    up: Array,
    hulls: Array | None = None,
) -> Array:
    """What the worst group lacks (D,) [m³]: of what is in the tank, or of what its bay keeps."""
    found = conditions.needs(conditions.groups, up, hulls) - conditions.amounts(conditions.groups)
    for g, group in enumerate(conditions.groups):
        for k in group:
            if k in known:
                alone = known[k].alone
                taken = alone.needs(alone.groups, up, hulls)[:, 0] - _SPARE * kept[k]
                found[:, g] = np.minimum(found[:, g], taken)
    return np.asarray(found.max(axis=1))


def _all_covered(
    conditions: Conditions, known: dict[int, _Bay], kept: dict[int, float], slope: float
) -> bool:
    """Whether every group is proved, by what is in the tank or by what its bay keeps, up to a slope."""

    def over(up: Array, hulls: Array | None = None) -> Array:
        return _short(conditions, known, kept, up, hulls)

    size = conditions.tank.capacity
    need = Requirement.every_heading(slope)
    found = worst_case(need, over, over, _SHARE * size, enough=0.0, most_cells=_MOST_CELLS)
    return found.bound <= 0.0


def _bay(conditions: Conditions, bays: Bays, column: int) -> _Bay | None:
    """The bay of a wet port; None where what was filled into it is not certain, or a pipe opens into it."""
    port, tank = conditions.ports[column], conditions.tank
    number = bays.bay_of(port.position)
    bay = bays.bays[number]
    if not is_wet(port) or any(link.kind == "balance pipe" for link in tank.links):
        return None
    level = levels(tank.tree, _LEVEL, conditions.least)[0]
    filled = float(volumes(bay.tree, _LEVEL, level)[0][0])
    if not filled > 0.0 or filled >= bay.capacity:
        return None
    alone = Conditions(bay, Fill.of(filled), (replace(port, flow=None),), ((0,),), (port,))
    if not bool(alone.one_surface(_LEVEL)[0]):
        return None
    return _Bay(filled, _gates(bays, number, bay), alone)


def _gates(bays: Bays, number: int, bay: Tank) -> Array:
    """Corners (G, 3) [m] of the openings by which liquid can leave a bay, moved a hair into it."""
    found = []
    for gap in bays.gaps:
        leaves = number == gap.joins[0] or (number == gap.joins[1] and not gap.one_way)
        if leaves:
            found += [
                bay.seated(_onto(bay, p, gap.volume_m3 / gap.area_m2)) for p in _unique(gap.corners)
            ]
    return np.array(found).reshape(-1, 3)


def _unique(corners: Array) -> Array:
    return np.unique(corners.reshape(-1, 3), axis=0)


def _onto(bay: Tank, point: Array, thickness: float) -> Array:
    """The point, or where it lies on the far side of its plate, the place on the bay's own wall."""
    if bay.distance_to_wall(point) <= 1e-6 * float(np.linalg.norm(bay.upper - bay.lower)):
        return point
    steps = thickness * np.vstack([np.eye(3), -np.eye(3)])
    moved = [point + step for step in steps]
    return min(moved, key=lambda p: float(bay.distance_to_wall(p)))
