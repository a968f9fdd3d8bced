"""Marks and place on the demo tank without its baffles, as multiples of one capacity batch.

Run by hand: ``python tests/benchmarks/bench_designer.py``. Prints ratios within one run.
"""

import math
import time
from dataclasses import replace

import numpy as np

from tanksolve.geometry.assemble import Parts, build
from tanksolve.geometry.parts import box
from tanksolve.geometry.sumps import round_sump
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.questions.marks.marks import marks
from tanksolve.questions.place.place import place

SUMP = round_sump("sump", (0.15, 0.15), 0.11, 0.045, bottom_diameter=0.08)
NEED = Requirement.every_heading(math.radians(20))
PICKUP = pickup("middle pickup", (0.45, 0.15, 0.04), bore=0.032, facing="down", cover=0.03)
CAP = breather("breather", (0.45, 0.23, 0.3), bore=0.02)


def best_of(count, action):
    spent = []
    for _ in range(count):
        begun = time.perf_counter()
        result = action()
        spent.append(time.perf_counter() - begun)
    return min(spent), result


def main() -> None:
    tank = build(Parts(box(0.9, 0.3, 0.3), sumps=(SUMP,)))
    rng = np.random.default_rng(1)
    up = rng.normal(size=(10_000, 3))
    up /= np.linalg.norm(up, axis=1, keepdims=True)
    low, high = tank.height_range(up)
    planes = low + rng.random(len(up)) * (high - low)
    volumes(tank.tree, up, planes)
    batch, _ = best_of(5, lambda: volumes(tank.tree, up, planes))
    print(f"{len(tank.faces)} faces: 10,000 planes in {1000 * batch:.1f} ms")
    marked, found = best_of(3, lambda: marks(tank, [PICKUP, CAP], NEED))
    print(
        f"marks, 0.1 mm: {marked:.3f} s, {marked / batch:.1f} batches, {found.limits.evaluations} attitudes"
    )
    for port in (PICKUP, replace(CAP, cover=0.02)):
        spent, zone = best_of(2, lambda port=port: place(tank, port, 0.042, NEED))
        print(
            f"place {port.name}, 0.1°: {spent:.2f} s, {spent / batch:.0f} batches, "
            f"{zone.evaluations} attitudes, zone {1000 * zone.zone_volume_m3:.2f} L"
        )


if __name__ == "__main__":
    main()
