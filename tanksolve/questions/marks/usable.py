"""How much liquid a pump can draw at an attitude where walls part it: what stands in its own pool."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.pools.draw_down import draw_down
from tanksolve.kernel.pools.settle import settle
from tanksolve.state.conditions import Conditions
from tanksolve.state.ways import PITCH_FIRST, ROLL_FIRST, Start, half_way

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["usable_by_pools"]

_LEVEL = np.array([0.0, 0.0, 1.0])


def usable_by_pools(conditions: Conditions, up: Array) -> tuple[Array, Ints]:
    """Liquid [m³] that each wet port can draw out of its own pool, down to its edge, at attitudes (A, 3).

    The least of the ways straight, by pitch first and by roll first, from the tank as filled with
    ``conditions.least``. What walls and sills keep back is not counted, nor what a flap or a balance
    pipe lets follow. Negative where the edge is above the surface. Also the port (A,) that gives out
    first, a column of ``conditions.ports``; zeros and -1 where no port must stay wet.
    """
    tank, columns = conditions.tank, conditions.columns(wet=True)
    if not columns:
        return np.zeros(len(up)), np.full(len(up), -1, np.int64)
    start = Start.of(tank, conditions.tank_ports)
    places = [tank.seated(conditions.ports[column].position) for column in columns]
    flat = np.broadcast_to(_LEVEL, up.shape)
    half = (up, half_way(PITCH_FIRST, up), half_way(ROLL_FIRST, up))
    paths = np.concatenate([np.stack([flat, middle, up], axis=1) for middle in half])
    found = settle(
        tank.graph,
        paths,
        conditions.least,
        places,
        links=tank.link_stations,
        poured_at=start.poured_at,
    )
    usable = np.full((len(paths), len(conditions.ports)), np.nan)
    ends = np.tile(up, (len(half), 1))
    for q, column in enumerate(columns):
        level, edge = found.port_level[:, -1, q], conditions.edge(column, ends)
        usable[:, column] = draw_down(tank.graph, ends, places[q], level, edge)
    each, port = conditions.group_margins(usable)
    worst = each.reshape(len(half), len(up)).argmin(axis=0)
    pick = worst * len(up) + np.arange(len(up))
    return each[pick], port[pick].astype(np.int64)
