"""The bays between plates and the openings that join them, cut out for flow from bay to bay."""

import itertools

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.assemble import Parts, assemble, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.booleans import Body, from_body, intersection, mesh_of, subtract
from tanksolve.geometry.compartments import Opening, named_rooms
from tanksolve.geometry.links import NEAR_TO_FAR
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["bays_of"]

_SHARE = 1e-6  # of an opening: less than this between two bays is rounding
_FACING = 0.999  # cosine: faces of a hole that lie in the plate's near face


def bays_of(parts: Parts) -> Bays:
    """The bays of an assembled tank, from rear to front, and the openings between them.

    An opening that touches more than two bays is cut up between each two; openings of one plate
    that overlap are counted once. Balance pipes are left out. Raises TankError as ``assemble.build`` does.
    """
    if not parts.baffles and parts.bodies == 1:
        return Bays.undivided(build(parts))
    done = assemble(parts)
    names, rooms = named_rooms(parts.shell, done.undivided, done.plates)
    tanks = tuple(
        Tank(name, *from_body(room, f"bay {name}")) for name, room in zip(names, rooms, strict=True)
    )
    baffles = {baffle.name: baffle for baffle, _ in done.plates}
    gaps: list[Gap] = []
    before: dict[str, list[Body]] = {}
    for opening in done.openings:
        taken = before.setdefault(opening.baffle, [])
        gaps += _gaps(opening, subtract(opening.room, taken), baffles[opening.baffle], rooms)
        taken.append(opening.room)
    return Bays(tanks, tuple(gaps))


def _gaps(opening: Opening, room: Body, baffle: Baffle, rooms: list[Body]) -> list[Gap]:
    """An opening cut up between each two bays: behind it as seen by the plate, and before it."""
    normal = baffle.axes[:, 2]
    through = tuple(float(c) for c in baffle.thickness * normal)
    back = tuple(-c for c in through)
    behind = [intersection(room, other.translate(through)) for other in rooms]
    ahead = [other.translate(back) for other in rooms]
    found = []
    for first, second in itertools.permutations(range(len(rooms)), 2):
        if behind[first].volume() <= _SHARE * opening.room.volume():
            continue
        part = intersection(behind[first], ahead[second])
        if part.volume() > _SHARE * opening.room.volume():
            name, corners = f"{opening.words} in '{opening.baffle}'", _near_face(part, normal)
            joins, room = (first, second), part.volume()
            if opening.flap:
                joins = joins if opening.flap in NEAR_TO_FAR else (second, first)
                name, room = f"{name}, flap {opening.flap}", 0.0
            found.append(Gap(name, joins, corners, room, bool(opening.flap)))
    return found


def _near_face(part: Body, normal: Array) -> Array:
    """Triangles (T, 3, 3) of a slab's face on the side that its plate's normal comes from."""
    vertices, faces = mesh_of(part)
    corners = vertices[faces]
    square = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    size = np.linalg.norm(square, axis=1)
    faces_back = (square @ normal < -_FACING * size) & (size > 0.0)
    heights = corners @ normal
    near = heights.max(axis=1) <= heights.min() + 1e-6 * np.ptp(heights) + 1e-12
    return np.asarray(corners[faces_back & near])
