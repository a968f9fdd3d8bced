"""Ten thousand points inside the zone of each of ten tanks, as many outside, and the best places.

    python tests/campaign_zone.py [points per tank]

Each point inside must keep the rule at its worst required attitude, each point of the tank that is
farther outside than the zone's gap must lose it at one, and the best place must have more margin
than any of as many random points of the tank. Half of the points are drawn within ten gaps of the
zone's faces. How it is judged: ``zone_attack``.
"""

import sys

import numpy as np
from zone_attack import TEN, attack_best, attack_zone

GAP = 1e-3  # m


def main(count: int) -> int:
    """Print a row for each tank; 1 where any point or best place is wrong."""
    print(f"zones with a gap of {1000 * GAP:g} mm; margins in mm")
    print(
        f"{'tank':15} inside  wrong  least margin  outside  wrong  greatest margin"
        "  best place  bounded  best rival  wrong"
    )
    wrong = 0
    for seed, (name, case) in enumerate(TEN.items()):
        rng = np.random.default_rng(seed)
        zone, best = attack_zone(case, GAP, count, rng), attack_best(case, count, rng)
        wrong += zone.wrong_inside + zone.wrong_outside + best.wrong
        print(
            f"{name:15} {zone.inside:6}  {zone.wrong_inside:5}  {1000 * zone.least_inside:12.4f}"
            f"  {zone.outside:7}  {zone.wrong_outside:5}  {1000 * zone.greatest_outside:15.5f}"
            f"  {1000 * best.margin:10.4f}  {1000 * best.bound:7.3f}  {1000 * best.rival:10.4f}"
            f"  {best.wrong:5}",
            flush=True,
        )
    print(f"{len(TEN)} tanks, {count} points inside, outside and as rivals each: {wrong} wrong")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 10_000))
