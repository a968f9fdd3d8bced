"""Kinds of damage: what `repair` makes of each, beside manifold3d's joining and, where installed, pymeshfix.

``PYTHONPATH=.:cli:tests python tests/campaign_damages.py``; pymeshfix (GPL-3.0, never a part of tanksolve) is
used where it can be imported. Prints a volume or a refusal each; ``!`` marks a volume that is not what was meant.
"""

import importlib.util
import tempfile
from pathlib import Path

import numpy as np
from damages import DAMAGES
from manifold3d import Manifold, Mesh64
from solids_by_hand import write_stl

from tanksolve.errors import MeshError
from tanksolve.geometry.repair import repair_mesh

FIXER = importlib.util.find_spec("pymeshfix") is not None


def by_repair(corners, folder):
    write_stl(folder / "in.stl", corners)
    (folder / "out.stl").unlink(missing_ok=True)
    try:
        return repair_mesh(folder / "in.stl", folder / "out.stl", hole=1.0).volume
    except MeshError:
        return None


def by_manifold(corners):
    faces = np.arange(3 * len(corners), dtype=np.uint64).reshape(-1, 3)
    mesh = Mesh64(corners.reshape(-1, 3).astype(float), faces)
    mesh.merge()
    solid = Manifold(mesh)
    return None if solid.status().name != "NoError" or solid.is_empty() else solid.volume()


def by_fixer(corners):
    if not FIXER:
        return None
    import pymeshfix

    points, index = np.unique(corners.reshape(-1, 3), axis=0, return_inverse=True)
    vertices, faces = pymeshfix.clean_from_arrays(points, index.reshape(-1, 3).astype(np.int32))
    at = np.asarray(vertices)[np.asarray(faces)]
    if not len(at):
        return None
    return float(np.einsum("fi,fi->", at[:, 0], np.cross(at[:, 1], at[:, 2])) / 6.0)


def told(found, meant):
    if found is None:
        return "refused"
    right = meant is not None and abs(found - meant) <= 1e-3 * meant
    return f"{found:.4f}" + ("" if right else " !")


def main():
    print(f"{'damage':44}{'meant':>9}{'repair':>14}{'manifold3d':>14}{'pymeshfix':>14}")
    with tempfile.TemporaryDirectory() as name:
        for kind, (corners, meant) in DAMAGES.items():
            each = by_repair(corners, Path(name)), by_manifold(corners), by_fixer(corners)
            words = "".join(f"{told(one, meant):>14}" for one in each)
            print(f"{kind:44}{'none' if meant is None else f'{meant:.4f}':>9}{words}", flush=True)


if __name__ == "__main__":
    main()
