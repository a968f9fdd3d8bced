"""What the baffles divide a tank into: compartments, and the openings between them."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.baffles import Baffle, plate_slab
from tanksolve.geometry.booleans import Body, intersection, spaces, subtract
from tanksolve.geometry.links import BalancePipe
from tanksolve.geometry.sizes import nominal_box
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import told

Array = NDArray[np.float64]

__all__ = ["Compartment", "Division", "Opening", "Passage", "divide", "named_rooms"]

_SHARE = 1e-9  # of a compartment's volume: less than this in common is rounding
_SIDES = {
    "across": ("behind", "ahead of"),
    "along": ("right of", "left of"),
    "flat": ("below", "above"),
}


@dataclass(frozen=True)
class Opening:
    """An opening in a baffle, as far as it lies in the tank.

    ``flap`` is the only way that liquid gets through, where there is a flap; else empty.
    ``area_m2`` is measured in the plate; ``lowest_m`` and ``highest_m`` are heights of its edges above
    the tank's floor, standing level. ``body`` is what was cut, a plate's thickness beyond each face;
    ``room`` is the liquid space in the plate, from face to face.
    """

    baffle: str
    words: str
    area_m2: float
    lowest_m: float
    highest_m: float
    body: Body = field(repr=False, metadata={"json": False})
    room: Body = field(repr=False, metadata={"json": False})
    flap: str = ""


@dataclass(frozen=True)
class Compartment:
    """A part of the tank between plates; its box from rear right bottom to front left top (3,) [m]."""

    name: str
    volume_m3: float
    lower_m: Array
    upper_m: Array


@dataclass(frozen=True)
class Passage:
    """An opening, with the compartments that it joins; heights above the floor, standing level.

    ``flap`` is the only way that liquid gets through, where there is a flap; else empty.
    """

    baffle: str
    words: str
    area_m2: float
    lowest_m: float
    highest_m: float
    joins: tuple[str, ...]
    flap: str = ""


@dataclass(frozen=True)
class Division:
    """Compartments from rear to front, the openings between them, and what is sealed off.

    The compartments and the room in the openings add up to the tank's capacity.
    """

    compartments: tuple[Compartment, ...]
    passages: tuple[Passage, ...]
    warnings: tuple[str, ...]


def divide(
    shell: Tank,
    undivided: Body,
    result: Body,
    plates: list[tuple[Baffle, Body]],
    openings: list[Opening],
    pipes: tuple[BalancePipe, ...] = (),
) -> Division:
    """Name the compartments of an assembled tank.

    Parameters
    ----------
    shell : the tank before anything was added.
    undivided : its liquid space without any plate.
    result : its liquid space with plates and their openings, flaps open.
    plates : each baffle with its whole plate, no opening cut.
    openings : of all plates.
    pipes : from one part of the tank to another.
    """
    names, rooms = named_rooms(shell, undivided, plates)
    compartments = []
    corner, _ = nominal_box(shell)
    for name, room in zip(names, rooms, strict=True):
        box = np.reshape(room.bounding_box(), (2, 3)) - corner
        compartments.append(Compartment(name, float(room.volume()), box[0], box[1]))
    passages = []
    for one in openings:
        joins = tuple(
            name for name, room in zip(names, rooms, strict=True) if _meet(room, one.body)
        )
        passages.append(
            Passage(
                one.baffle, one.words, one.area_m2, one.lowest_m, one.highest_m, joins, one.flap
            )
        )
    return Division(tuple(compartments), tuple(passages), _sealed(names, rooms, result, pipes))


def named_rooms(
    shell: Tank, undivided: Body, plates: list[tuple[Baffle, Body]]
) -> tuple[list[str], list[Body]]:
    """The rooms between whole plates and their names, from rear to front; as for :func:`divide`."""
    rooms = _rooms(subtract(undivided, [plate for _, plate in plates]))
    slabs = [(baffle, plate_slab(baffle, shell, 1e-3 * baffle.thickness)) for baffle, _ in plates]
    return _distinct([_name(room, slabs, shell) for room in rooms]), rooms


def _rooms(body: Body) -> list[Body]:
    """The separate spaces of a body, from rear to front, right to left, bottom to top."""
    return sorted(spaces(body), key=lambda room: tuple(np.round(_middle(room), 6)))


def _middle(room: Body) -> Array:
    return np.asarray(np.reshape(room.bounding_box(), (2, 3)).mean(axis=0))


def _meet(room: Body, other: Body) -> bool:
    return bool(intersection(room, other).volume() > _SHARE * min(room.volume(), other.volume()))


def _name(room: Body, slabs: list[tuple[Baffle, Body]], shell: Tank) -> str:
    """Where a room is, by the plates that bound it: ``ahead of 'a', behind 'b'``."""
    sides = []
    for baffle, slab in slabs:
        if _meet(room, slab):
            offset = (_middle(room) - baffle.foot(shell)) @ baffle.axes[
                :, 2
            ] - 0.5 * baffle.thickness
            sides.append(f"{_SIDES[baffle.stands][int(offset > 0.0)]} '{baffle.name}'")
    return ", ".join(sides) if sides else "the whole tank"


def _distinct(names: list[str]) -> list[str]:
    """Names with numbers where several rooms have the same one."""
    seen: dict[str, int] = {}
    told = []
    for name in names:
        seen[name] = seen.get(name, 0) + 1
        told.append(f"{name} ({seen[name]})" if names.count(name) > 1 else name)
    return told


def _sealed(
    names: list[str], rooms: list[Body], result: Body, pipes: tuple[BalancePipe, ...]
) -> tuple[str, ...]:
    """A warning for every space of the finished tank that is cut off from the largest."""
    spaces = sorted(_rooms(result), key=lambda space: -float(space.volume()))
    ends = [
        [next((k for k, s in enumerate(spaces) if _meet(s, end)), 0) for end in pipe.ends()]
        for pipe in pipes
    ]
    reached = {0}
    for _ in spaces:
        for one, other in ends:
            if one in reached or other in reached:
                reached |= {one, other}
    warnings = []
    for k, space in enumerate(spaces):
        if k in reached:
            continue
        inside = [name for name, room in zip(names, rooms, strict=True) if _meet(space, room)]
        litres = told(space.volume(), "volume")
        warnings.append(
            f"sealed off: {' and '.join(inside)} ({litres}) has no opening to the rest of the tank"
        )
    return tuple(warnings)
