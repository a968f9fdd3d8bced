"""Tanks drawn with a CAD kernel, read from STEP: capacity against the kernel's own volume, openings counted.

Needs the extra ``cad``. ``PYTHONPATH=.:cli:tests python tests/campaign_cad.py [NAME ...]``: about four minutes of
processor time for 41 tanks. Prints every one, and the count of those that differ by more than
half as much again as the stated error of facets, what a rounded mouth leaves open, and 1e-5.
"""

import re
import sys
import tempfile
import time
from pathlib import Path

from cad_tanks import TANKS, volume, write_step

from tanksolve.errors import TanksolveError
from tanksolve.geometry.mesh_file import read_mesh_and_plugs


def read(file, tank, **more):
    """The tank as read and its plugs."""
    several = "all" if len(tank.metal) > 1 else None
    return read_mesh_and_plugs(
        file, None, "+x", "+z", meaning="metal", plug="all", body=several, **more
    )


def told_error(notes):
    """The share by which the facets of curved walls are told to be off, more is positive; an estimate."""
    told = re.search(r"curved walls hold about ([0-9.e-]+) % (more|less)", "; ".join(notes))
    return (0.01 * float(told[1]) * (1.0 if told[2] == "more" else -1.0)) if told else 0.0


def allowed(found, tank):
    """By how much its capacity may be off, as a share."""
    return 1.5 * abs(told_error(found.notes)) + tank.slack + 1e-5


def main(names):
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in names or TANKS:
            make, wall = TANKS[name]
            tank, file = make(wall), Path(folder) / "tank.step"
            write_step(file, tank.metal)
            begun = time.process_time()
            try:
                found, plugs = read(file, tank)
            except TanksolveError as error:
                bad += 1
                print(f"{name}: REFUSED {error.message}", flush=True)
                continue
            off = found.capacity / (volume(tank.inside) * 1e-9) - 1.0
            most = allowed(found, tank)
            wrong = abs(off) > most or len(plugs) != tank.openings
            bad += wrong
            print(
                f"{name}: {'DIFFERS' if wrong else 'right'}, {off:+.1e} of {most:.1e} allowed, "
                f"{len(plugs)} openings of {tank.openings}; {time.process_time() - begun:.1f} s",
                flush=True,
            )
    print(f"{bad} of {len(names or TANKS)} differ")
    return bad


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
