"""Margins in the worst state of rest: how far each rule is kept, whatever the machine did before."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.tangent import swings
from tanksolve.kernel.pools.worst_state import least_gap, least_rise
from tanksolve.state.openings import dry_places, dry_places_over, is_wet, worst_place

if TYPE_CHECKING:
    from tanksolve.state.conditions import Conditions, Group

Array = NDArray[np.float64]

__all__ = ["dry_margin", "parted_margins"]

_FLOW_ROUNDS = 4  # what flow holds hardly changes with the level, so a few rounds settle it


def parted_margins(
    conditions: "Conditions",
    group: "Group",
    up: Array,
    volume: Array,
    level: Array,
    one_level: Array,
) -> Array:
    """Margins (D, ports of the group) [m] at ``up`` (D, 3) in the worst state of rest.

    volume, level : (D,) [m³], [m]   the fill at each attitude, and its level if it has one surface.
    one_level : (D, ports of the group) [m]   margins by that level: it is one of the states.
    """
    if not is_wet(conditions.ports[group[0]]):
        return dry_margin(conditions, group[0], up, volume, level)[:, None]
    alone = [_wet_margin(conditions, (i,), up, volume, level) for i in group]
    found = np.minimum(one_level, np.stack(alone, axis=-1))
    if len(group) > 1:
        rows, best = np.arange(len(up)), np.argmax(found, axis=1)
        found[rows, best] = np.maximum(
            found[rows, best], _wet_margin(conditions, group, up, volume, level)
        )
    return found


def _wet_margin(
    conditions: "Conditions", group: "Group", up: Array, volume: Array | float, level: Array
) -> Array:
    """How far (D,) [m] a group of wet ports is certainly covered, together."""
    found = _rise(conditions, group, up, volume, level)
    none = np.zeros((len(up), len(group)))
    for _ in range(_FLOW_ROUNDS if conditions.set_aside(group, up, found, none).any() else 0):
        left = np.maximum(volume - conditions.set_aside(group, up, found, none), 0.0)
        found = np.where(np.isfinite(left), _rise(conditions, group, up, left, level), -np.inf)
    return found


def _rise(
    conditions: "Conditions", group: "Group", up: Array, volume: Array | float, level: Array
) -> Array:
    places, owner = conditions.places_of(group)
    edges = np.stack([conditions.edge(i, up) for i in group], axis=-1)[:, owner]
    guess = level - edges.min(axis=1)
    tank = conditions.tank
    found = -worst_place(
        lambda at: -least_rise(
            tank.graph, up, places[at], edges[:, at], volume, guess, tank.link_stations
        ),
        group, owner,
    )  # fmt: skip
    return np.where(np.isnan(found), -np.inf, found)


def dry_margin(
    conditions: "Conditions", column: int, up: Array, volume: Array | float, level: Array,
    hulls: Array | None = None,
) -> Array:  # fmt: skip
    """Margin (D,) [m] at ``up``, or before slack what bounds it all over each hull."""
    tank, port = conditions.tank, conditions.ports[column]
    edge = conditions.edge(column, up) - conditions.swell(column, up, np.zeros(len(up)))
    fixed, moves, swing = conditions.dry_fixed_places[column], np.zeros((1, 1)), None
    if hulls is None:
        at = dry_places(port, up, fixed)
    else:
        at, moves = dry_places_over(tank, port, up, hulls, fixed)
        swing = swings(up, hulls) * (port.required_cover > 0.0)
    edges = np.broadcast_to(edge[:, None], at.shape[:2])
    found = least_gap(
        tank.graph, up, at, edges, volume, level, tank.link_stations, swing=swing, spread=moves
    )
    return np.minimum(np.where(np.isnan(found), -np.inf, found), edge - level)
