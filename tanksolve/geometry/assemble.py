"""A shell, its sumps, baffles and internals to one wetted solid, by booleans.

Order: sumps are hung on the shell, then plates and internals are taken away. Plates reach beyond
all walls, so that no film of liquid is left between plate and wall; where a plate crosses a sump's
mouth it ends flush with the floor (a hundredth of a millimetre below it), as a welded plate does.
"""

from dataclasses import dataclass, replace
from typing import NamedTuple

import numpy as np

from tanksolve.errors import TankError
from tanksolve.geometry.baffles import Baffle, CutOut, plate_bodies, plate_slab
from tanksolve.geometry.booleans import (
    Body,
    from_body,
    intersection,
    pieces,
    subtract,
    to_body,
    union,
)
from tanksolve.geometry.compartments import Division, Opening, divide
from tanksolve.geometry.internals import Internal
from tanksolve.geometry.links import BalancePipe, Flap, flap_link, pipe_link
from tanksolve.geometry.sizes import nominal_box
from tanksolve.geometry.solids import Solid
from tanksolve.geometry.sumps import Sump, hang
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import told

__all__ = ["Assembled", "Parts", "assemble", "build", "division"]

_FLUSH = (
    1e-5  # m: how far a plate over a sump reaches below the floor, so that the boolean has no tie
)
_SAME = 1e-9  # relative: volumes closer than this are the same


@dataclass(frozen=True)
class Parts:
    """What a tank is assembled from; ``bodies`` is how many separate bodies the shell has."""

    shell: Tank
    sumps: tuple[Sump, ...] = ()
    baffles: tuple[Baffle, ...] = ()
    internals: tuple[Internal, ...] = ()
    pipes: tuple[BalancePipe, ...] = ()
    bodies: int = 1


class Assembled(NamedTuple):
    """A tank with what it was cut from: see ``compartments.divide``; ``result`` has its flaps open."""

    tank: Tank
    undivided: Body
    result: Body
    plates: list[tuple[Baffle, Body]]
    openings: list[Opening]


def build(parts: Parts) -> Tank:
    """The tank that is left when sumps are hung on a shell, and baffles and internals taken away.

    All places are measured from the rear right bottom corner of the shell's enclosing box, whose
    frame the result keeps (a sump is below z = 0 of a shell that stands on it).
    Raises TankError, naming the part, where a part takes or adds nothing or nothing is left.
    """
    several = parts.pipes or parts.bodies > 1
    if not parts.sumps and not parts.baffles and not parts.internals and not several:
        return parts.shell
    return assemble(parts).tank


def division(parts: Parts) -> Division:
    """The compartments of the tank that :func:`build` makes. Raises as it does."""
    done = assemble(parts)
    return divide(parts.shell, *done[1:], parts.pipes)


def assemble(parts: Parts) -> Assembled:
    """Do the booleans; see :func:`build`."""
    shell = parts.shell
    bare = to_body(Solid(shell.vertices, shell.faces))
    hung = [hang(sump, bare, shell) for sump in parts.sumps]
    body = union([bare, *(pot.body for pot in hung)])
    tally = _Tally(shell)
    for sump, pot in zip(parts.sumps, hung, strict=True):
        tally.add(
            sump, union([bare, pot.body]).volume() - bare.volume(), pot.solid, pot.under_plane_floor
        )
    forbidden = [subtract(pot.wider, [bare.translate((0.0, 0.0, -_FLUSH))]) for pot in hung]
    displacers = []
    for internal in parts.internals:
        solid = internal.solid(shell)
        tool = to_body(solid)
        tally.take(internal, intersection(tool, body), solid)
        displacers.append(tool)
    undivided = subtract(body, displacers)
    welded = _weld(parts, undivided, forbidden, tally)
    result = subtract(undivided, welded.shut)
    taken = max(0.0, body.volume() - result.volume())
    vertices, faces = from_body(result, f"tank '{shell.name}'")
    notes, error = tally.closed()
    if welded.flaps:
        result = subtract(undivided, welded.open)
    several = parts.baffles or parts.bodies > 1
    if several and sum(piece.volume() > 0.0 for piece in pieces(result)) > 1:
        room = (undivided, result, welded.blanks, welded.openings)
        notes += divide(shell, *room, parts.pipes).warnings
    tank = Tank(shell.name, vertices, faces, shell.notes + notes, error, shell.datum)
    links = [flap_link(flap, tank, shell) for flap in welded.flaps]
    links += [pipe_link(pipe, tank) for pipe in parts.pipes]
    tank = replace(tank, links=(*shell.links, *links), taken=taken)
    return Assembled(tank, undivided, result, welded.blanks, welded.openings)


class _Welded(NamedTuple):
    """The plates: whole, cut with their flaps shut, and open; their openings, those with flaps again."""

    blanks: list[tuple[Baffle, Body]]
    shut: list[Body]
    open: list[Body]
    openings: list[Opening]
    flaps: list[Flap]


