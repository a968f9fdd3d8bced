"""From a mesh file to a tank: read, checked, turned into the tank frame; refused, never repaired.

The mesh is the boundary of the liquid, unless shells lie inside shells: then the user says whether
the mesh is the liquid or the metal around it.
"""

import math
from pathlib import Path
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.build.axes import axes_rotation, axes_words, box_words, implausible, unit_length
from tanksolve.build.findings import counted, refuse
from tanksolve.build.formats import RawMesh, read_raw
from tanksolve.build.mesh_checks import Surface, examine, merged
from tanksolve.build.shells import Reading, Shell, cavities, check_winding, liquid_bodies, nest
from tanksolve.errors import MeshError
from tanksolve.model.tank import Tank
from tanksolve.units import volume_words

Array = NDArray[np.float64]
Meaning = Literal["liquid", "metal"]

__all__ = ["Meaning", "read_mesh"]

_LARGEST = 1e12  # coordinates beyond this are no drawing, in whatever unit


def read_mesh(
    path: str | Path,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    *,
    meaning: Meaning | None = None,
    body: int | Literal["all"] | None = None,
) -> Tank:
    """Read a watertight mesh file as a tank.

    Parameters
    ----------
    path : an STL (binary or ASCII), OBJ or PLY file.
    unit : length unit of the file: ``mm``, ``in``, ``m``, ...
    forward, up : the mesh axes that point forward and up on the machine: ``+x``, ``-y``, ``z``, ...
    meaning : ``liquid`` where the mesh bounds the liquid, ``metal`` where it bounds the wall; needed
        only where one shell lies inside another.
    body : which of several separate bodies (or cavities), counted from 1; ``all`` for all at once.

    Returns
    -------
    The tank, in the mesh's own origin, turned to x forward, y left, z up. Its notes say in words
    which axis points where, in which unit, and the enclosing box.

    Raises
    ------
    MeshError : the file is missing, empty, damaged or of unknown kind; the mesh leaks, has flipped,
        doubled or crossing faces, bounds no volume or is inside-out; or more than one reading is
        possible and none was chosen. The message tells the place in the file's coordinates.
    QuantityError : an unknown unit.
    """
    file = Path(path)
    raw = read_raw(file)
    unit, rotation = _conventions(raw, unit, forward, up, file)
    scale = unit_length(unit)
    surface = checked_surface(raw, file)
    examination = examine(surface)
    refuse(examination.findings, str(file), unit)
    shells = nest(surface, examination)
    bodies = liquid_bodies(surface, examination, shells)
    caves = cavities(surface, examination, shells)
    if meaning is None and len(shells) > len(bodies):
        raise _which_meaning(shells, bodies, caves, scale, file)
    if meaning == "metal":
        reading = _choose(caves, body, "cavities", scale, file)
    else:
        refuse(check_winding(shells), str(file), unit)
        reading = _choose(bodies, body, "bodies", scale, file)
    return _tank(surface, reading, scale, rotation, unit, meaning, file)


def checked_surface(raw: RawMesh, file: Path) -> Surface:
    """Merge the corners of what was read; refuse no faces at all and numbers that are none."""
    if len(raw.corners) == 0:
        raise MeshError(
            "no faces in the file",
            where=str(file),
            allowed="a surface of triangles",
            next_step="export the body as a mesh, not as points or curves",
        )
    bad = ~(np.abs(raw.corners) < _LARGEST)  # catches NaN and infinity as well
    if bad.any():
        faces = np.flatnonzero(bad.any(axis=(1, 2)))
        value = float(raw.corners[bad][0])
        raise MeshError(
            f"{counted(len(faces), 'face has', 'faces have')} a coordinate that is not a usable "
            f"number ({value:g}); the first is face {faces[0] + 1}",
            where=str(file),
            allowed=f"finite coordinates below {_LARGEST:g}",
            next_step="export the mesh again",
        )
    surface = merged(raw.corners)
    if len(surface.faces) == 0 or surface.size < 1e-12:
        raise MeshError(
            "zero volume: all faces are collapsed to a point or a line",
            where=str(file),
            next_step="export the mesh again, in a unit that keeps its digits",
        )
    return surface


