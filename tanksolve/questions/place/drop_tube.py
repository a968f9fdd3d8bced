"""A drop tube: straight in from a wall, then down (or up) to the opening."""

import itertools
from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import PortError
from tanksolve.kernel.capacity.whole_surface import squared_distance
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.questions.place.zone_parts import Point, as_point

Array = NDArray[np.float64]
Wall = Literal["rear", "front", "right", "left", "top"]

__all__ = ["DropTube", "TubeLimits", "Wall", "outside_of"]

_FINE = 0.0005  # m: the shortest step along a tube that runs close by something
_STRAIGHT = 1e-7  # m: what rounding makes of nothing
_INWARD: dict[str, tuple[int, int]] = {
    "rear": (0, 1), "front": (0, -1), "right": (1, 1), "left": (1, -1), "top": (2, -1),
}  # fmt: skip


@dataclass(frozen=True)
class TubeLimits:
    """From where a tube comes and how far it may reach [m].

    Attributes
    ----------
    wall : rear, front, right, left or top.
    height : of the hole in a side wall, above the floor; not used for the top.
    run : how far in from the wall, at most.
    drop : how far below the hole (from the top: below the roof), at most.

    Raises PortError for an unknown wall, or a reach that is not positive.
    """

    wall: Wall
    height: float = 0.0
    run: float = 0.0
    drop: float = 0.0

    def __post_init__(self) -> None:
        if self.wall not in _INWARD:
            raise PortError(f"'{self.wall}' is no wall", allowed=", ".join(_INWARD))
        if self.drop < 0.0 or (self.wall != "top" and not self.run > 0.0):
            raise PortError(
                "a tube that reaches nowhere",
                allowed="a run above 0 from a side wall, a drop of 0 or more",
            )

    def box(self, tank: Tank) -> tuple[Array, Array]:
        """Corners of the box that the opening can be in."""
        lower, upper = tank.lower.copy(), tank.upper.copy()
        axis, inward = _INWARD[self.wall]
        if self.wall == "top":
            lower[2] = max(float(lower[2]), float(upper[2]) - self.drop)
            return lower, upper
        hole = float(tank.corner[2]) + self.height
        lower[2], upper[2] = max(float(lower[2]), hole - self.drop), min(float(upper[2]), hole)
        if inward > 0:
            upper[axis] = min(float(upper[axis]), float(lower[axis]) + self.run)
        else:
            lower[axis] = max(float(lower[axis]), float(upper[axis]) - self.run)
        return lower, upper


@dataclass(frozen=True)
class DropTube:
    """A proposal: where the tube leaves the tank, how far it runs in, and how far it drops [m].

    Attributes
    ----------
    leaves_m : centre of the hole, on the wall itself, tank frame.
    run_m, drop_m : straight in from the wall, then down (negative: up) to the opening.
    bend_m : where it turns by a right angle; None where it is straight.
    outside_m : diameter that it is taken to have outside.
    clearance_m : what is left between the tube and anything else, rounded down; negative where it cuts
        or meets it. near : what that is. clear : whether it meets nothing.
    """

    wall: Wall
    leaves_m: Point
    run_m: float
    drop_m: float
    bend_m: Point | None
    outside_m: float
    clearance_m: float
    near: str
    clear: bool

    @classmethod
    def to(
        cls,
        tank: Tank,
        place: Array,
        limits: TubeLimits | None,
        bore: float | None = None,
        others: Sequence[Port] = (),
    ) -> "DropTube":
        """The tube to ``place`` (3,); through the top, straight down, where nothing is said.

        bore : of the port; the wall of the tube is taken as a twelfth of it, 2 mm at least (common
            practice, no source). others : ports to stay clear of. Raises PortError where the line from the
            bend meets no wall, so that there is nothing to leave through.
        """
        wall: Wall = limits.wall if limits else "top"
        axis, inward = _INWARD[wall]
        knee = place.copy()
        if limits is not None and wall != "top":
            knee[2] = tank.corner[2] + limits.height
        out = np.zeros(3)
        out[axis] = -inward
        hole = knee + out * _last_wall(tank, knee, out)
        radius = 0.5 * outside_of(bore)
        line = [hole, knee, place] if wall != "top" else [hole, place]
        room, near = _room(tank, line, out, radius, others)
        run = 0.0 if wall == "top" else float(np.linalg.norm(knee - hole))
        bent = wall != "top" and abs(knee[2] - place[2]) > _STRAIGHT
        return cls(
            wall=wall,
            leaves_m=as_point(hole),
            run_m=run,
            drop_m=float((hole if wall == "top" else knee)[2] - place[2]),
            bend_m=as_point(knee) if bent else None,
            outside_m=2.0 * radius,
            clearance_m=room - radius,
            near=near,
            clear=room >= radius,
        )


