"""A tank of up to 3 million faces, inspected and one envelope: ``python tests/benchmarks/bench_big_mesh.py``.

Makes wavy rounded boxes as binary STL (the largest 150 MB) in a temporary folder and runs the
commands on them, in processes of their own after one run that fills the cache. States time as a multiple
of loading the same file with trimesh in the same run (``trimesh.load_mesh``, a process too), the peak of
memory as a multiple of the file, and how both grow. Needs 2 GB of memory; a few minutes. Let
nothing else run meanwhile. ``--faces 50000,200000`` for less.
"""

import argparse
import math
import os
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np

ROOT = Path(__file__).resolve().parents[2]
COMMAND = [sys.executable, "-m", "tanksolve_cli"]
MESH = ["--unit", "mm", "--forward", "+x", "--up", "+z"]
# The pickup stands off the middle, so the limits lie within the search at half of the headings.
QUESTION = ["--fill", "60L", "--pickup", "suction=-100,0,-100mm,bore=38mm"]
LOAD = "import sys, trimesh; trimesh.load_mesh(sys.argv[1])"


def wavy_corners(faces: int) -> np.ndarray:
    """Corners (F, 3, 3) [mm] of a closed, non-convex rounded box of about ``faces`` faces."""
    n = round(math.sqrt(faces / 12.0))
    at = np.tan(np.linspace(-np.pi / 4, np.pi / 4, n + 1))
    a, b = np.meshgrid(at, at, indexing="ij")
    i, j = np.meshgrid(np.arange(n), np.arange(n), indexing="ij")
    p = (i * (n + 1) + j).ravel()
    quads = np.stack([p, p + n + 1, p + n + 2, p + 1], axis=-1)
    triangles = np.concatenate([quads[:, [0, 1, 2]], quads[:, [0, 2, 3]]])
    sides = []
    for axis in range(3):
        for sign in (1.0, -1.0):
            cube = np.empty((len(a.ravel()), 3))
            cube[:, axis] = sign
            cube[:, (axis + 1) % 3] = (sign * a).ravel()
            cube[:, (axis + 2) % 3] = b.ravel()
            # rounded first, so that corners on the edge of two sides are equal to the last bit
            way = np.round(cube / np.linalg.norm(cube, axis=1)[:, None], 12)
            x = way / (way**4).sum(axis=1)[:, None] ** 0.25
            wave = np.cos(9 * x[:, 0] + 1) * np.cos(7 * x[:, 1]) * np.cos(5 * x[:, 2] + 0.5)
            sides.append((x * (1 + 0.02 * wave[:, None]) * [450.0, 200.0, 150.0])[triangles])
    return np.concatenate(sides)


def write_stl(path: Path, faces: int) -> int:
    from tanksolve.geometry.stl import stl_bytes

    corners = wavy_corners(faces)
    path.write_bytes(stl_bytes(corners))
    return len(corners)


def cost(words: list[str]) -> tuple[float, float]:
    """Seconds and peak bytes of a process."""
    with tempfile.TemporaryFile() as out:
        start = time.perf_counter()
        child = subprocess.Popen(words, stdout=out, stderr=out)
        _, status, used = os.wait4(child.pid, 0)
        spent = time.perf_counter() - start
        if status:
            out.seek(0)
            raise RuntimeError(out.read().decode())
    return spent, 1024.0 * used.ru_maxrss


def growth(sizes: list[int], spent: list[float]) -> str:
    """Exponent of a power law through the last two sizes."""
    if len(sizes) < 2:
        return "-"
    return f"F^{math.log(spent[-1] / spent[-2]) / math.log(sizes[-1] / sizes[-2]):.2f}"


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--faces", default="50000,200000,800000,3000000")
    wanted = [int(words) for words in parser.parse_args().faces.split(",")]
    print("one process each; times as multiples of trimesh.load_mesh on the same file")
    sizes, spent = [], {"trimesh": [], "inspect": [], "envelope": []}
    with tempfile.TemporaryDirectory() as name:
        for faces in [5000, *wanted]:
            path = Path(name) / "wavy.stl"
            count = write_stl(path, faces)
            found = {
                "trimesh": cost([sys.executable, "-c", LOAD, str(path)]),
                "inspect": cost([*COMMAND, "inspect", str(path), *MESH]),
                "envelope": cost([*COMMAND, "envelope", str(path), *MESH, *QUESTION]),
            }
            if faces == 5000:  # this one filled the cache of compiled code
                continue
            sizes.append(count)
            size, load = path.stat().st_size, found["trimesh"][0]
            for what, (seconds, peak) in found.items():
                spent[what].append(seconds)
                print(
                    f"{count:>9,} faces, {size / 2**20:5.1f} MiB  {what:8}  {seconds:7.2f} s = "
                    f"{seconds / load:6.2f} x load;  peak {peak / 2**20:6.0f} MiB = "
                    f"{peak / size:5.1f} x file;  grows as {growth(sizes, spent[what])}",
                    flush=True,
                )
            path.unlink()


if __name__ == "__main__":
    main()
