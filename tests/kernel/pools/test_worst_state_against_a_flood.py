"""Least and most fills by the merge tree against one flood in plain numpy, in random walled tanks."""

import numpy as np
import pytest
from oracle_any_route import need as flooded_need
from oracle_any_route import room as flooded_room
from random_walled_tanks import random_tank

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.worst_state import need, room

SAME = 1e-9  # of the tank's capacity
ROUNDED = 3e-7  # where a height comes from a drop on the kernel's grid, or heights tie
TANKS = 20


def places_in(tank, rng, count):
    places = rng.uniform(tank.lower, tank.upper, (40 * count, 3))
    return places[tank.winding(places) > 0.5][:count]


def gaps(seeds, each, ups_of, near=0.0):
    """Greatest differences (least fill, most fill) as shares of the capacity, and how many were compared."""
    worst, count = np.zeros(2), 0
    for seed in seeds:
        tank, _ = random_tank(seed)
        rng = np.random.default_rng((30, seed))
        for up in ups_of(rng, each):
            off = up + near * rng.normal(size=3)
            off /= np.linalg.norm(off)
            places = places_in(tank, rng, int(rng.integers(1, 3)))
            edges = places @ up + rng.exponential(0.02, len(places)) * (rng.random() < 0.7)
            least = need(tank.graph, up[None], places, edges[None], tank.link_stations)[0]
            wanted = flooded_need(tank, off, list(zip(places, edges, strict=True)))
            worst[0] = max(worst[0], abs(least - wanted) / tank.capacity)
            one, edge = places[:1], edges[:1]
            most = room(tank.graph, up[None], one, edge[None], tank.link_stations)[0]
            least_room, most_room = (
                flooded_room(tank, off, one[0], edge[0] + s * 10 * near) for s in (-1, 1)
            )
            out = max(least_room - most, most - most_room, 0.0)  # room jumps at saddles
            worst[1] = max(worst[1], out / tank.capacity)
            count += 1
    return worst, count


def anywhere(rng, count):
    return up_from_slope_heading(
        np.radians(rng.uniform(0.0, 80.0, count)), rng.uniform(0.0, 2.0 * np.pi, count)
    )


def along_walls(rng, count):
    """Level, and tilts about one axis of the tank: every height ties with another."""
    slope = np.radians(rng.choice([0.0, 5.0, 15.0, 30.0, 45.0], count))
    return up_from_slope_heading(slope, 0.5 * np.pi * rng.integers(0, 4, count))


def test_anywhere_both_agree():
    (least, most), count = gaps(range(TANKS), 10, anywhere)
    assert count == 10 * TANKS
    assert least < SAME
    assert most < SAME


@pytest.mark.parametrize("first", [100])
def test_where_heights_tie_both_agree(first):
    """The flood does not tell ties apart, so it looks from a hair aside."""
    (least, most), _ = gaps(range(first, first + TANKS), 5, along_walls, near=1e-9)
    assert least < ROUNDED
    assert most < ROUNDED
