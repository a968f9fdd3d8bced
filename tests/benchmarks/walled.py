"""What limits of walled tanks cost: ``python tests/benchmarks/walled.py [--most FACES] [--flat]``.

Processor time of the whole warm command ``envelope`` at its defaults, in a process of its own, for tanks
with two plates from 200 to 200,000 faces; and the power of the number of faces with which it grows. Round
shells by default; with ``--flat`` boxes whose faces are cut in four again and again, which changes no answer.
All ratios come from one run. The tanks are invented.
"""

import argparse
import itertools
import os
import resource
import subprocess
import sys
import tempfile
from pathlib import Path
from typing import NamedTuple

import manifold3d
import numpy as np
from pool_tanks import arrays, box, holed_baffles, rod
from solids_by_hand import write_stl

Solid = manifold3d.Manifold
Mesh = tuple[np.ndarray, np.ndarray]


class Made(NamedTuple):
    """A tank: its name, the mesh [m], where its pickup is [m], and how much is in it, of its volume."""

    name: str
    mesh: Mesh
    pickup: tuple[float, float, float]
    share: float


def plate(at: float, width: float, crest: float, holes: int = 0) -> Solid:
    """Across the tank at x = ``at``, with round holes of 16 sides above the floor, open above the crest."""
    wall = box((at, -width, -1.0), (at + 0.004, 2.0 * width, crest))
    for k in range(holes):
        wall -= rod((at - 0.01, (k + 1) * width / (holes + 1), 0.1), "x", 0.03, 0.02, 16)
    return wall


def two_plates() -> Made:
    """A box with two weirs, one with holes: some 200 faces."""
    tank = (
        box((0.0, 0.0, 0.0), (1.0, 0.4, 0.4)) - plate(0.3, 0.4, 0.16, 2) - plate(0.66, 0.4, 0.22, 1)
    )
    return Made("two plates in a box", arrays(tank), (0.48, 0.2, 0.02), 0.42)


def holed() -> Made:
    return Made("two holed baffles", arrays(holed_baffles()), (0.15, 0.15, -0.03), 0.4)


def two_lobed() -> Made:
    """A round body with a tunnel's notch below, so that it stands on two lobes, with two baffles."""
    shell = rod((0.0, 0.0, 0.3), "x", 1.0, 0.3, 64) - box((-0.5, -0.1, -0.1), (1.5, 0.1, 0.2))
    for at in (0.35, 0.7):
        shell -= box((at, -1.0, 0.05), (at + 0.004, 1.0, 0.33))
    return Made("two lobes, two baffles", arrays(shell), (0.5, 0.2, 0.1), 0.45)


def round_shell(sides: int) -> Made:
    """A lying drum with domed ends and two weirs; the faces grow with the square of ``sides``."""
    ball = Solid.sphere(0.3, sides)
    body = ball.scale((0.5, 1.0, 1.0)) + ball.scale((0.5, 1.0, 1.0)).translate((1.0, 0.0, 0.0))
    body += rod((0.0, 0.0, 0.0), "x", 1.0, 0.3, sides)
    for at, crest in ((0.3, -0.1), (0.66, -0.05)):
        body -= box((at, -1.0, -1.0), (at + 0.004, 1.0, crest))
    return Made(f"drum of {sides} sides, two weirs", arrays(body), (0.48, 0.0, -0.28), 0.3)


def cut_in_four(mesh: Mesh, times: int) -> Mesh:
    """Each triangle in four at the middles of its sides, ``times`` over."""
    vertices, faces = mesh
    for _ in range(times):
        sides = np.sort(faces[:, [0, 1, 1, 2, 2, 0]].reshape(-1, 2), axis=1)
        ends, middle = np.unique(sides, axis=0, return_inverse=True)
        ab, bc, ca = (len(vertices) + middle.reshape(-1, 3)).T
        vertices = np.vstack([vertices, vertices[ends].mean(axis=1)])
        a, b, c = faces.T
        parts = ((a, ab, ca), (b, bc, ab), (c, ca, bc), (ab, bc, ca))
        faces = np.vstack([np.stack(part, axis=1) for part in parts])
    return vertices, faces


def command_for(made: Made, folder: Path) -> list[str]:
    """Write the mesh [mm] and the command that asks for its limits."""
    vertices, faces = made.mesh
    low = vertices.min(axis=0)
    path = folder / f"{made.name.replace(' ', '_').replace(',', '')}_{len(faces)}.stl"
    write_stl(path, 1000.0 * (vertices - low)[faces])
    x, y, z = 1000.0 * (np.array(made.pickup) - low)
    p, q, r = (vertices[faces[:, k]] for k in range(3))
    litres = 1000.0 * made.share * np.einsum("fi,fi->f", p, np.cross(q, r)).sum() / 6.0
    return [
        sys.executable, "-m", "tanksolve_cli", "envelope", str(path),
        "--unit", "mm", "--forward", "+x", "--up", "+z",
        "--pickup", f"suction={x:.3f},{y:.3f},{z:.3f}mm", "--fill", f"{litres:.3f}L",
    ]  # fmt: skip


def spent(command: list[str]) -> tuple[float, str]:
    """Processor time [s] of a process, and what it printed."""
    before = resource.getrusage(resource.RUSAGE_CHILDREN)
    done = subprocess.run(command, check=False, capture_output=True, text=True, env=os.environ)
    after = resource.getrusage(resource.RUSAGE_CHILDREN)
    assert done.returncode in (0, 3), done.stderr
    return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime, done.stdout


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--most", type=int, default=250_000, help="faces")
    parser.add_argument("--flat", action="store_true")
    args = parser.parse_args()
    small = [two_plates(), holed(), two_lobed()]
    if args.flat:
        first = two_plates()
        grown = [first._replace(mesh=cut_in_four(first.mesh, k)) for k in range(1, 6)]
    else:
        grown = [round_shell(sides) for sides in (24, 48, 96, 228, 648)]
    with tempfile.TemporaryDirectory() as folder:
        spent(command_for(small[0], Path(folder)))  # fills the store of compiled code
        seen = []
        for made in (*small, *grown):
            count = len(made.mesh[1])
            if count > args.most:
                continue
            cost, words = spent(command_for(made, Path(folder)))
            print(
                f"{count:8,} faces {cost:8.2f} s   {made.name}; {words.splitlines()[0]}", flush=True
            )
            if any(made is one for one in grown):
                seen.append((count, cost))
        for (n, a), (m, b) in itertools.pairwise(seen):
            print(
                f"{n:,} to {m:,} faces: the cost grows as their number to the {np.log(b / a) / np.log(m / n):.2f}"
            )


if __name__ == "__main__":
    main()
