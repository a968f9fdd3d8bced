"""What a closed mesh may mean: liquid as drawn, or metal around one or several cavities."""

import math
from dataclasses import dataclass, field
from typing import Literal
from weakref import WeakKeyDictionary

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.caps import Opening
from tanksolve.geometry.cavity import find_cavities
from tanksolve.geometry.findings import counted
from tanksolve.geometry.intake import Intake
from tanksolve.geometry.plugs import plugs_of
from tanksolve.geometry.shells import check_winding, liquid_bodies
from tanksolve.kernel.capacity.whole_surface import surface_area
from tanksolve.kernel.topology.free_space import winding_numbers
from tanksolve.units import length_words

Ints = NDArray[np.int64]
Meaning = Literal["liquid", "metal"]

__all__ = [
    "Choice",
    "Meaning",
    "as_liquid",
    "as_metal",
    "choose",
    "confirm_plugs",
    "looks_like_sheet",
    "other_spaces",
    "which",
]

_SHEET = (
    0.024  # mean wall thickness, relative to the diagonal of the box, that suggests sheet metal
)
_FITTING = 0.05  # of the greatest cavity
_LISTED = 20


@dataclass(frozen=True)
class Choice:
    """One body of liquid that the mesh may bound.

    ``volume`` in the file's unit cubed, ``faces`` (F, 3) outward from the liquid, into ``vertices`` (N, 3)
    in the file's frame and unit, which are the same for all choices of one reading; ``openings`` the
    ports that had to be plugged, ``shells`` the numbers of the shells that bound it. For metal,
    ``seal`` is the width of the ball that was rolled round the outside to tell it from the inside,
    and ``others`` those that would shut off clearly less or more, with that volume; a width of 0 is a
    ``vessel`` within, which may be the tank, that no width shuts off by itself.
    """

    volume: float
    faces: Ints = field(repr=False)
    vertices: NDArray[np.float64] = field(repr=False)
    openings: tuple[Opening, ...] = ()
    shells: tuple[int, ...] = ()
    seal: float = 0.0
    others: tuple[tuple[float, float], ...] = ()
    vessel: bool = False


_Asked = tuple[float | None, tuple[float, float, float] | None]
_known: WeakKeyDictionary[Intake, dict[_Asked, tuple[Choice, ...]]] = WeakKeyDictionary()


def as_liquid(intake: Intake) -> tuple[Choice, ...]:
    """Read the mesh as liquid: one choice for each body."""
    readings = liquid_bodies(intake.surface, intake.examination, intake.shells)
    return tuple(Choice(r.volume, r.faces, intake.surface.vertices, (), r.shells) for r in readings)


def as_metal(
    intake: Intake, seal: float | None = None, inside: tuple[float, float, float] | None = None
) -> tuple[Choice, ...]:
    """Read the mesh as metal: the spaces inside it, their mouths closed, the greatest first.

    ``seal`` [m] the widest opening to close; ``inside`` (3,) [m], tank frame, a point of the space
    that is meant. Both are proposed where they are not given. An intake is read so once: a report and the
    tank that is made from it ask alike.
    """
    known = _known.setdefault(intake, {})
    asked = (seal, None if inside is None else (inside[0], inside[1], inside[2]))
    if asked not in known:
        known[asked] = _as_metal(intake, *asked)
    return known[asked]


def _as_metal(
    intake: Intake, seal: float | None, inside: tuple[float, float, float] | None
) -> tuple[Choice, ...]:
    scale = intake.conventions.scale
    at = None
    if inside is not None:
        at = (np.asarray(inside, float) / scale) @ intake.conventions.rotation
    found = find_cavities(
        intake.surface,
        intake.examination,
        intake.shells,
        None if seal is None else seal / scale,
        at,
        str(intake.file),
    )
    if at is not None:
        found = tuple(c for c in found if _holds(c.vertices[c.faces], at))
    return tuple(
        Choice(c.volume, c.faces, c.vertices, c.openings, c.shells, c.seal, c.others, c.vessel)
        for c in found
    )


def other_spaces(intake: Intake, choice: Choice) -> tuple[str, ...]:
    """What another width would take for the tank, in words: a tank in a cabinet, a bay with small openings."""
    scale, litres = intake.conventions.scale, intake.conventions.litres
    return tuple(
        f"sealed against a ball of {length_words(width * scale)} it would hold about {litres(volume)} "
        "(seal states the width)"
        if width
        else "a vessel of its own stands in it, with an opening no narrower than those outwards: if that is "
        "the tank, read its body alone (body), or close the other openings in the drawing"
        for width, volume in choice.others
    )


def _holds(corners: NDArray[np.float64], point: NDArray[np.float64]) -> bool:
    return bool(abs(winding_numbers(corners, point[None])[0]) > 0.5)


