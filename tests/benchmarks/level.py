"""Passes over the tree that a level takes: ``python tests/benchmarks/level.py``.

On the demo tank: cold at 2,000 random attitudes to 60 degrees, and along sweeps of
one degree in slope and in heading. Counts do not depend on the machine; the last column does.
"""

import time

import numpy as np
from capacity import DEMO

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.capacity.level import levels_along
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.project.load import load

SHARES = (0.5, 0.1, 0.01, 1e-4, 1e-6)


def cold_paths() -> np.ndarray:
    rng = np.random.default_rng(3)
    slope = np.radians(60.0 * np.sqrt(rng.random(2000)))
    return up_from_slope_heading(slope, 2.0 * np.pi * rng.random(2000))[:, None, :]


def warm_paths() -> np.ndarray:
    """Slopes 0 to 60 at 36 headings, and all headings at 36 slopes, in steps of one degree."""
    slopes, headings = np.radians(np.arange(0.0, 60.5)), np.radians(np.arange(0.0, 360.0, 10.0))
    out = up_from_slope_heading(slopes[None, :], headings[:, None])
    around = np.radians(np.arange(0.0, 360.5)).reshape(1, -1)[:, :61]
    slant = np.radians(np.linspace(1.0, 60.0, 36))[:, None]
    return np.concatenate([out, up_from_slope_heading(slant + 0.0 * around, around)])


def main() -> None:
    tree = load(DEMO).tank.tree
    capacity = tree.flux[0, 5]
    print(
        f"{len(tree.order):,} faces; passes with the confirming one; residual of the volume wanted"
    )
    for name, paths, skip in (("cold", cold_paths(), 0), ("1 degree sweep", warm_paths(), 1)):
        levels_along(tree, paths, 0.5 * capacity)  # compiles
        for share in SHARES:
            start = time.perf_counter()
            height, passes = levels_along(tree, paths, share * capacity)
            spent = (time.perf_counter() - start) / passes.size
            found = volumes(tree, paths.reshape(-1, 3), height.ravel())[0]
            off = np.abs(found / (share * capacity) - 1.0).max()
            counted = passes[:, skip:]  # the first step of a sweep has no neighbour
            print(
                f"{name:>15} {100 * share:>8g} % full: {counted.mean():.2f} passes, worst "
                f"{counted.max()}, residual {off:.0e}, {1e6 * spent:.1f} us a level"
            )


if __name__ == "__main__":
    main()
