"""124 foreign files: shapes of other libraries as another library writes them, and those that pyvista carries.

``PYTHONPATH=.:cli:tests python tests/campaign_foreign.py``: about two minutes of processor time. Each ends within
30 s as it should: solved, with the capacity that manifold3d gives; or refused or asked about for the right
reason (``foreign_meshes``). Prints what did not, and the longest.
"""

import sys
import tempfile
import time
from pathlib import Path

import numpy as np
import pyvista
import trimesh
from foreign_meshes import FOREIGN, MENDED, SOLVED
from manifold3d import Manifold, Mesh64

from tanksolve.errors import TanksolveError
from tanksolve.geometry.mesh_file import read_mesh

KINDS = ("obj", "ply", "glb")
CARRIED = {  # in pyvista/examples, and why each is refused, or solved
    "nut.ply": SOLVED,
    "sphere.ply": SOLVED,
    "airplane.ply": {
        "leaking",
        "self-crossing",
        "non-manifold edges",
        "separate bodies",
        "flipped faces",
    },
    "ant.ply": {
        "leaking",
        "self-crossing",
        "non-manifold edges",
        "separate bodies",
        "flipped faces",
    },
}
MENDS = {"leaking", "inside-out", "collapsed faces", "duplicate faces"}


def write(path, corners):
    """A file by trimesh: corners joined where they are equal, as its own writers need."""
    mesh = trimesh.Trimesh(
        corners.reshape(-1, 3), np.arange(3 * len(corners)).reshape(-1, 3), process=False
    )
    mesh.merge_vertices(digits_vertex=12)
    mesh.export(path)


def outcome(path, expected):
    """What is wrong with how a file ends; empty where nothing is."""
    try:
        tank = read_mesh(path, None if path.suffix == ".glb" else "m", "+x", "+z")
    except TanksolveError as error:
        reasons = MENDS if expected == MENDED else set() if expected == SOLVED else expected
        # a joined corner may turn one reason into its neighbour: a leak that closes crosses itself
        right = any(reason in error.message for reason in reasons)
        return "" if right else f"refused: {error.message.splitlines()[0]}"
    if expected not in (SOLVED, MENDED):
        return f"solved with {1000 * tank.capacity:.1f} L, and should be refused for {expected}"
    solid = Manifold(Mesh64(tank.vertices.copy(), tank.faces.astype(np.uint64)))
    off = tank.capacity / float(solid.volume()) - 1.0
    return "" if abs(off) < 1e-9 else f"capacity off by {off:.1e}"


def main():
    bad = count = 0
    longest = (0.0, "")
    with tempfile.TemporaryDirectory() as folder:
        files = [
            (f"{name}.{kind}", make, expected) for name, make, expected in FOREIGN for kind in KINDS
        ]
        carried = Path(pyvista.__file__).parent / "examples"
        files += [(name, carried / name, expected) for name, expected in CARRIED.items()]
        for name, make, expected in files:
            path = make if isinstance(make, Path) else Path(folder) / f"f.{name.rsplit('.')[-1]}"
            if not isinstance(make, Path):
                write(path, make())
            begun = time.process_time()
            wrong = outcome(path, expected)
            spent = time.process_time() - begun
            longest = max(longest, (spent, name))
            count += 1
            if wrong or spent > 30.0:
                bad += 1
                print(f"{name}: {wrong}; {spent:.1f} s", flush=True)
    print(f"{bad} of {count} ended otherwise; the longest took {longest[0]:.1f} s ({longest[1]})")
    return bad


if __name__ == "__main__":
    sys.exit(main() > 0)
