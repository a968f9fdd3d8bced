"""Baffles: plates across, along or flat in a tank, with the openings that a welder cuts in them.

Places on a plate are measured on the plate, from the right wall (the rear wall for a plate along
the machine or a flat one) and from the floor (the right wall for a flat one).
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import TankError
from tanksolve.geometry.booleans import Body, intersection, to_body
from tanksolve.geometry.profile import (
    CHORD_TOLERANCE,
    Profile,
    circle,
    polygon,
    rectangle,
    rounded_rectangle,
)
from tanksolve.geometry.sizes import nominal_box
from tanksolve.geometry.solids import Solid, cuboid, extrude
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = [
    "CORNERS",
    "EDGES",
    "FLAPS",
    "STANDS",
    "Baffle",
    "Cut",
    "CutOut",
    "clip",
    "hole",
    "notch",
    "plate_bodies",
    "plate_slab",
    "slot",
]

STANDS = ("across", "along", "flat")
EDGES = {
    "across": ("right", "left", "bottom", "top"),
    "along": ("rear", "front", "bottom", "top"),
    "flat": ("rear", "front", "right", "left"),
}
CORNERS = {
    stands: tuple(f"{second} {first}" for second in edges[2:] for first in edges[:2])
    for stands, edges in EDGES.items()
}
FLAPS = {"across": ("forward", "rearward"), "along": ("left", "right"), "flat": ("up", "down")}
_STEEPEST = math.radians(80.0)
_SIDES = {
    "rear": (0, 0),
    "front": (0, 1),
    "right": (1, 0),
    "left": (1, 1),
    "bottom": (2, 0),
    "top": (2, 1),
}


@dataclass(frozen=True)
class Cut:
    """An opening in a plate before the plate's size is known.

    ``kind`` is hole, slot, notch or clip; ``sizes`` [m] and ``place`` [m or a word] are read by kind.
    ``flap`` is the only way that a flap lets liquid through, of :data:`FLAPS`; empty: no flap.
    """

    kind: str
    sizes: tuple[float, ...]
    place: tuple[float, float] = (0.0, 0.0)
    edge: str = ""
    flap: str = ""

    @property
    def words(self) -> str:
        """What it is, in words."""
        size = stated([s for s in self.sizes if s > 0.0], "length")
        return f"{self.edge} {self.kind} {size}".strip()


def hole(diameter: float, at: tuple[float, float], *, flap: str = "") -> Cut:
    """A round hole about ``at`` on the plate [m]."""
    return Cut("hole", (diameter,), at, flap=flap)


def slot(
    width: float,
    height: float,
    at: tuple[float, float],
    corner_radius: float = 0.0,
    *,
    flap: str = "",
) -> Cut:
    """A rectangular hole about ``at`` on the plate [m], corners rounded if told."""
    return Cut("slot", (width, height, corner_radius), at, flap=flap)


def notch(edge: str, at: float, width: float, depth: float, *, flap: str = "") -> Cut:
    """A rectangle cut into the plate from an ``edge``, centred ``at`` along that edge [m]."""
    return Cut("notch", (width, depth), (at, at), edge, flap)


def clip(corner: str, size: float, *, flap: str = "") -> Cut:
    """A corner cut off at 45 degrees, ``size`` along both edges [m]."""
    return Cut("clip", (size,), edge=corner, flap=flap)


@dataclass(frozen=True)
class Baffle:
    """A plate in the tank.

    Attributes
    ----------
    name : how the user calls it.
    stands : ``across`` the machine, ``along`` it, or ``flat``.
    at : from the rear wall (across), the right wall (along) or the floor (flat) to the near face of
        the plate, where it meets the floor at the right wall (rear wall for a plate along) [m].
    thickness : of the plate [m]; it stands on the far side of ``at``.
    lean : top forward (across), top to the left (along), front end up (flat) [rad].
    turn : left end forward (across), front end to the left (along) [rad]; none for a flat one.
    cuts : holes, slots, notches and corner clips.
    gaps : what the plate stays clear of a wall by [m], by edge name; heights are vertical.
    """

    name: str
    stands: str
    at: float
    thickness: float
    lean: float = 0.0
    turn: float = 0.0
    cuts: tuple[Cut, ...] = ()
    gaps: Mapping[str, float] = field(default_factory=dict)
    chord_tolerance: float = CHORD_TOLERANCE

    def __post_init__(self) -> None:
        known: tuple[str, ...] = STANDS
        wrong = "" if self.stands in known else f"'{self.stands}' is no way for a plate to stand"
        if not wrong:
            known = EDGES[self.stands]
            edges = [*self.gaps, *(cut.edge for cut in self.cuts if cut.kind == "notch")]
            wrong = next(
                (
                    f"a plate {self.stands} has no {edge} edge"
                    for edge in edges
                    if edge not in known
                ),
                "",
            )
        if not wrong:
            known = CORNERS[self.stands]
            corners = [cut.edge for cut in self.cuts if cut.kind == "clip"]
            wrong = next(
                (
                    f"a plate {self.stands} has no {one} corner"
                    for one in corners
                    if one not in known
                ),
                "",
            )
        if not wrong:
            flaps = [cut.flap for cut in self.cuts if cut.flap]
            known = FLAPS[self.stands]
            wrong = next(
                (
                    f"a flap in a plate {self.stands} does not open {one}"
                    for one in flaps
                    if one not in known
                ),
                "",
            )
        if not wrong and max(abs(self.lean), abs(self.turn)) > _STEEPEST:
            wrong, known = (
                "lean or turn is too great",
                (f"up to {math.degrees(_STEEPEST):g} degrees",),
            )
        if not wrong and self.stands == "flat" and self.turn:
            wrong, known = "a flat plate has no turn", ("lean, front end up",)
        sizes = [
            self.thickness,
            *self.gaps.values(),
            *(s for cut in self.cuts for s in cut.sizes[:2]),
        ]
        if not wrong and min(sizes) <= 0.0:
            wrong, known = (
                f"a size of {stated(min(sizes), 'length')} is not positive",
                ("more than 0 mm",),
            )
        if wrong:
            raise TankError(wrong, where=f"baffle '{self.name}'", allowed=", ".join(known))

    @property
    def axes(self) -> Array:
        """Columns (3, 3): the plate's two directions and its normal, in tank axes."""
        lean, turn = self.lean, self.turn
        if self.stands == "flat":
            first, second = (
                np.array([math.cos(lean), 0.0, math.sin(lean)]),
                np.array([0.0, 1.0, 0.0]),
            )
            return np.column_stack(
                [first, second, np.array([-math.sin(lean), 0.0, math.cos(lean)])]
            )
        s, c = math.sin(turn), math.cos(turn)
        across = self.stands == "across"
        first = np.array([s, c, 0.0]) if across else np.array([c, s, 0.0])
        level = np.array([c, -s, 0.0]) if across else np.array([-s, c, 0.0])
        up = np.array([0.0, 0.0, 1.0])
        return np.column_stack(
            [
                first,
                math.cos(lean) * up + math.sin(lean) * level,
                math.cos(lean) * level - math.sin(lean) * up,
            ]
        )

    def foot(self, tank: Tank) -> Array:
        """Where the plate's measures start, in tank axes (3,) [m]."""
        offset = np.zeros(3)
        offset[("across", "along", "flat").index(self.stands)] = self.at
        return np.asarray(nominal_box(tank)[0] + offset)

    def extents(self, tank: Tank) -> tuple[float, float]:
        """How far the plate reaches over the tank's enclosing box, along its two directions [m]."""
        corner, far = nominal_box(tank)
        length, width, height = (float(s) for s in far - corner)
        if self.stands == "flat":
            return length / math.cos(self.lean), width
        across = width if self.stands == "across" else length
        return across / math.cos(self.turn), height / math.cos(self.lean)

    def ends(self, tank: Tank) -> Array:
        """Where the plate begins and ends (2, 2) along its two directions, clear of its gaps [m]."""
        corner, far = nominal_box(tank)
        sides = far - corner
        extents = self.extents(tank)
        ends = np.array([[0.0, extents[0]], [0.0, extents[1]]])
        for k, edge in enumerate(EDGES[self.stands]):
            axis, end = _SIDES[edge]
            slant = extents[k // 2] / float(sides[axis])
            ends[k // 2, end] += (1.0 - 2.0 * end) * slant * self.gaps.get(edge, 0.0)
        return ends

    def solid(self, profile: Profile, tank: Tank, clearance: float = 0.0) -> Solid:
        """An outline on the plate as a solid through the plate and ``clearance`` beyond each face."""
        block = extrude(profile, self.thickness + 2.0 * clearance).moved((0.0, 0.0, -clearance))
        return block.turned(self.axes).moved(self.foot(tank))


class CutOut(NamedTuple):
    """An opening in words, the solid that is cut out for it, and the way of its flap (or empty).

    ``edge`` is that of a gap: the plate ends there, so that other cuts begin behind it.
    """

    words: str
    body: Body
    flap: str = ""
    edge: str = ""


def plate_bodies(baffle: Baffle, tank: Tank) -> tuple[Body, list[CutOut]]:
    """The whole plate, reaching beyond all walls, and what is cut away from it."""
    size = float(np.linalg.norm(tank.upper - tank.lower))
    ends = baffle.ends(tank)
    over = 0.5 * size
    blank = plate_slab(baffle, tank, 0.0)
    thick = plate_slab(baffle, tank, baffle.thickness)
    openings = []
    for cut in baffle.cuts:
        outline = _outline(cut, baffle, ends, over)
        tool = to_body(baffle.solid(outline, tank, baffle.thickness))
        openings.append(CutOut(cut.words, tool, cut.flap))
    corner, far = nominal_box(tank)
    low, high = corner - size, far + size
    for edge, gap in baffle.gaps.items():
        axis, end = _SIDES[edge]
        corners = [low.copy(), high.copy()]
        corners[1 - end][axis] = corner[axis] + gap if end == 0 else far[axis] - gap
        tool = intersection(thick, to_body(cuboid(*corners)))
        openings.append(CutOut(f"{edge} gap {stated(gap, 'length')}", tool, edge=edge))
    return blank, openings


def _outline(cut: Cut, baffle: Baffle, ends: Array, over: float) -> Profile:
    """The outline of an opening on a plate that begins and ends at ``ends`` (2, 2) [m]."""
    if cut.kind == "hole":
        return circle(0.5 * cut.sizes[0], baffle.chord_tolerance).moved(*cut.place)
    if cut.kind == "slot":
        width, height, radius = cut.sizes
        outline = rounded_rectangle(width, height, radius, baffle.chord_tolerance)
        return outline.moved(cut.place[0] - 0.5 * width, cut.place[1] - 0.5 * height)
    edges = EDGES[baffle.stands]
    if cut.kind == "notch":
        width, depth = cut.sizes
        k = edges.index(cut.edge)
        along, far = (1, 0) if k < 2 else (0, 1)  # the direction of the edge, and the one across it
        low = np.empty(2)
        low[along] = cut.place[0] - 0.5 * width
        low[far] = ends[far, 0] - over if k % 2 == 0 else ends[far, 1] - depth
        span = np.empty(2)
        span[along], span[far] = width, depth + over
        return rectangle(*span).moved(*low)
    second, first = cut.edge.split(" ")
    which = edges.index(first), edges.index(second) - 2
    corner = np.array([ends[0, which[0]], ends[1, which[1]]])
    inward = np.where(which, -1.0, 1.0)
    reach, size = over, cut.sizes[0]
    tip = np.array([[-reach, -reach], [size + reach, -reach], [-reach, size + reach]])
    return polygon(corner + inward * tip)


def plate_slab(baffle: Baffle, tank: Tank, clearance: float) -> Body:
    """The plate without openings, reaching beyond all walls, thicker by ``clearance`` [m] on both faces."""
    size = float(np.linalg.norm(tank.upper - tank.lower))
    outline = rectangle(3.0 * size, 3.0 * size).moved(-size, -size)
    return to_body(baffle.solid(outline, tank, clearance))
