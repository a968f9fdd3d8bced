"""Which shell of a mesh lies inside which, and what the mesh means as liquid and as metal."""

from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.findings import Finding
from tanksolve.geometry.mesh_checks import Examination, Surface
from tanksolve.kernel.topology.edges import winding

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["Reading", "Shell", "check_winding", "liquid_bodies", "nest"]


@dataclass(frozen=True)
class Shell:
    """One closed piece of a mesh.

    Attributes
    ----------
    number : counted from 1 in the order of the file.
    volume : signed, in the file's unit cubed; negative where the faces look inwards.
    depth : how many other shells enclose it; parent : number of the nearest of them, or None.
    lower, upper : (3,) enclosing box, in the file's frame and unit.
    """

    number: int
    faces: int
    volume: float
    depth: int
    parent: int | None
    lower: tuple[float, ...]
    upper: tuple[float, ...]


@dataclass(frozen=True)
class Reading:
    """A part of the mesh taken as the boundary of one body of liquid.

    Attributes
    ----------
    shells : numbers of the shells that bound it, the outermost first.
    volume : in the file's unit cubed.
    faces : (F, 3) int, outward from the liquid.
    """

    shells: tuple[int, ...]
    volume: float
    faces: Ints = field(repr=False)


def nest(surface: Surface, examination: Examination) -> tuple[Shell, ...]:
    """Find for each shell of a closed surface the shells that enclose it.

    A shell is inside another when its box is and the other's winding number about its corners is
    not zero; of up to nine corners the middle value counts, as some may lie on the other's surface.
    """
    label, volumes = examination.shells.label, examination.shell_volumes
    count = examination.shells.number
    order = np.argsort(label, kind="stable")
    parts = np.split(order, np.cumsum(np.bincount(label, minlength=count))[:-1])
    corners = [surface.vertices[surface.faces[part]] for part in parts]
    lower = np.array([c.min(axis=(0, 1)) for c in corners])
    upper = np.array([c.max(axis=(0, 1)) for c in corners])
    around: list[list[int]] = []
    for k in range(count):
        boxed = (lower <= lower[k]).all(axis=1) & (upper >= upper[k]).all(axis=1)
        boxed &= np.abs(volumes) > abs(volumes[k])
        around.append([int(m) for m in np.flatnonzero(boxed) if _inside(corners[k], corners[m])])
    shells = []
    for k in range(count):
        nearest = min(around[k], key=lambda m: abs(volumes[m]), default=None)
        shells.append(
            Shell(
                k + 1,
                len(parts[k]),
                float(volumes[k]),
                len(around[k]),
                None if nearest is None else nearest + 1,
                tuple(lower[k].tolist()),
                tuple(upper[k].tolist()),
            )
        )
    return tuple(shells)


def _inside(inner: Array, outer: Array) -> bool:
    samples = inner[:: max(1, len(inner) // 9), 0][:9]
    return float(np.median([abs(winding(outer, point)) for point in samples])) > 0.5


def check_winding(shells: tuple[Shell, ...]) -> list[Finding]:
    """Find shells that face the wrong way for a mesh of liquid: outer ones in, inner ones out."""
    findings = []
    inward = [s for s in shells if s.depth % 2 == 0 and s.volume < 0.0]
    outward = [s for s in shells if s.depth % 2 == 1 and s.volume > 0.0]
    if inward:
        findings.append(
            Finding(
                "inside-out",
                sum(s.faces for s in inward),
                tuple((s.lower[0], s.lower[1], s.lower[2]) for s in inward[:3]),
                f"shell {_numbers(inward)} looks inwards though nothing encloses it "
                "(places: the low corner of its box)",
                "flip its faces in the program that drew it, or 'tanksolve repair'",
            )
        )
    if outward:
        findings.append(
            Finding(
                "counted twice",
                sum(s.faces for s in outward),
                tuple((s.lower[0], s.lower[1], s.lower[2]) for s in outward[:3]),
                f"shell {_numbers(outward)} lies inside another and looks outwards: as liquid its "
                "volume would count twice (places: the low corner of its box)",
                "flip it if it is a solid that displaces liquid; say 'metal' if it is the inner "
                "face of the wall",
            )
        )
    return findings


def _numbers(shells: list[Shell]) -> str:
    return ", ".join(str(s.number) for s in shells[:5]) + (", ..." if len(shells) > 5 else "")


def liquid_bodies(
    surface: Surface, examination: Examination, shells: tuple[Shell, ...]
) -> tuple[Reading, ...]:
    """Read the mesh as liquid: each shell that liquid is inside of, less the shells next inside it, as drawn.

    What a solid that stands in the liquid holds in its own hollow is another body.
    """
    readings = []
    for outer in shells:
        if outer.depth % 2 == 0:
            family = [outer, *(s for s in shells if s.parent == outer.number)]
            chosen = np.isin(examination.shells.label, [s.number - 1 for s in family])
            volume = sum(s.volume for s in family)
            faces = surface.faces if chosen.all() else surface.faces[chosen]
            readings.append(Reading(tuple(s.number for s in family), volume, faces))
    return tuple(readings)
