"""Compare bodies of air with the oracle on many settled states: ``python -m tests.campaign_air [states]``.

Liquid is carried along random paths, so that pools stand at levels of their own; half of the
attitudes are along the axes, at 30 or at 45 degrees, and half of the tanks are turned. Exit 1 on
a mismatch.
"""

import sys
import time
from collections.abc import Iterator

import numpy as np

from tanksolve.kernel.pools.air import air_bodies
from tanksolve.kernel.pools.settle import settle
from tanksolve.kernel.topology.mesh_graph import MeshGraph
from tests.campaign_pools import greatest_gap, special_directions, tanks_both_ways
from tests.oracle_air import air_volumes
from tests.pool_tanks import TANKS, Solid, arrays

LEAST = 1e-7  # of the tank's volume: smaller bodies are not compared
State = tuple[np.ndarray, np.ndarray, np.ndarray, float]  # up, pits, levels, liquid


def draw_state(graph: MeshGraph, random: np.random.Generator, turn: np.ndarray) -> State:
    """Settle a random fill along a random path in a tank whose axes are the columns of ``turn``."""
    special = special_directions()
    ways = random.normal(size=(3, 3)) * np.array([0.6, 0.6, 1.0])
    if random.random() < 0.5:
        ways[-1] = special[random.integers(len(special))]
    path = ways @ turn.T
    path /= np.linalg.norm(path, axis=1, keepdims=True)
    volume = random.uniform(0.02, 0.98) * graph.capacity
    found = settle(graph, path, volume)
    number = found.number[0, -1]
    return path[-1], found.pit[0, -1, :number], found.level[0, -1, :number], volume


def cases(states: int, seed: int) -> Iterator[tuple[str, Solid, MeshGraph, State]]:
    """``states`` states in all of the tanks as they stand and turned at random."""
    random = np.random.default_rng(seed)
    each = -(-states // (2 * len(TANKS)))
    for name, solid, graph, turn in tanks_both_ways(random):
        for _ in range(each):
            yield name, solid, graph, draw_state(graph, random, turn)


def difference(solid: Solid, graph: MeshGraph, state: State) -> tuple[float, int, str]:
    """Greatest difference of volumes as a share of the tank, the number of bodies, and words."""
    up, pits, level, _ = state
    whole = solid.volume()
    corners = arrays(solid)[0]
    wanted = air_volumes(solid, up, corners[pits], level, LEAST * whole)
    bodies = air_bodies(graph, up, pits, level)
    found = bodies.volume[bodies.volume > LEAST * whole]
    words = (
        f"up {up.tolist()} pits {pits.tolist()} levels {level.tolist()}: found {found / whole}, "
        f"oracle {wanted / whole}"
    )
    return greatest_gap(found, wanted) / whole, len(wanted), words


def main() -> int:
    states = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    start, worst, wrong, count, several, levels = time.time(), 0.0, 0, 0, 0, 0
    for name, solid, graph, state in cases(states, seed=1):
        gap, bodies, words = difference(solid, graph, state)
        count += 1
        several += bodies > 1
        levels += len(state[1]) > 1
        worst = max(worst, gap)
        if gap > 1e-9:
            wrong += 1
            print(f"MISMATCH {name}: {words}", flush=True)
    print(
        f"{count} states ({levels} with several pools, {several} with several bodies of air) in "
        f"{len(TANKS)} tanks: {wrong} mismatches above 1e-9 of the tank's volume, worst "
        f"{worst:.1e}, {time.time() - start:.0f} s"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
