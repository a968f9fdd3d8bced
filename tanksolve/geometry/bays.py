"""The bays between plates and the openings that join them, cut out for flow from bay to bay."""

import itertools

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.assemble import Parts, assemble, build
from tanksolve.geometry.baffles import Baffle
from tanksolve.geometry.booleans import Body, from_body, intersection, mesh_of, subtract
from tanksolve.geometry.compartments import Opening, named_rooms
from tanksolve.geometry.links import NEAR_TO_FAR, BalancePipe
from tanksolve.model.bays import Bays, Gap
from tanksolve.model.link import Link
from tanksolve.model.tank import Tank

Array = NDArray[np.float64]

__all__ = ["bays_of"]

_SHARE = 1e-6  # of an opening: less than this between two bays is rounding
# heads that a pipe loses, over its velocity head: sharp entry 0.5 and exit 1.0, a mitred bend of 90 degrees 1.1,
# friction 0.05 for each bore of length; from memory. Smooth turbulent flow loses 0.02 to 0.03; oil that
# flows below a Reynolds number of 1300 loses more, as it does at the openings of plates.
_ENDS, _BEND, _FRICTION = 1.5, 1.1, 0.05
_CORNERS = 64  # of a pipe's outline
_FACING = 0.999  # cosine: faces of a hole that lie in the plate's near face


def bays_of(parts: Parts) -> Bays:
    """The bays of an assembled tank, from rear to front, and the openings between them.

    An opening that touches more than two bays is cut up between each two; openings of one plate
    that overlap are counted once. A balance pipe joins the bays that its mouths open into. Raises
    TankError as ``assemble.build`` does.
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
    links = {link.name: link for link in done.tank.links if link.kind == "balance pipe"}
    return Bays(tanks, (*gaps, *(_pipe_gap(pipe, links[pipe.name], tanks) for pipe in parts.pipes)))


def _pipe_gap(pipe: BalancePipe, link: Link, tanks: tuple[Tank, ...]) -> Gap:
    """A pipe between the bays at its mouths, with what it loses over its length and bends."""
    first, second = (Bays(tanks, ()).bay_of(tuple(mouth[0])) for mouth in link.mouths)
    runs = tuple(_ellipse(rows[0]) for rows in link.stations)
    steps = np.diff(np.asarray(pipe.run, np.float64), axis=0)
    size = np.linalg.norm(steps, axis=1)
    along = steps / size[:, None]
    turns = np.arccos(np.clip(np.einsum("ij,ij->i", along[1:], along[:-1]), -1.0, 1.0))
    loss = _ENDS + _FRICTION * float(size.sum()) / pipe.bore
    loss += _BEND * float((turns / (0.5 * np.pi)).sum())
    return Gap(
        *(f"balance pipe '{pipe.name}'", (first, second), np.concatenate(runs), 0.0),
        stations=runs,
        loss=loss,
    )


def _ellipse(row: Array) -> Array:
    """Triangles (T, 3, 3) of a polygon within an ellipse (9,): a little less area, a little higher."""
    turns = np.linspace(0.0, 2.0 * np.pi, _CORNERS + 1)[:, None]
    rim = row[:3] + np.cos(turns) * row[3:6] + np.sin(turns) * row[6:]
    centre = np.broadcast_to(row[:3], rim[1:].shape)
    return np.stack([centre, rim[:-1], rim[1:]], axis=1)


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
