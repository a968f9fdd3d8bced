"""All metal tanks of ``metal_cases`` in all ways of ``rewritten``: the same cavity, plugs, ports and limits.

With ``PYTHONPATH=.:cli:tests``: ``python tests/campaign_metal.py [--no-limits] [CASE ...]``; about ten minutes
of processor time for 384 readings. Ways: faces shuffled, corners rolled, wound the other way, turned and moved,
cut smaller, as STL, OBJ, 3MF, GLB and STEP, in mm, inches and metres; and each case made anew with round parts
of half and twice as many sides. The capacity is held to what was designed, by a boolean of its own; plugs, and
the limits of ports that sit in them, to those of the case as drawn. Prints what differs, and the counts.
"""

import sys
import tempfile
from dataclasses import replace
from pathlib import Path

import numpy as np
from metal_cases import CASES
from rewritten import WAYS, reread, rewritten, segments

from tanksolve.errors import TanksolveError

__all__ = ["differs", "limits", "read"]

CHORDS = {"round parts of 24 sides": 24, "round parts of 96 sides": 96}


def read(folder, case, way):
    """Capacity [m³], plugs in order of place, and the tank as (vertices, faces), turned back."""
    vertices, faces, plugs = reread(folder / "t", rewritten(case.metal, way), body="all")
    corners = vertices[faces] - vertices.mean(axis=0)
    volume = np.einsum("fi,fi->", corners[:, 0], np.cross(corners[:, 1], corners[:, 2])) / 6.0
    plugs = sorted(plugs, key=lambda plug: tuple(np.round(plug.centre, 3)))
    return float(volume), plugs, (vertices, faces)


def limits(mesh, plugs):
    """Limits [deg] at four headings of a tank filled to 70 %: a pickup or a breather sits in every plug."""
    from tanksolve.model.ports import PortKind
    from tanksolve.model.tank import Tank
    from tanksolve.questions.envelope.envelope import envelope

    tank = Tank("t", *mesh)
    middle = tank.lower[2] + 0.55 * (tank.upper[2] - tank.lower[2])
    ports = []
    for k, plug in enumerate(plugs):
        kind = PortKind.PICKUP if plug.centre[2] < middle else PortKind.BREATHER
        ports.append(replace(plug.port(kind), name=f"opening {k}", cover=0.0))
    found = envelope(tank, ports, 0.7 * tank.capacity, every_deg=90.0, tolerance_deg=0.5)
    return [limit.slope_deg if limit.slope_deg is not None else 60.0 for limit in found.limits]


def differs(case, found, first, coarse=False):
    """What is not as designed, or not as first read; empty where all is the same."""
    volume, plugs, _ = found
    off = volume / (case.inside.volume() * 1e-9) - 1.0
    if abs(off) > max(case.slack, 1e-5):
        return f"capacity off by {off:.1e}"
    if len(plugs) != case.openings:
        return f"{len(plugs)} openings, not {case.openings}"
    for plug, there in zip(plugs, first[1], strict=True):
        if abs(plug.bore - there.bore) > (0.02 * there.bore if coarse else 3e-4):
            return f"a bore of {1000 * plug.bore:.2f} mm, not {1000 * there.bore:.2f}"
        if np.linalg.norm(np.subtract(plug.centre, there.centre)) > (1e-3 if coarse else 2e-4):
            return f"an opening at {np.round(plug.centre, 4)}, not {np.round(there.centre, 4)}"
        if np.dot(plug.facing, there.facing) < 0.999:
            return (
                f"an opening that faces {np.round(plug.facing, 3)}, not {np.round(there.facing, 3)}"
            )
    return ""


def main(words):
    with_limits = "--no-limits" not in words
    names = [word for word in words if word != "--no-limits"] or list(CASES)
    tally = dict.fromkeys(("right", "refused", "WRONG"), 0)
    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        for name in names:
            case, first, drawn = CASES[name](), None, None
            for way in (*WAYS, *CHORDS):
                coarse = way in CHORDS
                mine = segments(CASES[name], CHORDS[way]) if coarse else case
                try:
                    found = read(folder, mine, "shuffled" if coarse else way)
                except TanksolveError as error:
                    tally["refused"] += 1
                    print(f"{name}, {way}: REFUSED {error.message.splitlines()[0]}", flush=True)
                    continue
                first = first or found
                wrong = differs(mine, found, first, coarse)
                if with_limits and not wrong:
                    again = limits(found[2], found[1])
                    drawn = drawn or again
                    if np.abs(np.subtract(again, drawn)).max() > (0.5 if coarse else 0.02):
                        wrong = f"limits {np.round(again, 3)}, not {np.round(drawn, 3)}"
                tally["WRONG" if wrong else "right"] += 1
                if wrong:
                    print(f"{name}, {way}: {wrong}", flush=True)
            print(f"   {name}: limits {drawn and np.round(drawn, 2)}", flush=True)
    print(", ".join(f"{count} {kind}" for kind, count in tally.items()))
    return tally["WRONG"] + tally["refused"]


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]) > 0)
