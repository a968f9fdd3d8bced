"""Bays with the pump running: 300 random networks against a solver written apart, and limits against networks.

``PYTHONPATH=.:cli:tests python tests/campaign_networks.py [networks] [tanks]``; about two minutes of
processor time each for 300 and 60. The first part holds levels to 1 mm, flows to 1 %, the sum of all bays to
1e-9 m³ (``net_by_hand``); the second takes the steepest held attitudes of random tanks and sees that no
pickup falls below its edge, from uneven starts (``running_by_hand``). Prints what was not so.
"""

import sys
import time
from collections import Counter

import numpy as np
from net_by_hand import Net, compare
from running_by_hand import try_tank


def main(networks: int, tanks: int) -> None:
    begun, seen = time.process_time(), Counter()
    for seed in range(networks):
        rng = np.random.default_rng(1000 + seed)
        try:
            seen[compare(Net(rng), rng)] += 1
        except AssertionError as error:
            seen["different"] += 1
            print("network", seed, error)
    print(f"{networks} networks: {dict(seen)}; {time.process_time() - begun:.0f} s")
    begun, tried, least = time.process_time(), 0, np.inf
    for seed in range(tanks):
        count, over = try_tank(np.random.default_rng(seed))
        tried, least = tried + count, min(least, over)
        if over < 0.0:
            print("tank", seed, "is held, and a pickup stands", over, "m over its edge")
    print(
        f"{tanks} tanks, {tried} networks at held attitudes: a pickup stands {1000 * least:.2f} mm over its edge "
        f"or more; "
        f"{time.process_time() - begun:.0f} s"
    )


if __name__ == "__main__":
    main(*(int(sys.argv[k]) if len(sys.argv) > k else n for k, n in ((1, 300), (2, 60))))
