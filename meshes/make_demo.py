"""Writes the demo tanks of this folder; run from anywhere: ``python meshes/make_demo.py [FOLDER]``.

- hillside_sprayer.toml: the demo tank file that tanksolve carries with it;
- hillside_sprayer.stl: the tank that it describes, as a mesh;
- twisted_saddle.obj: a shape that no formula covers, written to whole micrometres so that its
  volume is an exact fraction.
"""

import math
import sys
from pathlib import Path

FOLDER = Path(__file__).parent
STATIONS, AROUND = 40, 64  # sections along the saddle tank, and corners of each


def sprayer(folder: Path) -> None:
    """The parametric demo tank, and the same as a binary STL in millimetres."""
    from tanksolve.geometry.mesh_out import stl_bytes
    from tanksolve.project.load import load
    from tanksolve.project.save import starter_text

    file = folder / "hillside_sprayer.toml"
    file.write_text(starter_text("demo"), encoding="utf-8", newline="\n")
    (folder / "hillside_sprayer.stl").write_bytes(stl_bytes(load(file).tank))


def saddle_section(station: float) -> list[tuple[float, float, float]]:
    """Corners [mm] of the section at ``station`` (0 rear to 1 front): a kidney over a tunnel.

    It narrows to 0.62 of its size, twists by 30 degrees and drifts to the left on its way.
    """
    scale = 1.0 - 0.38 * station**1.5
    twist = math.radians(-10.0 + 30.0 * station)
    corners = []
    for k in range(AROUND):
        t = 2.0 * math.pi * k / AROUND
        y, z = 230.0 * math.cos(t), 150.0 * math.sin(t)
        if z < 0.0:
            z += (
                100.0
                * math.exp(-((y / 85.0) ** 2))
                * (1.0 + 0.3 * math.sin(4.0 * math.pi * station))
            )
        y, z = scale * y, scale * z
        y, z = y * math.cos(twist) - z * math.sin(twist), y * math.sin(twist) + z * math.cos(twist)
        drift = 60.0 * math.sin(0.5 * math.pi * station)
        corners.append((900.0 * station, y + drift + 250.0, z + 170.0))
    return corners


def saddle() -> tuple[list[tuple[int, int, int]], list[tuple[int, int, int]]]:
    """Vertices in whole micrometres and faces (from 0) of the twisted saddle tank."""
    vertices = [p for i in range(STATIONS + 1) for p in saddle_section(i / STATIONS)]
    rear, front = len(vertices), len(vertices) + 1
    for ring in (vertices[:AROUND], vertices[-AROUND:]):
        vertices.append(
            tuple(sum(p[k] for p in ring) / AROUND + (20.0 if k == 2 else 0.0) for k in range(3))
        )
    faces = []
    last = STATIONS * AROUND
    for k in range(AROUND):
        m = (k + 1) % AROUND
        faces.append((rear, m, k))
        faces.append((front, last + k, last + m))
        for i in range(STATIONS):
            a, b, c, d = i * AROUND + k, i * AROUND + m, (i + 1) * AROUND + k, (i + 1) * AROUND + m
            faces += [(a, b, d), (a, d, c)]
    return [tuple(round(1000.0 * c) for c in p) for p in vertices], faces


def six_volumes(vertices: list[tuple[int, int, int]], faces: list[tuple[int, int, int]]) -> int:
    """Six times the volume of a closed mesh, in cubic micrometres, exactly."""
    total = 0
    for i, j, k in faces:
        (a, b, c), (d, e, f), (g, h, m) = vertices[i], vertices[j], vertices[k]
        total += a * (e * m - f * h) + b * (f * g - d * m) + c * (d * h - e * g)
    return total


def write_saddle(folder: Path) -> None:
    """The twisted saddle tank as an OBJ in millimetres."""
    vertices, faces = saddle()
    lines = ["# twisted saddle tank, 1 unit = 1 mm, x forward, y left, z up"]
    lines += [f"v {x / 1000:.3f} {y / 1000:.3f} {z / 1000:.3f}" for x, y, z in vertices]
    lines += [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in faces]
    (folder / "twisted_saddle.obj").write_text(
        "\n".join(lines) + "\n", encoding="ascii", newline="\n"
    )


if __name__ == "__main__":
    target = Path(sys.argv[1]) if len(sys.argv) > 1 else FOLDER
    sprayer(target)
    write_saddle(target)
