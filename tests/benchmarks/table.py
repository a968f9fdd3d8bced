"""The README's table of speed, in one command and one run.

    PYTHONPATH=.:cli:tests python -m tests.benchmarks.table [--write]

Prints the table as Markdown; with ``--write`` it is put into README.md between its marks, which is the
only way in which it gets there. Everything is processor time (of all threads and child processes), the
best of a few, told as ratios of this run: other work on the machine upsets it less than the clock, and
yet a quiet machine is better. Peers are asked for the volume below the same planes of the same mesh,
each prepared beforehand as its manual has it, on as many planes as a second allows; one whose volume
is off by more than 1e-9 of the tank is marked. The plain loop is one compiled pass over all faces, the
same formula without a tree. Takes some three minutes of processor time.
"""

import json
import os
import platform
import re
import resource
import subprocess
import sys
import tempfile
import time
from functools import partial
from importlib.metadata import version
from pathlib import Path
from unittest import mock

import numba
import numpy as np

from tanksolve.kernel.capacity.tree import build_tree
from tanksolve.kernel.capacity.volumes import visited, volumes
from tanksolve.project.load import load
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.state import conditions
from tests.benchmarks.capacity import DEMO, WRONG, mesh_of, peers, planes_through

ROOT = Path(__file__).resolve().parents[2]
START, END = "<!-- benchmarks: python -m tests.benchmarks.table --write -->", "<!-- end -->"
BOX = ("--box", "900x300x300mm", "--fill", "42L", "--pickup", "suction=450,150,40mm,bore=38mm")
PEER_SECONDS, PEER_PLANES = 1.0, 30


def spent(run, times=3):
    """Least processor time of a few runs, child processes included."""
    found = []
    for _ in range(times):
        before = time.process_time() + children()
        run()
        found.append(time.process_time() + children() - before)
    return min(found)


def children():
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


@numba.njit(error_model="numpy")
def plain_loop(corners, areas, up, heights):
    """Volumes (P,) below planes: one pass over all faces each; docs/theory/capacity.md, 'One face'."""
    out = np.zeros(len(up))
    for p in range(len(up)):
        u, h = up[p], heights[p]
        for f in range(len(corners)):
            a = corners[f, 0] @ u
            b = corners[f, 1] @ u
            c = corners[f, 2] @ u
            low, high = min(a, b, c), max(a, b, c)
            if h <= low:
                continue
            mid = a + b + c - low - high
            if h >= high:
                mean = h - (a + b + c) / 3.0
            elif h <= mid:
                mean = (h - low) ** 3 / (3.0 * (mid - low) * (high - low))
            else:
                A, B, C = h - low, h - mid, high - h
                mean = C * (A * A + A * B + B * B) + A * B * (A + B)
                mean /= 3.0 * (high - low) * (high - mid)
            out[p] -= (areas[f] @ u) * mean
    return out


