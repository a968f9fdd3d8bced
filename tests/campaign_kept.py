"""Drives with the pump off inside what walls keep for certain: a port that comes bare is a fault.

Run: PYTHONPATH=.:cli:tests python tests/campaign_kept.py --tanks 200
Random tanks of two or three bays behind weirs, notched and along or across; the port in a bay of its own.
"""

import argparse
import math
import sys
from typing import NamedTuple

import numpy as np

from tanksolve.errors import TanksolveError
from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.baffles import Baffle, notch
from tanksolve.geometry.bays import bays_of
from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.pools.settle import settle
from tanksolve.model.bays import Bays
from tanksolve.model.ports import Port, pickup
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions
from tanksolve.state.kept import Kept, kept_out_to

__all__ = ["Drives", "bay_case", "drives_within"]

_SAME = 1e-7  # m


class Drives(NamedTuple):
    """Attitudes driven through, and those at which the port was bare."""

    attitudes: int
    bare: int


def bay_case(seed: int) -> tuple[Tank, Bays, Port, float]:
    """A tank of two or three bays, a port in one of them, and a fill [m³]. Drafts that fail are redrawn."""
    rng = np.random.default_rng((31, seed))
    while True:
        size = rng.uniform(0.4, 1.0), rng.uniform(0.25, 0.5), rng.uniform(0.25, 0.4)
        across = rng.random() < 0.7
        run, wide = (size[0], size[1]) if across else (size[1], size[0])
        places = np.sort(rng.uniform(0.2, 0.8, rng.integers(1, 3))) * run
        plates = []
        for k, at in enumerate(places):
            crest = rng.uniform(0.35, 0.8) * size[2]
            cuts = ()
            if rng.random() < 0.4:
                cuts = (notch("top", rng.uniform(0.2, 0.8) * wide, 0.05, rng.uniform(0.01, 0.05)),)
            stands = "across" if across else "along"
            gaps = {"top": size[2] - crest}
            plates.append(Baffle(f"plate {k}", stands, float(at), 0.004, cuts=cuts, gaps=gaps))
        x, y = rng.uniform(0.03, size[0] - 0.03), rng.uniform(0.03, size[1] - 0.03)
        port = pickup("p", (float(x), float(y), float(rng.uniform(0.01, 0.05))), cover=0.0)
        try:
            parts = Parts(box(*size), baffles=tuple(plates))
            tank = build(parts)
            tank.check_ports([port])
            return tank, bays_of(parts), port, float(rng.uniform(0.25, 0.6)) * tank.capacity
        except TanksolveError:
            continue


def drives_within(
    tank: Tank, port: Port, fill: float, slope_deg: float, count: int, seed: int
) -> Drives:
    """Random drives that keep to a slope: half their stops at its rim. All bays begin at one level."""
    rng = np.random.default_rng((32, seed))
    inside = math.radians(slope_deg)
    slopes = inside * np.where(rng.random((count, 8)) < 0.5, 1.0, np.sqrt(rng.random((count, 8))))
    ups = up_from_slope_heading(slopes, rng.uniform(0.0, 2.0 * math.pi, (count, 8)))
    level = np.broadcast_to([0.0, 0.0, 1.0], (count, 1, 3))
    paths = np.concatenate([level, ups], axis=1)
    states = settle(tank.graph, paths, fill, [tank.seated(port.position)], max_step=0.02)
    over = states.port_level[..., 0] - paths @ np.array(port.position)
    return Drives(over.size, int((~(over >= -_SAME)).sum()))


def kept_of(seed: int) -> tuple[Tank, Port, float, Kept | None]:
    """The case of a seed and what walls keep in it."""
    tank, bays, port, fill = bay_case(seed)
    conditions = Conditions.of(tank, [port], fill)
    return tank, port, fill, kept_out_to(conditions, bays, math.radians(60.0))


def main(arguments: list[str] | None = None) -> int:
    """Print the tally; 1 where any port came bare inside what is told."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--tanks", type=int, default=200)
    parser.add_argument("--drives", type=int, default=40, help="of each tank")
    parser.add_argument("--seed", type=int, default=0, help="of the first tank")
    parser.add_argument(
        "--steeper", type=float, default=1.0, help="times the slope told: to see it fail"
    )
    args = parser.parse_args(arguments)
    known = attitudes = bare = 0
    for seed in range(args.seed, args.seed + args.tanks):
        tank, port, fill, kept = kept_of(seed)
        if kept is None or kept.slope_deg < 0.5:
            continue
        found = drives_within(tank, port, fill, args.steeper * kept.slope_deg, args.drives, seed)
        known, attitudes, bare = known + 1, attitudes + found.attitudes, bare + found.bare
        if found.bare:
            print(
                f"{seed}: {found.bare} bare of {found.attitudes} within {kept.slope_deg:.2f} deg",
                flush=True,
            )
    print(
        f"{attitudes} attitudes in {known} of {args.tanks} tanks in which walls keep something, {bare} bare"
    )
    return int(bare > 0)


if __name__ == "__main__":
    sys.exit(main())
