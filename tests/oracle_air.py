"""Bodies of air above pools by cutting the solid, sharing nothing with tanksolve's kernel.

The tank is turned upright and cut at every pool's level with manifold3d. A piece of a layer is
wet where the piece of liquid below some pool's level, found by the pool's lowest vertex, holds it.
Dry pieces of neighbouring layers hang together where their sections overlap.
"""

from itertools import pairwise

import manifold3d as m3
import numpy as np

from tests.oracle_pools import Solid, holds

_UNDER = 1e-10  # of the size: levels are cut so much lower, as full pools stand at a saddle
_OVERLAP = 1e-7  # of the size squared: sections have 8 decimals


def air_volumes(
    solid: Solid, up: np.ndarray, pits: np.ndarray, level: np.ndarray, least: float
) -> np.ndarray:
    """Volumes [m³] of the bodies of air, greatest first; none below ``least``."""
    turn = np.linalg.qr(np.column_stack([up, np.eye(3)[np.argsort(np.abs(up))[:2]].T]))[0]
    turn = np.stack([turn[:, 1], turn[:, 2], up])
    turn[0] *= np.sign(np.linalg.det(turn))
    solid = solid.transform(np.hstack([turn, np.zeros((3, 1))]))
    size = float(np.ptp(np.reshape(solid.bounding_box(), (2, 3)), axis=0).max())
    heights = np.round(np.asarray(level) / (_UNDER * size) - 1.0) * _UNDER * size
    cuts = [-np.inf, *np.unique(heights), np.inf]
    layers = [pieces(layer(solid, *ends)) for ends in pairwise(cuts)]
    pools = [
        (height, piece_at(layer(solid, -np.inf, height), turn @ pit))
        for height, pit in zip(heights, pits, strict=True)
    ]
    dry = [
        [piece for piece in found if not any(top >= high and lies_in(piece, p) for top, p in pools)]
        for found, high in zip(layers, cuts[1:], strict=True)
    ]
    volumes: list[float] = []
    bodies: list[list[tuple[int, Solid]]] = []
    for k, found in enumerate(dry):
        for piece in found:
            met = [
                body
                for body in bodies
                if any(at == k - 1 and overlap(below, piece, cuts[k], size) for at, below in body)
            ]
            bodies = [body for body in bodies if body not in met]
            bodies.append([(k, piece), *(member for body in met for member in body)])
    volumes = [sum(piece.volume() for _, piece in body) for body in bodies]
    return np.sort([volume for volume in volumes if volume >= least])[::-1]


def layer(solid: Solid, low: float, high: float) -> Solid:
    """What lies between two heights."""
    if np.isfinite(low):
        solid = solid.trim_by_plane((0, 0, 1), low)
    return solid.trim_by_plane((0, 0, -1), -high) if np.isfinite(high) else solid


def pieces(solid: Solid) -> list[Solid]:
    """The spaces that a solid consists of, solids that stand free in one cut out of it."""
    parts = sorted(solid.decompose(), key=lambda part: part.volume())
    spaces = [part for part in parts if part.volume() > 0.0]
    dust = 1e-12 * np.prod(np.ptp(np.reshape(solid.bounding_box(), (2, 3)), axis=0))
    for shell in (part for part in parts if part.volume() < -dust):
        for k, space in enumerate(spaces):  # smallest first: the one right around the shell
            if space.volume() > -shell.volume() and holds(space, shell):
                mesh = shell.to_mesh64()
                points = np.array(mesh.vert_properties[:, :3], order="C")
                turned = np.array(mesh.tri_verts, np.uint64)[:, ::-1].copy()
                spaces[k] = space - Solid(m3.Mesh64(points, turned))
                break
        else:
            raise AssertionError("a free shell lies in no space")
    return spaces


def piece_at(solid: Solid, corner: np.ndarray) -> Solid:
    """The piece that has a vertex at ``corner`` (3,)."""
    for piece in pieces(solid):
        if np.linalg.norm(corners(piece) - corner, axis=1).min() < 1e-9:
            return piece
    raise AssertionError("no piece has this vertex")


def corners(solid: Solid) -> np.ndarray:
    return np.array(solid.to_mesh64().vert_properties[:, :3])


def lies_in(piece: Solid, pool: Solid) -> bool:
    """Whether a piece is part of the pool: all of it, or nothing, is in common."""
    return bool((piece ^ pool).volume() > 0.5 * piece.volume())


def overlap(below: Solid, above: Solid, height: float, size: float) -> bool:
    """Whether two pieces meet at more than an edge on the plane between them."""
    under, over = below.slice(height - 1e-9 * size), above.slice(height + 1e-9 * size)
    return bool((under ^ over).area() > _OVERLAP * size * size)