def against_peers(size):
    """Faces, nodes visited, and how many times ours each peer takes; marked where it is wrong."""
    mesh = mesh_of(size)
    vertices, faces = np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.int64)
    tree = build_tree(vertices, faces)
    up, heights = planes_through(vertices, 4000)
    volumes(tree, up, heights)
    ours = spent(lambda: volumes(tree, up, heights), 5) / len(up)
    right, capacity = volumes(tree, up, heights)[0], tree.flux[0, 5]
    corners = np.ascontiguousarray(vertices[faces])
    areas = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    few = max(2, min(400, 4_000_000 // len(faces)))
    plain_loop(corners[:10], areas[:10], up[:1], heights[:1])
    plain = plain_loop(corners, areas, up[:few], heights[:few])
    assert np.abs(plain - right[:few]).max() < WRONG * capacity
    cells = [ratio(spent(lambda: plain_loop(corners, areas, up[:few], heights[:few])) / few / ours)]
    for name, cut in peers(mesh).items():
        if name == "pyvista":  # VTK's own filter is quicker
            continue
        cut(up[0], heights[0])
        taken, found = 0.0, []
        while taken < PEER_SECONDS and len(found) < PEER_PLANES:
            k = len(found)
            taken += spent(lambda: found.append(cut(up[k], heights[k])), 1)  # noqa: B023 -- run at once
        off = np.abs(np.array(found) - right[: len(found)]) / capacity
        wrong = int((off > WRONG).sum())
        mark = f" (wrong on {wrong} of {len(found)})" if wrong else ""
        cells.append(ratio(taken / len(found) / ours) + mark)
    nodes = float(visited(tree, up, heights).mean())
    return len(faces), nodes, ours, cells


def ratio(x):
    return f"{x:,.0f} x" if x >= 9.95 else f"{x:.1f} x"


def growth():
    """How time grows with faces and with attitudes."""
    figures = {}
    for size in ("4", "8"):
        mesh = mesh_of(size)
        vertices, faces = np.array(mesh.vertices, order="C"), np.array(mesh.faces, np.int64)
        tree = build_tree(vertices, faces)
        up, heights = planes_through(vertices, 4000)
        volumes(tree, up, heights)
        figures[len(faces)] = spent(lambda: volumes(tree, up, heights), 5)  # noqa: B023
    (few, first), (many, last) = figures.items()
    power = np.log(last / first) / np.log(many / few)
    tank = load(DEMO).tank
    up, heights = planes_through(tank.vertices, 100_000)
    volumes(tank.tree, up[:1000], heights[:1000])
    one, hundred = (
        spent(partial(volumes, tank.tree, up[:n], heights[:n]), 5) for n in (1000, 100_000)
    )
    return [
        (f"faces, {few:,} to {many:,}", f"time grows as faces to the power {power:.2f}"),
        (
            "attitudes, 1,000 to 100,000",
            f"{hundred / one:.0f} times the time for 100 times as many",
        ),
    ]


class Counted:
    """Counts the merge trees that a call of the state layer builds: one for each attitude or cell."""

    def __init__(self):
        self.trees = 0

    def __call__(self, real, up_at):
        def counted(*args, **options):
            self.trees += len(args[up_at])
            return real(*args, **options)

        return counted


def walled():
    """Envelopes of tanks with walls: their trees, and their time as so many batches of 10,000 planes."""
    rows = []
    for name in ("hillside_sprayer.toml", "two_bays.toml"):
        project = load(ROOT / "meshes" / name)
        counted, tank = Counted(), project.tank
        names = ("need", "need_over", "room", "room_over")
        patches = [
            mock.patch.object(conditions, n, counted(getattr(conditions, n), 1)) for n in names
        ]

        def run(project=project):
            envelope(project.tank, project.ports, project.fill, pickups=project.pickup_rule)

        for patch in patches:
            patch.start()
        run()
        for patch in patches:
            patch.stop()
        up, heights = planes_through(tank.vertices, 10_000)
        batch = spent(lambda: volumes(tank.tree, up, heights))  # noqa: B023
        rows.append(
            (
                f"envelope, 72 headings, bound over all: {project.name}, {len(tank.faces):,} faces",
                f"{counted.trees:,} merge trees, the time of {spent(run, 2) / batch:.0f} batches of "
                "10,000 planes",
            )
        )
    return rows


def program(*words, cache=None):
    places = os.pathsep.join([str(ROOT), str(ROOT / "cli")])
    environment = os.environ | {"PYTHONPATH": places} | ({"XDG_CACHE_HOME": cache} if cache else {})
    environment.pop("PYTHONDONTWRITEBYTECODE", None)  # pip compiles what it installs
    done = subprocess.run(
        [sys.executable, *words], env=environment, capture_output=True, check=False
    )
    assert done.returncode in (0, 3), done.stderr
    return done.stdout


def starts():
    """A command's start, cold and warm, in imports of numpy and numba."""
    bare = spent(lambda: program("-c", "import numpy, numba"), 2)
    ask = ("-m", "tanksolve_cli", "envelope", *BOX)
    program(*ask)
    warm = spent(lambda: program(*ask), 2)
    demo = spent(lambda: program("-m", "tanksolve_cli", "envelope", str(DEMO)), 2)
    with tempfile.TemporaryDirectory() as cache:
        cold = spent(lambda: program(*ask, cache=cache), 1)
    with tempfile.TemporaryDirectory() as cache:
        first = spent(lambda: program(*ask[:3], str(DEMO), cache=cache), 1)
    return [
        ("`envelope` of a box, warm", f"{warm / bare:.1f} imports of numpy and numba"),
        ("the same, cold: nothing compiled yet", f"{cold / bare:.0f} imports"),
        ("the demo with its walls, cold", f"{first / bare:.0f} imports"),
        ("`envelope` of the demo with its walls, warm", f"{demo / bare:.1f} imports"),
    ]


def memory():
    """Greatest memory, in imports of numpy and numba."""
    told = "import re; print(re.search(r'VmHWM:\\s+(\\d+)', open('/proc/self/status').read())[1])"
    ask = "import sys; sys.argv[1:] = {}; from tanksolve_cli.main import program as of;"
    ask += "of(sys.argv[1])(standalone_mode=False);"
    bare = int(program("-c", f"import numpy, numba; {told}"))
    rows = []
    for name, words in (("a box", BOX), ("the demo", (str(DEMO),))):
        out = program("-c", f"{ask.format(repr(['envelope', *words]))} {told}").decode()
        rows.append((f"memory of `envelope`, {name}", f"{int(out.split()[-1]) / bare:.1f} imports"))
    return [*rows, ("memory of that import", f"{bare / 1024:.0f} MB")]


STUDY = """tanksolve_study = 1
tank = "box.toml"
compute = ["worst_slope"]
[settings]
tolerance = "0.05 deg"
headings_every = "1 deg"
[[vary]]
key = "tank.length"
from = "600 mm"
to = "999 mm"
step = "1 mm"
"""


def processes():
    """A study in two processes: how much of the processor time of everything is that of its rows."""
    from studies import written

    with tempfile.TemporaryDirectory() as folder:
        file, out = written(Path(folder), STUDY), Path(folder) / "out"
        words = ("study", str(file), "--out", str(out), "--processes", "2")
        used = spent(lambda: program("-m", "tanksolve_cli", *words), 1)
        lines = (out / "rows.log").read_text().splitlines()
    share = sum(json.loads(line[9:])[1]["seconds"] for line in lines) / used
    return [
        (
            "study of 400 boxes on two processes",
            f"{100.0 * share:.0f} % of all processor time is that of its rows: up to {2.0 * share:.2f} times "
            "one process",
        )
    ]


def machine():
    info = Path("/proc/cpuinfo")
    found = re.search(r"model name\s*: (.*)", info.read_text()) if info.exists() else None
    named = found[1] if found else platform.processor()
    libraries = ", ".join(
        f"{n} {version(n)}" for n in ("numpy", "numba", "manifold3d", "trimesh", "vtk")
    )
    return (
        f"{named.strip()}, {os.cpu_count()} processors, {platform.system()} {platform.machine()}; "
        f"Python {platform.python_version()}, tanksolve {version('tanksolve')}, {libraries}"
    )


def table():
    lines = [
        "| volume below a plane | ours | plain compiled loop | manifold3d | trimesh | VTK |",
        "|---|---|---|---|---|---|",
    ]
    for size in ("demo", "5", "7"):
        faces, nodes, _, cells = against_peers(size)
        name = "demo tank" if size == "demo" else "uneven ball"
        ours = f"1 ({nodes:,.0f} nodes visited)"
        lines.append(f"| {name}, {faces:,} faces | {ours} | {' | '.join(cells)} |")
    lines += ["", "| what | how much |", "|---|---|"]
    for part in (growth, walled, starts, memory, processes):
        lines += [f"| {what} | {much} |" for what, much in part()]
    told = f"Ratios of processor time in one run ({time.strftime('%Y-%m-%d')}). {machine()}."
    return "\n".join([*lines, "", told])


def main():
    made = table()
    print(made)
    if "--write" in sys.argv:
        readme = ROOT / "README.md"
        before, _, rest = readme.read_text().partition(START)
        after = rest.partition(END)[2]
        readme.write_text(f"{before}{START}\n{made}\n{END}{after}")


if __name__ == "__main__":
    main()