def _conventions(
    raw: RawMesh, unit: str | None, forward: str | None, up: str | None, file: Path
) -> tuple[str, Array]:
    unit, forward, up = unit or raw.unit, forward or raw.forward, up or raw.up
    missing = [
        name for name, value in (("unit", unit), ("forward", forward), ("up", up)) if not value
    ]
    if unit is None or forward is None or up is None:
        raise MeshError(
            f"the file does not say its {' nor its '.join(missing)}",
            where=str(file),
            allowed="a length unit (mm, cm, m, in, ft) and the mesh axes that point forward and up "
            "(+x, -x, +y, -y, +z, -z)",
            next_step="state them, for instance unit mm, forward +x, up +z",
        )
    return unit, axes_rotation(forward, up)


def _litres(volume: float, scale: float) -> str:
    return volume_words(volume * scale**3)


def _which_meaning(
    shells: tuple[Shell, ...],
    bodies: tuple[Reading, ...],
    caves: tuple[Reading, ...],
    scale: float,
    file: Path,
) -> MeshError:
    inner = next(shell for shell in shells if shell.parent is not None)
    as_liquid = " + ".join(_litres(reading.volume, scale) for reading in bodies)
    as_metal = ", ".join(_litres(cave.volume, scale) for cave in caves)
    plural = f"{len(caves)} cavities of " if len(caves) > 1 else ""
    twice = " (an inner shell looks outwards and counts twice)" if check_winding(shells) else ""
    return MeshError(
        f"shell {inner.number} lies inside shell {inner.parent}: is the mesh the liquid or the metal? "
        f"As liquid it holds {as_liquid}{twice}, as metal {plural}{as_metal}",
        where=str(file),
        allowed="'liquid' (inner shells are solids standing in the liquid) or 'metal' (the space "
        "inside the inner shell is the tank)",
        next_step="state the meaning of the mesh",
    )


def _choose(
    readings: tuple[Reading, ...],
    body: int | Literal["all"] | None,
    name: str,
    scale: float,
    file: Path,
) -> Reading:
    if not readings:
        raise MeshError(
            "the mesh is said to be metal but encloses no cavity",
            where=str(file),
            allowed="a wall with an inner and an outer surface",
            next_step="if the surface is the boundary of the liquid, say 'liquid'; if the wall has open "
            "ports, they have to be plugged first",
        )
    listed = "; ".join(
        f"{k}: {_litres(r.volume, scale)}, shell {', '.join(map(str, r.shells))}"
        for k, r in enumerate(readings[:20], 1)
    )
    if body is None and len(readings) > 1:
        raise MeshError(
            f"{len(readings)} separate {name}: {listed}",
            where=str(file),
            allowed=f"one of them (1 to {len(readings)}), or 'all' as one tank",
            next_step="choose the body",
        )
    if body == "all" or body is None:
        faces = np.concatenate([r.faces for r in readings])
        shells = tuple(s for r in readings for s in r.shells)
        return Reading(shells, math.fsum(r.volume for r in readings), faces)
    if not 1 <= body <= len(readings):
        raise MeshError(
            f"there is no number {body} among the {len(readings)} {name}",
            where=str(file),
            allowed=listed,
        )
    return readings[body - 1]


def _tank(
    surface: Surface,
    reading: Reading,
    scale: float,
    rotation: Array,
    unit: str,
    meaning: Meaning | None,
    file: Path,
) -> Tank:
    used = np.unique(reading.faces)
    number = np.zeros(len(surface.vertices), np.int64)
    number[used] = np.arange(len(used))
    vertices = (surface.vertices[used] @ rotation.T) * scale
    notes = [
        f"{axes_words(rotation)}; lengths in {unit}",
        f"origin: the mesh file's own; {box_words(vertices)}",
    ]
    if meaning == "metal":
        notes.append("the mesh is the metal: the tank is the space inside its inner surface")
    elif meaning == "liquid":
        notes.append("the mesh is the liquid: shells inside another are solids that stand in it")
    if len(reading.shells) > 1:
        notes.append(f"{len(reading.shells)} separate shells bound the tank")
    if surface.dropped:
        notes.append(
            f"{counted(surface.dropped, 'face', 'faces')} with two corners in one point left out: "
            "they bound nothing"
        )
    question = implausible(vertices, scale)
    return Tank(
        name=file.stem,
        vertices=vertices,
        faces=number[reading.faces],
        notes=(*notes, question) if question else tuple(notes),
        volume_error=None,
    )
