"""Closed surfaces written out by hand for the mesh tests: (F, 3, 3) corners, outward."""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

_CORNERS = np.array([[x, y, z] for x in (0, 1) for y in (0, 1) for z in (0, 1)], float)
_SQUARES = [(0, 1, 3, 2), (4, 6, 7, 5), (0, 4, 5, 1), (2, 3, 7, 6), (0, 2, 6, 4), (1, 5, 7, 3)]


def box(size=(1.0, 1.0, 1.0), low=(0.0, 0.0, 0.0), cells: int = 1) -> Array:
    """A box whose sides are cut into cells x cells rectangles of two triangles each."""
    faces = []
    for a, b, _, d in (_CORNERS[list(square)] for square in _SQUARES):
        for p in range(cells):
            for q in range(cells):
                at = [(p, q), (p + 1, q), (p + 1, q + 1), (p, q + 1)]
                w = [a + (b - a) * (s / cells) + (d - a) * (t / cells) for s, t in at]
                faces += [[w[0], w[1], w[2]], [w[0], w[2], w[3]]]
    return np.asarray(faces) * np.asarray(size, float) + np.asarray(low, float)


def ball(rings: int = 8, radius: float = 1.0, centre=(0.0, 0.0, 0.0)) -> Array:
    """A ball of latitude rings and twice as many meridians."""
    theta, phi = np.linspace(0, np.pi, rings + 1), np.linspace(0, 2 * np.pi, 2 * rings + 1)
    points = np.stack(
        [
            np.outer(np.sin(theta), np.cos(phi)),
            np.outer(np.sin(theta), np.sin(phi)),
            np.outer(np.cos(theta), np.ones_like(phi)),
        ],
        axis=-1,
    )
    points[:, -1] = points[:, 0]
    points[0], points[-1] = (0, 0, 1), (0, 0, -1)
    faces = []
    for i in range(rings):
        for j in range(2 * rings):
            a, b, c, d = points[i, j], points[i + 1, j], points[i + 1, j + 1], points[i, j + 1]
            faces += [[a, b, c]] if i < rings - 1 else []
            faces += [[a, c, d]] if i > 0 else []
    # the last ring's lower triangles collapse, the first ring's upper ones do
    return np.asarray(faces) * radius + np.asarray(centre, float)


def inverted(corners: Array) -> Array:
    """The same faces, looking the other way."""
    return corners[:, ::-1].copy()


def turned(corners: Array, seed: int, shift: float = 0.0) -> Array:
    """The same faces in a random attitude, and moved away from the origin."""
    rng = np.random.default_rng(seed)
    q, r = np.linalg.qr(rng.normal(size=(3, 3)))
    q = q * np.sign(np.diag(r))
    q[:, 0] *= np.sign(np.linalg.det(q))
    return corners @ q.T + shift * rng.normal(size=3)


def write_stl(path, corners: Array) -> None:
    """Write a binary STL with the record layout of the format itself."""
    record = np.dtype([("n", "<f4", 3), ("v", "<f4", (3, 3)), ("a", "<u2")])
    data = np.zeros(len(corners), record)
    data["v"] = corners
    path.write_bytes(b" " * 80 + np.uint32(len(corners)).tobytes() + data.tobytes())
