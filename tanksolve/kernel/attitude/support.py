"""How high and how low an opening reaches along an up direction.

An opening is a set of rows (K, 8): centre (3) [m], unit axis (3) [-], disc radius [m], ball
radius [m]; the row stands for the disc with a ball rolled over it. A bare point has both radii 0,
an opening of unknown facing only a ball, a cylindrical strainer is its two end discs. The support
of a union is the greatest of the supports.
"""

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["reach", "support_high", "support_low"]


def _spread(discs: Array, up: Array) -> tuple[Array, Array]:
    along = up @ discs[:, :3].T
    # |u x n| and not sqrt(1 - (u.n)^2), which loses eight digits near u || n; written out, since
    # np.cross costs more than all the rest here
    ux, uy, uz = up.T[:, :, None]
    nx, ny, nz = discs.T[3:6]
    sideways = np.sqrt(
        (uy * nz - uz * ny) ** 2 + (uz * nx - ux * nz) ** 2 + (ux * ny - uy * nx) ** 2
    )
    return along, sideways * discs[:, 6] + discs[:, 7]


def support_high(discs: Array, up: Array) -> Array:
    """Highest point of the opening along each of ``up`` (D, 3): heights (D,) [m], tank frame."""
    along, spread = _spread(discs, up)
    return np.asarray((along + spread).max(axis=1))


def support_low(discs: Array, up: Array) -> Array:
    """Lowest point of the opening along each of ``up`` (D, 3): heights (D,) [m], tank frame."""
    along, spread = _spread(discs, up)
    return np.asarray((along - spread).min(axis=1))


def reach(discs: Array, vertices: Array) -> float:
    """Bound from above the distance [m] between any mesh vertex and any point of the opening.

    This is the R of the bound between samples: a margin m at one attitude holds every attitude
    within chord m / R (docs/theory/envelope.md).
    """
    gaps = np.linalg.norm(vertices[:, None, :] - discs[None, :, :3], axis=-1)
    gaps += discs[None, :, 6] + discs[None, :, 7]
    return float(gaps.max())