def looks_like_sheet(intake: Intake) -> bool:
    """Tell whether the mesh is so thin that it may be a metal wall: twice its volume over its area
    is a small part of its size.
    """
    area = surface_area(intake.surface.vertices, intake.surface.faces)
    volume = abs(float(intake.examination.shell_volumes.sum()))
    return 2.0 * volume < _SHEET * intake.surface.size * area


def which(intake: Intake, liquid: tuple[Choice, ...], metal: tuple[Choice, ...]) -> MeshError:
    """Ask whether the mesh is the liquid or the metal, with both volumes to choose by."""
    litres = intake.conventions.litres
    inner = next((shell for shell in intake.shells if shell.parent is not None), None)
    if inner is not None:
        saw = f"shell {inner.number} lies inside shell {inner.parent}"
    else:
        ports = counted(len(metal[0].openings), "open port", "open ports")
        saw = f"the mesh is thin like a wall and encloses a space behind {ports}"
    twice = ""
    if check_winding(intake.shells):
        twice = " (an inner shell looks outwards and counts twice)"
    plural = f"{len(metal)} cavities of " if len(metal) > 1 else ""
    return MeshError(
        f"{saw}: is the mesh the liquid or the metal? As liquid it holds "
        f"{' + '.join(litres(c.volume) for c in liquid[:_LISTED])}{twice}, as metal {plural}"
        f"{', '.join(litres(c.volume) for c in metal[:_LISTED])}",
        where=str(intake.file),
        allowed="'liquid' (inner shells are solids standing in the liquid) or 'metal' (the tank is the "
        "space inside it)",
        next_step=f"write --meaning metal or --meaning liquid; tanksolve inspect {intake.file} shows the "
        f"shells, tanksolve new my_tank.toml --from {intake.file} asks for all at once",
    )


def choose(
    intake: Intake,
    choices: tuple[Choice, ...],
    number: int | Literal["all"] | None,
    name: str,
) -> Choice:
    """Take one of several choices, or all as one tank; raises MeshError where that is left open."""
    where = str(intake.file)
    if not choices:
        raise MeshError(
            "the mesh is said to be metal but encloses no cavity: no ball that is rolled round the outside "
            "is kept out of a space",
            where=where,
            allowed="a wall round a space, with openings narrower than the tank",
            next_step="where a width (seal) or a point (inside) was stated, leave it out or state another; if the "
            "surface is the boundary of the liquid, say 'liquid'",
        )
    listed = "; ".join(
        f"{k}: {intake.conventions.litres(c.volume)}"
        + (f", shell {', '.join(map(str, c.shells[:5]))}" if c.shells else "")
        for k, c in enumerate(choices[:_LISTED], 1)
    )
    if number is None and name == "cavities":
        # what is far smaller than the greatest is a fitting, and told in a note
        choices = tuple(c for c in choices if c.volume >= _FITTING * choices[0].volume)
    if number is None and len(choices) > 1:
        raise MeshError(
            f"{len(choices)} separate {name}: {listed}",
            where=where,
            allowed=f"one of them (1 to {len(choices)}), or 'all' as one tank",
            next_step=f"choose from the {name}",
        )
    if len(choices) == 1 and number in (None, "all"):
        return choices[0]
    if number is None or number == "all":
        return Choice(
            math.fsum(c.volume for c in choices),
            np.concatenate([c.faces for c in choices]),
            choices[0].vertices,
            tuple(o for c in choices for o in c.openings),
            tuple(s for c in choices for s in c.shells),
            max(c.seal for c in choices),
            choices[0].others,
            choices[0].vessel,
        )
    if not 1 <= number <= len(choices):
        raise MeshError(
            f"there is no number {number} among the {len(choices)} {name}",
            where=where,
            allowed=listed,
        )
    return choices[number - 1]


def confirm_plugs(intake: Intake, choice: Choice, plug: str | tuple[str, ...] | None) -> None:
    """Refuse a cavity with open ports until the user has confirmed or named every plug."""
    number = len(choice.openings)
    if plug == "all" or number == 0:
        return
    if isinstance(plug, tuple) and len(plug) == number:
        return
    listed = "; ".join(p.words for p in plugs_of(choice.openings[:_LISTED], intake.conventions))
    given = "" if plug is None else f", {counted(len(plug), 'name is', 'names are')} given"
    raise MeshError(
        f"the wall has {counted(number, 'open port', 'open ports')} to plug{given}: {listed}. With flat "
        f"plugs it holds {intake.conventions.litres(choice.volume)}",
        where=str(intake.file),
        allowed="'all' to confirm the plugs, or one name for each in this order",
        next_step="add --plug all, or plug = 'all' in the tank file, if these are the holes",
    )
