"""Replay of long logs: rows per second against a plain loop, and memory at 1 and 10 million rows.

Run by hand: ``python tests/benchmarks/bench_replay.py`` (some minutes; writes 230 MB beside itself
and removes it). Prints ratios within one run, not promises. Peak memory is that of a process of its
own for each log.
"""

import resource
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.ports import breather, pickup
from tanksolve.questions.replay.replay import replay

FILL = 0.042
PORTS = (
    pickup("suction", (0.15, 0.15, 0.04), bore=0.0254, facing="down"),
    breather("vent", (0.45, 0.15, 0.29), bore=0.01, facing="down"),
)


def readings(first: int, count: int, noise: np.random.Generator) -> np.ndarray:
    """Time [s], pitch and roll [°] of a machine on rolling ground, 10 rows a second."""
    t = 0.1 * (first + np.arange(count))
    pitch = 12 * np.sin(t / 47) + 8 * np.sin(t / 3.1) + noise.normal(0, 0.4, count)
    roll = 9 * np.sin(t / 33) + 5 * np.sin(t / 2.3 + 1) + noise.normal(0, 0.4, count)
    return np.stack([t, pitch, roll], axis=1)


def write_log(path: Path, rows: int) -> None:
    noise = np.random.default_rng(3)
    with path.open("w") as file:
        file.write("time_s,pitch_deg,roll_deg\n")
        for first in range(0, rows, 200_000):
            some = readings(first, min(200_000, rows - first), noise)
            file.writelines(f"{t:.1f},{p:.2f},{r:.2f}\n" for t, p, r in some.tolist())


def run_one(path: Path) -> None:
    """Replay one log in this process, once warm, and print its figures."""
    tank = box(0.9, 0.3, 0.3)
    warm = path.with_suffix(".warm.csv")
    write_log(warm, 1000)
    replay(tank, PORTS, FILL, warm)
    begun = time.perf_counter()
    result = replay(tank, PORTS, FILL, path)
    seconds = time.perf_counter() - begun
    up = up_from_inclinometer(*np.radians(readings(0, 3000, np.random.default_rng(3))[:, 1:]).T)
    begun = time.perf_counter()
    for k in range(len(up)):
        levels(tank.tree, up[k : k + 1], FILL)
    loop = len(up) / (time.perf_counter() - begun)
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    rate = result.rows / seconds
    print(
        f"{result.rows} rows: {rate / 1e6:.2f} million rows/s, {rate / loop:.0f} x a plain loop"
        f" ({loop:.0f} rows/s), peak {peak:.0f} MB, {result.solved_rows} rows and"
        f" {result.solved_nodes} nodes solved"
    )


def main() -> None:
    with tempfile.TemporaryDirectory() as folder:
        for rows in (1_000_000, 10_000_000):
            path = Path(folder) / f"{rows}.csv"
            write_log(path, rows)
            subprocess.run([sys.executable, __file__, str(path)], check=True)


if __name__ == "__main__":
    run_one(Path(sys.argv[1])) if len(sys.argv) > 1 else main()