def _weld(parts: Parts, undivided: Body, forbidden: list[Body], tally: "_Tally") -> _Welded:
    """Cut the plates; ``forbidden`` is the room of each sump that no plate reaches into."""
    shell, welded = parts.shell, _Welded([], [], [], [], [])
    for baffle in parts.baffles:
        blank, cuts = plate_bodies(baffle, shell)
        inside = intersection(blank, undivided)
        under = plate_slab(baffle, shell, baffle.thickness)
        for sump, space in zip(parts.sumps, forbidden, strict=True):
            if intersection(inside, space).volume() > 0.0:
                cuts.append(
                    CutOut(f"way under it through sump '{sump.name}'", intersection(under, space))
                )
        shut = subtract(blank, [one.body for one in cuts if not one.flap])
        own = _openings(baffle, inside, cuts, shell)
        tally.plate(baffle, intersection(shut, undivided).volume(), own)
        welded.blanks.append((baffle, blank))
        welded.shut.append(shut)
        welded.open.append(subtract(shut, [one.body for one in cuts if one.flap]))
        welded.openings.extend(own)
        welded.flaps.extend(
            Flap(baffle, one.words, one.flap, intersection(inside, one.body))
            for one in cuts
            if one.flap
        )
    return welded


def _openings(baffle: Baffle, inside: Body, cuts: list[CutOut], shell: Tank) -> list[Opening]:
    """The openings of a plate as far as they lie in the tank, each measured where it is cut.

    What two openings have in common is counted once. Raises TankError for one that cuts nothing.
    """
    where = f"baffle '{baffle.name}'"
    if inside.is_empty():
        raise TankError(
            "the plate does not touch the liquid space",
            where=where,
            next_step="check its distance from the rear wall, the right wall or the floor",
        )
    found, rest = [], inside
    for one in sorted(cuts, key=lambda cut: not cut.edge):  # gaps first: the plate ends there
        cleared = intersection(rest, one.body)
        if cleared.volume() <= _SAME * inside.volume():
            raise TankError(
                f"the {one.words} takes nothing off the plate",
                where=where,
                next_step="check where it is on the plate, and that no gap or other opening is there",
            )
        rest = subtract(rest, [one.body])
        box = cleared.bounding_box()
        floor = float(nominal_box(shell)[0][2])
        area = cleared.volume() / baffle.thickness
        heights = box[2] - floor, box[5] - floor
        found.append(Opening(baffle.name, one.words, area, *heights, one.body, cleared, one.flap))
    return found


class _Tally:
    """What each part adds or takes, in words, and what is known of the faceting error."""

    def __init__(self, shell: Tank) -> None:
        self.notes: list[str] = []
        self.error = shell.volume_error
        self.unknown = 0.0  # faceting error of curved parts that are cut, at most [m³]

    def add(self, sump: Sump, volume: float, solid: Solid, under_plane_floor: bool) -> None:
        """A pot that adds room; a round one has its exact volume under a plane floor only."""
        self.notes.append(f"sump '{sump.name}' adds {told(volume, 'small volume')}")
        if not under_plane_floor:
            self.unknown += solid.partial_bound

    def take(self, internal: Internal, taken: Body, solid: Solid) -> None:
        """A part that takes room away; a round one is exact unless a wall cuts it askew."""
        where = f"internal '{internal.name}'"
        if taken.volume() <= _SAME * solid.volume:
            raise TankError(
                "it is not in the liquid space",
                where=where,
                next_step="check its place and size",
            )
        self.notes.append(f"{where} takes {told(taken.volume(), 'small volume')}")
        if solid.partial_bound > 0.0:
            box = np.reshape(taken.bounding_box(), (2, 3))
            axis = internal.axis
            straight = solid.volume * float(
                (box[1] - box[0])[axis] / np.ptp(solid.vertices[:, axis])
            )
            if abs(taken.volume() - straight) > _SAME * straight:
                self.unknown += solid.partial_bound

    def plate(self, baffle: Baffle, taken: float, openings: list[Opening]) -> None:
        """A plate, with its openings."""
        area = sum(opening.area_m2 for opening in openings)
        count = len(openings)
        through = (
            f"{count} opening{'s' * (count != 1)}, {told(area, 'small area')} together"
            if count
            else "no opening"
        )
        self.notes.append(f"baffle '{baffle.name}' takes {told(taken, 'small volume')}, {through}")

    def closed(self) -> tuple[tuple[str, ...], float | None]:
        """The notes, and the signed faceting error of the capacity where it is known [m³]."""
        if self.unknown == 0.0:
            return tuple(self.notes), self.error
        off = told(self.unknown, "small volume", "up")
        most = f"round parts are cut by walls: faceting errs by less than {off} there"
        return (*self.notes, most), None
