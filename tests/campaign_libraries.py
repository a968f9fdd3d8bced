"""A thousand random planes on each tank against three libraries; run by hand, prints a table.

    python tests/campaign_libraries.py [planes]

The suite runs a small sample of the same in tests/test_against_libraries.py.
"""

import sys

import numpy as np
from library_cuts import AGREE, PEERS, compare_cuts, random_planes
from tanks import LIBRARY, tank


def main(count: int) -> int:
    """Print a row for each tank, then each peer's misses; 1 where we differ from two that agree."""
    print(f"{'tank':20} faces settled  ours worst  " + "  ".join(f"{n:>10}" for n in PEERS))
    wrong, misses = 0, []
    for seed, name in enumerate(LIBRARY):
        mesh = tank(name)
        errors = compare_cuts(mesh, count, seed)
        up, height = random_planes(mesh, count, seed)
        settled = errors["settled"] > 0
        ours = errors["ours"][settled]
        wrong += int((ours > AGREE).sum())
        row = f"{name:20} {len(mesh.faces):5} {int(settled.sum()):7}  {np.max(ours):10.1e}"
        for peer in PEERS:
            lost = np.flatnonzero(settled & ~(errors[peer] <= AGREE))
            row += f"  {len(lost):5} fail"
            if len(lost):
                k = lost[np.argmax(np.nan_to_num(errors[peer][lost], nan=np.inf))]
                plane = f"up ({up[k, 0]:.6f}, {up[k, 1]:.6f}, {up[k, 2]:.6f}) at {height[k]:.6f} m"
                misses.append(
                    f"{name}, {peer}: {len(lost)} planes, worst {errors[peer][k]:.1e} of the tank, {plane}"
                )
        print(row, flush=True)
    print("\n".join(misses))
    print(f"planes where this library is off by more than {AGREE:g} of the tank: {wrong}")
    return int(wrong > 0)


if __name__ == "__main__":
    sys.exit(main(int(sys.argv[1]) if len(sys.argv) > 1 else 1000))