def outside_of(bore: float | None) -> float:
    """Outer diameter [m] that a tube of a bore is taken to have; of a bare point nothing."""
    return 0.0 if bore is None else bore + 2.0 * max(bore / 12.0, 0.002)


def _last_wall(tank: Tank, start: Array, way: Array) -> float:
    """How far along ``way`` (3,) from ``start`` the last wall is [m], what is in the tank passed by.

    T. Möller and B. Trumbore, "Fast, minimum storage ray/triangle intersection", J. Graphics Tools 2
    (1997), all faces at once.
    """
    a, b, c = np.moveaxis(tank.vertices[tank.faces] - start, 1, 0)
    along = np.cross(way, c - a)
    det = np.einsum("fi,fi->f", b - a, along)
    meets = np.abs(det) > 1e-15  # the others lie along the way
    a, b, c, along, det = a[meets], b[meets], c[meets], along[meets], det[meets]
    across = np.cross(-a, b - a)
    u, v = np.einsum("fi,fi->f", -a, along) / det, across @ way / det
    t = np.einsum("fi,fi->f", c - a, across) / det
    edge = 1e-9
    hit = (u >= -edge) & (v >= -edge) & (u + v <= 1.0 + edge) & (t > -_STRAIGHT)
    if not hit.any():
        raise PortError(
            "no wall lies that way for the tube to come through",
            where="the proposed tube",
            next_step="give a height between floor and roof",
        )
    return max(float(t[hit].max()), 0.0)


def _room(
    tank: Tank, line: list[Array], out: Array, radius: float, others: Sequence[Port]
) -> tuple[float, str]:
    """Least distance [m] from a line of straight pieces to anything, a bound from below; what it is near.

    The faces that the hole is cut in are left out. Distance changes no faster than the place, so between
    two places its least is at most half their step below their mean.
    """
    corners = tank.vertices[tank.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    square = np.abs(normal @ out) > 0.5 * np.linalg.norm(normal, axis=1)
    pierced = [
        f
        for f in np.flatnonzero(square)
        if squared_distance(tank.vertices, tank.faces[f : f + 1], line[0])
        < (2.0 * radius) ** 2 + 1e-12
    ]
    faces = np.delete(tank.faces, pierced, axis=0)
    least, near = np.inf, "a wall or plate"
    for start, end in itertools.pairwise(line):
        length = float(np.linalg.norm(end - start))
        if length < 1e-9:
            continue
        way, at = (end - start) / length, 0.0
        here = _to_faces(tank, faces, start)
        while at < length:
            step = min(max(0.1 * (here - radius), _FINE), length - at)
            there = _to_faces(tank, faces, start + (at + step) * way)
            least = min(least, 0.5 * (here + there - step))
            at, here = at + step, there
        for port in others:
            gap = _to_port(port, start, way, length)
            if gap < least:
                least, near = gap, f"'{port.name}'"
    return (least if least < np.inf else radius), near  # no length: a hole in the wall


def _to_faces(tank: Tank, faces: NDArray[np.int64], point: Array) -> float:
    """Distance [m] from a point to the faces."""
    return float(np.sqrt(squared_distance(tank.vertices, faces, point)))


def _to_port(port: Port, start: Array, way: Array, length: float) -> float:
    """Distance [m] from a piece of line to the ball about a port's opening."""
    ends = [np.asarray(disc[:3]) for disc in port.mouths]
    reach = max(float(disc[6] + disc[7]) for disc in port.mouths)
    each = [start + np.clip(way @ (at - start), 0.0, length) * way - at for at in ends]
    return min(float(np.linalg.norm(one)) for one in each) - reach
