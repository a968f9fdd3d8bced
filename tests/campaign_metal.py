"""All metal tanks of ``metal_cases`` in all ways of ``rewritten``: the same cavity, plugs and bores.

With ``PYTHONPATH=.:cli:tests``: ``python tests/campaign_metal.py [CASE ...]``; about six minutes of
processor time for all 198 readings. Prints each that differs, and the count.
"""

import sys
import tempfile
from pathlib import Path

import numpy as np
from metal_cases import CASES
from rewritten import WAYS, rewritten
from solids_by_hand import write_stl
from walled_tank import corners_of

from tanksolve.errors import TanksolveError
from tanksolve.geometry.mesh_file import read_mesh_and_plugs


def _read(file, corners, unit):
    write_stl(file, corners)
    tank, plugs = read_mesh_and_plugs(
        file, unit, "+x", "+z", meaning="metal", plug="all", body="all"
    )
    return tank.capacity, sorted(round(1000.0 * plug.bore, 1) for plug in plugs)


def main(names):
    bad, tried = 0, 0
    with tempfile.TemporaryDirectory() as folder:
        file = Path(folder) / "t.stl"
        for name in names or CASES:
            case = CASES[name]()
            designed = case.inside.volume() * 1e-9
            _, bores = _read(file, corners_of(case.metal), "mm")
            for way in WAYS:
                tried += 1
                try:
                    capacity, again = _read(file, *rewritten(case.metal, way))
                except TanksolveError as error:
                    bad += 1
                    print(f"{name}, {way}: {error.message}")
                    continue
                off = capacity / designed - 1.0
                same = len(again) == len(bores) and np.allclose(again, bores, atol=0.3)
                if abs(off) > max(case.slack, 1e-5) or not same:
                    bad += 1
                    print(f"{name}, {way}: {off:.1e}, bores {again}, not {bores}", flush=True)
    print(f"{bad} of {tried} differ")
    return bad


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
