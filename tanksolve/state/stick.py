"""What a dipstick or a sight glass can tell where walls part the liquid.

It reads the level of the pool that it stands in, no other. With liquid at h over its place the tank
surely holds what that pool holds, and at most F(h) of ``kernel.pools.worst_state``: all other hollows
full to their brims. The other way round, with V in the tank the level over it lies between the lowest
and the highest that any route, the pump or the filler can leave. Where one surface is certain the two
are one.
"""

from dataclasses import replace

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.kernel.pools.worst_state import need, room
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]

__all__ = ["held_at", "levels_over"]

_LEVEL = (0.0, 0.0, 1.0)
_HAIR = 1e-9  # of the tank's size


def held_at(
    tank: Tank, place: ArrayLike, heights: ArrayLike, up: ArrayLike = _LEVEL
) -> tuple[Array, Array]:
    """Least and most liquid (H,) [m³] in the tank with its surface at heights (H,) [m] over a place.

    place : (3,) [m]   in the liquid space. up : (3,); heights are along it from the origin.
    """
    edges = np.atleast_1d(np.asarray(heights, float))
    up = np.repeat(np.asarray(up, float)[None], len(edges), axis=0)
    one = np.minimum(volumes(tank.tree, up, edges)[0], tank.capacity)
    if tank.is_convex:
        return one, one
    at = np.asarray(place, float)[None]
    least = room(tank.graph, up, at, edges[:, None], tank.link_stations, sure=True)
    # at a sill, to rounding, the bay may be brim-full and the next one empty
    hair = _HAIR * tank.graph.size
    under = room(tank.graph, up, at, edges[:, None] - hair, tank.link_stations, sure=True)
    least = np.where(least - under > 2.0 * hair * tank.wall_area, under, least)
    most = need(tank.graph, up, at, edges[:, None], tank.link_stations)
    return np.minimum(least, one), np.clip(most, one, tank.capacity)


def levels_over(
    tank: Tank, place: ArrayLike, volume: float, up: Array, hulls: Array | None = None
) -> tuple[Array, Array]:
    """Lowest and highest level (D,) [m] of ``volume`` [m³] over a place, from the place along ``up``.

    place : (3,) [m]   in the liquid space. up : (D, 3). With hulls (D, J, 3) these are bounds all over
    each. Over a dry place the lowest is that of the wall below it.
    """
    x, y, z = (float(c) for c in np.asarray(place, float))
    point = Port("stick", PortKind.LEVEL_SWITCH, (x, y, z), cover=0.0)
    both = (replace(point, rule=Rule.WET), replace(point, rule=Rule.DRY))
    held = Conditions(tank, Fill.of(volume), both, ((0,), (1,)), both)
    margins = held.margins(up[:, None])[:, 0] if hulls is None else held.margins_within(up, hulls)
    return margins[:, 0], -margins[:, 1]
