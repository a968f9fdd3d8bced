"""Parts of a tank cut out for a port: the room it may have, and its zone, as closed meshes."""

import math
from collections.abc import Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.booleans import Body, intersection, joined_mesh, pieces, to_body
from tanksolve.geometry.solids import Solid, cuboid
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]
_STEP = 1e-3  # m; common practice, no source: plates in tanks are not thinner

__all__ = ["Region", "carved", "region_of", "room_body", "three_mf_bytes"]


@dataclass(frozen=True, eq=False)
class Region:
    """A part of the tank's inside; it may be in several pieces.

    Attributes
    ----------
    vertices, faces : (N, 3) [m], (F, 3).
    volume : [m³].
    plan, side, front : outlines seen from above (forward, left), from the right side (forward, up)
        and from the front (left, up): loops (M, 2) [m], holes the other way round.
    """

    vertices: Array = field(repr=False)
    faces: NDArray[np.int64] = field(repr=False)
    volume: float
    plan: tuple[Array, ...] = field(repr=False)
    side: tuple[Array, ...] = field(repr=False)
    front: tuple[Array, ...] = field(repr=False)

    @property
    def corners(self) -> Array:
        """Faces as (F, 3, 3) [m]."""
        return self.vertices[self.faces]


def room_body(
    tank: Tank,
    shifts: Sequence[tuple[float, float, float]] = (),
    within: tuple[Array, Array] | None = None,
) -> Body:
    """Points of the tank that stay in it all the way back along each of ``shifts`` [m]; perhaps none.

    A shift of (0, 0, a) keeps points a off the floor below them, (a, 0, 0) off the wall behind.
    Plates of a millimetre and thicker count.
    within : lower and upper corner of a box to stay in.
    """
    whole = Solid(tank.vertices, tank.faces)
    tank_body = body = to_body(whole)
    for shift in shifts:
        body = intersection(body, _kept_off(tank_body, np.array(shift)))
    return _limited(body, within)


def _kept_off(body: Body, shift: Array) -> Body:
    """What stays in a body when moved back by steps along ``shift`` (3,), each under a plate's gauge.

    Every round covers twice the steps of the one before it.
    """
    rounds = max(0, math.ceil(math.log2(float(np.linalg.norm(shift)) / _STEP)))
    step = shift / 2.0**rounds
    kept = intersection(body, body.translate(step.tolist()))
    for count in range(rounds):
        kept = intersection(kept, kept.translate((2.0**count * step).tolist()))
    return kept


def carved(body: Body, corners: Array) -> Region | None:
    """The part of a body inside the convex hull of ``corners`` (V, 3); None where there is none."""
    from manifold3d import Manifold

    hull = Manifold.hull_points(np.ascontiguousarray(corners))
    return region_of(intersection(body, hull))


def _limited(body: Body, within: tuple[Array, Array] | None) -> Body:
    return body if within is None else intersection(body, to_body(cuboid(*within)))


def region_of(body: Body) -> Region | None:
    """A body as a region with its outlines; None where it has no room inside."""
    kept = pieces(body) if body.volume() > 0.0 else []
    if not kept:
        return None
    return Region(
        *joined_mesh(kept),
        float(sum(piece.volume() for piece in kept)),
        _outline(body, np.eye(3)),
        _outline(body, np.array([[1.0, 0, 0], [0, 0, 1.0], [0, -1.0, 0]])),
        _outline(body, np.array([[0, 1.0, 0], [0, 0, 1.0], [1.0, 0, 0]])),
    )


def _outline(body: Body, turn: Array) -> tuple[Array, ...]:
    """Silhouette along z after a turn (3, 3); in millimetres meanwhile: it is kept to 1e-8."""
    moved = body.transform(np.column_stack([1000.0 * turn, np.zeros(3)]))
    return tuple(np.asarray(loop, float) / 1000.0 for loop in moved.project().to_polygons())


def three_mf_bytes(solid: Tank) -> bytes:
    """A closed mesh as 3MF in millimetres, the format's own default unit."""
    from trimesh import Trimesh

    mesh = Trimesh(1000.0 * solid.vertices, solid.faces, process=False)
    data: bytes = mesh.export(file_type="3mf")  # type: ignore[assignment]
    return data
