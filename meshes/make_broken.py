"""Writes meshes/broken/: small mesh files, each with one fault, for the tests of the refusals.

Run from the repository's root: ``python meshes/make_broken.py``. Everything is made of boxes, in
millimetres, x forward, z up.
"""

import struct
from pathlib import Path

import numpy as np

FOLDER = Path(__file__).parent / "broken"
_CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
_SQUARES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]
_FACES = np.array([face for a, b, c, d in _SQUARES for face in ((a, b, c), (a, c, d))])


def box(size, low=(0.0, 0.0, 0.0)):
    """Corners (12, 3, 3) of the faces of a box [mm], outward."""
    return (_CORNERS * size + low)[_FACES]


def inverted(corners):
    """The same faces, looking the other way."""
    return corners[:, ::-1]


def binary(corners):
    """Bytes of a binary STL."""
    header = b"broken on purpose".ljust(80) + struct.pack("<I", len(corners))
    records = (
        struct.pack("<12fH", 0, 0, 0, *face.ravel(), 0) for face in corners.astype(np.float32)
    )
    return header + b"".join(records)


def ascii_stl(corners):
    """Bytes of an ASCII STL."""
    lines = ["solid broken"]
    for face in corners:
        lines += ["facet normal 0 0 0", "outer loop"]
        lines += ["vertex " + " ".join(f"{c:g}" for c in corner) for corner in face]
        lines += ["endloop", "endfacet"]
    return "\n".join([*lines, "endsolid broken", ""]).encode()


def folded():
    """A closed box whose top is folded: one corner of the top is pushed down through the floor."""
    corners = box((600, 300, 200))
    moved = corners.copy()
    moved[(corners == (600, 300, 200)).all(axis=2)] = (200, 100, -100)
    return moved


def files():
    """Name and content of every file."""
    tank = box((600, 300, 200))
    flipped = tank.copy()
    flipped[3] = flipped[3, ::-1]
    nan = tank.copy()
    nan[5, 1, 2] = np.nan
    beside = box((600, 300, 200), (600, 100, 50))
    along_edge = box((600, 300, 200), (600, 300, 0))
    inside = box((594, 294, 194), (3, 3, 3))
    return {
        "empty.stl": b"",
        "truncated.stl": binary(tank)[:-120],
        "truncated_ascii.stl": ascii_stl(tank)[:900],
        "no_faces.stl": binary(tank[:0]),
        "nan.stl": binary(nan),
        "leaking.stl": binary(np.delete(tank, 3, axis=0)),
        "flipped.stl": binary(flipped),
        "inside_out.stl": binary(inverted(tank)),
        "flat.stl": binary(box((600, 300, 0))),
        "doubled.stl": binary(np.concatenate([tank, tank[3:4]])),
        "self_crossing.stl": binary(np.concatenate([tank, box((600, 300, 200), (400, 100, 100))])),
        "folded.stl": binary(folded()),
        "touching.stl": binary(np.concatenate([tank, beside])),
        "touching_along_an_edge.stl": binary(np.concatenate([tank, along_edge])),
        "wall.stl": binary(np.concatenate([tank, inverted(inside)])),
        "two_bodies.stl": binary(np.concatenate([tank, box((600, 300, 200), (700, 0, 0))])),
    }


if __name__ == "__main__":
    FOLDER.mkdir(exist_ok=True)
    for name, content in files().items():
        (FOLDER / name).write_bytes(content)
