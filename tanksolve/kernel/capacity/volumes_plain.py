"""The capacity kernel in plain numpy: every face, every plane, no tree, no compiler.

It is the text to read beside docs/theory/capacity.md and the oracle that the compiled kernel is
tested against. Cost grows with planes times faces.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["mean_depth", "moments_plain", "volumes_plain"]


def volumes_plain(
    vertices: Array, faces: NDArray[np.int64], up: Array, height: Array
) -> tuple[Array, Array]:
    """Volume below and free-surface area in each of D planes; as ``capacity.volumes``.

    vertices : (N, 3) [m], faces : (F, 3), up : (D, 3) [-], height : (D,) [m].
    Returns (D,) [m³] and (D,) [m²].
    """
    origin = 0.5 * (vertices.min(axis=0) + vertices.max(axis=0))
    corners = (vertices - origin)[faces]
    area = 0.5 * np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    h = (height - up @ origin)[:, None]
    phi, wet = mean_depth(np.sort(np.einsum("fvk,dk->dfv", corners, up), axis=-1), h)
    facing = up @ area.T
    return -(facing * phi).sum(axis=1), -(facing * wet).sum(axis=1)


def mean_depth(z: Array, h: Array) -> tuple[Array, Array]:
    """Mean of (h - z)+ over each face, and the share of the face that is below h.

    z : (D, F, 3) sorted vertex heights; h : (D, 1). The three cases of one linear field on a
    triangle; C = z2 - h is kept as a factor so that nothing cancels.
    """
    z0, z1, z2 = z[..., 0], z[..., 1], z[..., 2]
    A, B, C = h - z0, h - z1, z2 - h
    with np.errstate(divide="ignore", invalid="ignore"):
        tip = A / (z1 - z0) * A / (z2 - z0)
        base = 1.0 / ((z2 - z0) * (z2 - z1))
        cases = [h <= z0, h <= z1, h < z2]
        phi = [
            0.0 * z0,
            A * tip / 3.0,
            (C * (A * A + A * B + B * B) + A * B * (A + B)) * base / 3.0,
        ]
        wet = [0.0 * z0, tip, (C * (A + B) + A * B) * base]
    return np.select(cases, phi, h - z.mean(axis=-1)), np.select(cases, wet, 1.0)


def moments_plain(
    vertices: Array, faces: NDArray[np.int64], up: Array, height: float
) -> dict[str, Array]:
    """Moments below one plane, by integrating the boundary formulas over fine pieces of the faces.

    up : (3,), height [m]. Each face is cut at the plane; the pieces below are integrated exactly.
    Returns raw integrals about the origin: ``volume``, ``area``, ``liquid`` (integral of x dV),
    ``surface`` (integral of x dS), ``second`` (integral of x x^T dS).
    """
    volume, area = np.zeros(()), np.zeros(())
    liquid, surface, second = np.zeros(3), np.zeros(3), np.zeros((3, 3))
    for corners in vertices[faces]:
        normal = 0.5 * np.cross(corners[1] - corners[0], corners[2] - corners[0])
        for piece in _below(corners, up, height):
            a = 0.5 * np.cross(piece[1] - piece[0], piece[2] - piece[0])
            g = np.copysign(np.linalg.norm(a), a @ normal) * (up @ normal) / np.linalg.norm(normal)
            for x in 0.5 * (piece + np.roll(piece, -1, axis=0)):  # exact to second degree
                w = height - up @ x
                volume -= g / 3 * w
                area -= g / 3
                liquid -= g / 3 * (w * x + 0.5 * w * w * up)
                surface -= g / 3 * (x + w * up)
                second -= (
                    g
                    / 3
                    * (
                        np.outer(x, x)
                        + w * (np.outer(up, x) + np.outer(x, up))
                        + w * w * np.outer(up, up)
                    )
                )
    raw = {"volume": volume, "area": area, "liquid": liquid, "surface": surface, "second": second}
    return {name: np.asarray(value) for name, value in raw.items()}


def _below(corners: Array, up: Array, height: float) -> list[Array]:
    """Triangles (3, 3) that make up the part of one face below the plane."""
    ring = []
    for a, b in zip(corners, np.roll(corners, -1, axis=0), strict=True):
        da, db = height - up @ a, height - up @ b
        if da > 0:
            ring.append(a)
        if (da > 0) != (db > 0):
            ring.append(a + da / (da - db) * (b - a))
    return [np.array([ring[0], ring[k], ring[k + 1]]) for k in range(1, len(ring) - 1)]
