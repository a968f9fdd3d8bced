"""Compare pools with the oracle on many random planes: ``python -m tests.campaign_pools [planes]``.

Directions are random, near upright, along the axes and at 45 degrees; the tank itself is also
turned, so that level floors and edge-on walls are level only to rounding. Exit 1 on a mismatch.
"""

import sys
import time
from collections.abc import Iterator

import numpy as np

from tanksolve.kernel.pools.pool_volume import pools_below
from tanksolve.kernel.topology.mesh_graph import MeshGraph, build_graph
from tests.oracle_pools import pool_volumes
from tests.pool_tanks import TANKS, Solid, arrays

LEAST = 1e-9  # of the tank's volume: smaller pools are not compared
Plane = tuple[np.ndarray, float]


def special_directions() -> np.ndarray:
    """The 6 axes, 12 edge and 8 corner directions of a cube, and 12 at 30 degrees."""
    steps = np.array(np.meshgrid(*[[-1, 0, 1]] * 3)).reshape(3, -1).T.astype(float)
    found = [s for s in steps if s.any()]
    sine, cosine = 0.5, np.sqrt(0.75)
    for a, b in ((0, 1), (1, 2), (2, 0)):
        for sign in (1, -1):
            for p, q in ((sine, cosine), (cosine, sine)):
                s = np.zeros(3)
                s[a], s[b] = sign * p, q
                found.append(s)
    return np.array([s / np.linalg.norm(s) for s in found])


def draw_planes(
    solid: Solid, count: int, random: np.random.Generator, turn: np.ndarray
) -> Iterator[Plane]:
    """Planes through a tank whose axes are the columns of ``turn``."""
    vertices, _ = arrays(solid)
    size = np.ptp(vertices, axis=0).max()
    special = special_directions()
    for n in range(count):
        if n % 2:
            up = turn @ special[random.integers(len(special))]
        else:
            up = random.normal(size=3) * (1.0 if n % 4 else np.array([0.5, 0.5, 1.0]))
        up = up / np.linalg.norm(up)
        z = vertices @ up
        if random.random() < 0.3:  # just above or below a vertex, where pools start and join
            height = z[random.integers(len(z))] + random.choice([-1, 1]) * 1e-5 * size
        else:
            height = z.min() + random.beta(1.0, 2.0) * np.ptp(z)  # most pools lie low
        yield up, float(height)


def difference(solid: Solid, graph: MeshGraph, plane: Plane) -> tuple[float, int, str]:
    """Greatest difference of pool volumes as a share of the tank, the number of pools, and words."""
    up, height = plane
    whole = solid.volume()
    wanted = pool_volumes(solid, up, height, LEAST * whole)
    pools = pools_below(graph, up, height)
    found = np.sort(pools.volume[0][pools.volume[0] > LEAST * whole])[::-1]
    words = f"up {up.tolist()} height {height!r}: found {found / whole}, oracle {wanted / whole}"
    # a pool about as small as the limit may be in one list only
    return greatest_gap(found, wanted) / whole, len(wanted), words


def greatest_gap(found: np.ndarray, wanted: np.ndarray) -> float:
    """Greatest difference of two falling lists of volumes, the shorter one filled up with noughts."""
    size = max(len(found), len(wanted))
    a, b = np.zeros(size), np.zeros(size)
    a[: len(found)], b[: len(wanted)] = found, wanted
    return float(np.abs(a - b).max(initial=0.0))


def tanks_both_ways(
    random: np.random.Generator,
) -> Iterator[tuple[str, Solid, MeshGraph, np.ndarray]]:
    """All tanks as they stand and turned at random; the last are their axes, as columns."""
    for name, make in TANKS.items():
        for turned in (False, True):
            solid, turn = make(), np.eye(3)
            if turned:
                turn = np.linalg.qr(random.normal(size=(3, 3)))[0]
                turn *= np.sign(np.linalg.det(turn))
                solid = solid.transform(np.hstack([turn, random.uniform(-3, 3, (3, 1))]))
            yield f"{name}{', turned' if turned else ''}", solid, build_graph(*arrays(solid)), turn


def cases(planes: int, seed: int) -> Iterator[tuple[str, Solid, MeshGraph, Plane]]:
    """``planes`` planes in all through the tanks."""
    random = np.random.default_rng(seed)
    each = -(-planes // (2 * len(TANKS)))
    for name, solid, graph, turn in tanks_both_ways(random):
        for plane in draw_planes(solid, each, random, turn):
            yield name, solid, graph, plane


def main() -> int:
    planes = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    start, worst, wrong, count, several = time.time(), 0.0, 0, 0, 0
    for name, solid, graph, plane in cases(planes, seed=1):
        gap, pools, words = difference(solid, graph, plane)
        count += 1
        several += pools > 1
        worst = max(worst, gap)
        if gap > 1e-9:
            wrong += 1
            print(f"MISMATCH {name}: {words}", flush=True)
    print(
        f"{count} planes ({several} with several pools) in {len(TANKS)} tanks: {wrong} mismatches "
        f"above 1e-9 of the tank's volume, worst {worst:.1e}, {time.time() - start:.0f} s"
    )
    return 1 if wrong else 0


if __name__ == "__main__":
    raise SystemExit(main())
