"""What a port placed anywhere would meet where walls part the liquid: pools at required attitudes."""

from collections.abc import Sequence
from typing import Any, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.cells import half_spaces
from tanksolve.kernel.pools.pool_lookup import States, states_of
from tanksolve.kernel.pools.settle import settle
from tanksolve.model.requirement import Requirement
from tanksolve.progress import tell
from tanksolve.questions.place.points import Opening
from tanksolve.state.required_ways import FINE, Fineness, required_ways
from tanksolve.state.ways import Start

Array = NDArray[np.float64]

__all__ = ["Judged", "half_spaces_of", "joined_states", "judged"]

_SAME = 1e9  # states that agree to a nanometre are one


class Judged(NamedTuple):
    """Places against the pools they stand in or over, at every sample of the required attitudes.

    states : S samples, alike ones once; worst : (T,) [m] least margin of each place; at : (T,) the
    sample it is from; way : its way; attitudes : required attitudes judged, each way counted.
    """

    states: States
    worst: Array
    at: States
    way: tuple[str, ...]
    attitudes: int


def half_spaces_of(opening: Opening, up: Array, level: Array) -> tuple[Array, Array]:
    """Where the opening keeps its rule against levels (S, K) [m] at ``up`` (S, 3).

    Returns normals (S, K, 3) and offsets (S, K): ``normal · p <= offset``; NaN where level is.
    """
    states, most = level.shape
    flat = np.repeat(up, most, axis=0)
    lower, upper = opening.tank.lower, opening.tank.upper
    normals, offsets = half_spaces(
        lower, upper, opening.discs, opening.cover, flat, flat[:, None], level.ravel(),
        dry=opening.dry,
    )  # fmt: skip
    return normals.reshape(states, most, 3), offsets.reshape(states, most)


def judged(
    opening: Opening,
    requirement: Requirement,
    start: Start,
    places: Sequence[Array],
    fineness: Fineness = FINE,
) -> Judged:
    """Settle the liquid along ways to a sample of the required attitudes, and judge places (T, 3)."""
    tank, at = opening.tank, np.reshape(places, (-1, 3))
    dropped = np.reshape([tank.seated(place) for place in places], (-1, 3))
    worst, states, count = np.full(len(at), np.inf), [], 0
    row_of, way = [-1] * len(at), [""] * len(at)
    for ways in required_ways(requirement, fineness):
        found = settle(
            tank.graph,
            ways.paths,
            opening.volume,
            dropped,
            links=tank.link_stations,
            poured_at=start.poured_at,
        )
        up, rows = ways.paths[ways.required], np.nonzero(ways.required)[0]
        normals, offsets = half_spaces_of(opening, up, found.port_level[ways.required])
        states.append(states_of(tank.graph, ways.paths, found, ways.required))
        margin = offsets - np.einsum("stx,tx->st", normals, at)
        margin[np.isnan(margin)] = -np.inf  # over nothing: never to be read as held
        for t in range(len(at)):
            row = int(np.argmin(margin[:, t]))
            if margin[row, t] < worst[t]:
                worst[t], row_of[t], way[t] = margin[row, t], count + row, ways.names[rows[row]]
        count += len(up)
        tell(f"carrying liquid from pool to pool, {count:,} required attitudes so far")
    joined = _stacked(states)
    sets_it = joined.at(np.array(row_of, np.int64))
    return Judged(_distinct(joined), worst, sets_it, tuple(way), count)


def joined_states(parts: list[States]) -> States:
    """All states of several sets, alike ones once."""
    return _distinct(_stacked(parts))


def _stacked(parts: list[States]) -> States:
    most = max(part.pit.shape[1] for part in parts)

    def padded(table: NDArray[Any], fill: float) -> NDArray[Any]:
        return np.pad(table, ((0, 0), (0, most - table.shape[1])), constant_values=fill)

    return States(
        np.concatenate([part.up for part in parts]),
        np.concatenate([padded(part.pit, -1) for part in parts]),
        np.concatenate([padded(part.level, np.nan) for part in parts]),
    )


def _distinct(states: States) -> States:
    """The states without those that agree with another in attitude, pits and levels."""
    key = np.hstack([states.up, np.nan_to_num(states.level, nan=-1.0)])
    key = np.hstack([np.round(_SAME * key), states.pit])
    return states.at(np.sort(np.unique(key, axis=0, return_index=True)[1]))
