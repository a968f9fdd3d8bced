"""Pools below a plane by cutting the solid, sharing nothing with tanksolve's kernel.

manifold3d trims the solid and takes it apart by surface shells. A shell of negative volume is a
solid standing free in the liquid: it belongs to the smallest piece around it.
"""

import manifold3d as m3
import numpy as np

Solid = m3.Manifold


def pool_volumes(solid: Solid, up: np.ndarray, height: float, least: float) -> np.ndarray:
    """Volumes [m³] of the pools below ``up · x = height``, greatest first; none below ``least``."""
    parts = solid.trim_by_plane(tuple(-up), -height).decompose()
    pools = [(part, part.volume()) for part in parts if part.volume() > 0.0]
    total = {i: volume for i, (_, volume) in enumerate(pools)}
    for part in parts:
        volume = part.volume()
        if volume >= 0.0 or abs(volume) < least:
            continue
        around = [
            (own, i) for i, (pool, own) in enumerate(pools) if own > -volume and holds(pool, part)
        ]
        if not around:
            raise AssertionError("a free shell lies in no pool")
        total[min(around)[1]] += volume
    found = np.array([volume for volume in total.values() if volume >= least])
    return np.sort(found)[::-1]


def holds(pool: Solid, part: Solid) -> bool:
    """Winding number of the pool's surface about a point of the part, by solid angles."""
    mesh, inner = pool.to_mesh64(), part.to_mesh64()
    point = np.array(inner.vert_properties[0, :3])
    r = np.array(mesh.vert_properties[:, :3]) - point
    length = np.linalg.norm(r, axis=1)
    faces = np.array(mesh.tri_verts)
    a, b, c = (r[faces[:, k]] for k in range(3))
    la, lb, lc = (length[faces[:, k]] for k in range(3))
    triple = np.einsum("ij,ij->i", a, np.cross(b, c))
    ab, bc, ca = (np.einsum("ij,ij->i", p, q) for p, q in ((a, b), (b, c), (c, a)))
    angle = 2.0 * np.arctan2(triple, la * lb * lc + ab * lc + bc * la + ca * lb)
    return bool(angle.sum() / (4.0 * np.pi) > 0.5)
