"""Tanks drawn with a CAD kernel, read from STEP: capacity against the kernel's own volume, openings counted.

Needs the extra ``cad``. ``PYTHONPATH=.:cli:tests python tests/campaign_cad.py [NAME ...]``: about four minutes of
processor time for 41 tanks. Prints every one, and the count of those that differ by more than
half as much again as the stated error of facets, what a rounded mouth leaves open, and 1e-5.

With ``--ways`` each tank (15 of them where none is named) is read at three chords, and from STEP in inches:
capacity, plugs, and limits of ports that sit in them, against those of the file in mm at the finest chord; some
seven minutes.
"""

import re
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from cad_tanks import TANKS, volume, write_step
from campaign_metal import limits

from tanksolve.errors import TanksolveError
from tanksolve.geometry.mesh_file import read_mesh_and_plugs

_FINEST = 1e-4  # chord [m]
_A_CHORD = (
    600.0  # degrees that a limit may move by for each metre of chord: its lever is 0.1 m at least
)

SAMPLE = [  # each kind with its thickest wall, and four with their thinnest
    *{make: name for name, (make, _) in TANKS.items()}.values(),
    *("plain, 1 mm", "suction_tube, 1 mm", "lying_drum, 1 mm", "saddle, 1 mm"),
]


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


def written_otherwise(folder, tank):
    """What differs between ways to write and to cut up a tank, in words; none where nothing does."""
    write_step(folder / "mm.step", tank.metal)
    write_step(folder / "inch.step", tank.metal, "INCH")
    assert "INCH" in (folder / "inch.step").read_text()
    first, differs = None, []
    for chord, unit in ((1e-4, "mm"), (1e-4, "inch"), (2e-4, "mm"), (4e-4, "mm")):
        found, plugs = read(folder / f"{unit}.step", tank, chord=chord)
        plugs = sorted(plugs, key=lambda plug: tuple(np.round(plug.centre, 3)))
        edges = limits((found.vertices, found.faces), plugs)
        first = first or (plugs, edges)
        said = f"chord {1e3 * chord:g} mm, in {unit}"
        off = found.capacity / (volume(tank.inside) * 1e-9) - 1.0
        if abs(off) > allowed(found, tank):
            differs.append(f"{said}: capacity off by {off:+.1e}")
        if len(plugs) != tank.openings:
            differs.append(f"{said}: {len(plugs)} openings, not {tank.openings}")
            continue
        differs += [f"{said}: {words}" for words in moved(plugs, first[0], chord)]
        away = np.abs(np.subtract(edges, first[1])).max()
        if away > (0.02 if chord == _FINEST else _A_CHORD * chord):
            differs.append(f"{said}: limits {np.round(edges, 2)}, not {np.round(first[1], 2)}")
    return differs


def moved(plugs, others, chord):
    """What differs in plugs, in words: rims of facets lie up to a chord inside of their curves."""
    for one, other in zip(plugs, others, strict=True):
        if abs(one.bore - other.bore) > 2.0 * chord:
            yield f"a bore of {1e3 * one.bore:.2f} mm, not {1e3 * other.bore:.2f}"
        if np.linalg.norm(np.subtract(one.centre, other.centre)) > 2.0 * chord:
            yield f"an opening at {np.round(one.centre, 4)}, not {np.round(other.centre, 4)}"
        if np.dot(one.facing, other.facing) < 0.999:
            yield f"an opening that faces {np.round(one.facing, 3)}, not {np.round(other.facing, 3)}"


def main_of_ways(names):
    bad = 0
    with tempfile.TemporaryDirectory() as folder:
        for name in names or SAMPLE:
            make, wall = TANKS[name]
            begun = time.process_time()
            try:
                differs = written_otherwise(Path(folder), make(wall))
            except TanksolveError as error:
                differs = [f"REFUSED {error.message}"]
            bad += bool(differs)
            spent = time.process_time() - begun
            print(f"{name}: {'; '.join(differs) or 'the same'} ({spent:.0f} s)", flush=True)
    print(f"{bad} of {len(names or SAMPLE)} differ")
    return bad


def main(names):
    if "--ways" in names:
        return main_of_ways([name for name in names if name != "--ways"])
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
