"""From a mesh file to a tank: read, checked, turned into the tank frame; refused, never repaired.

The mesh is the boundary of the liquid, unless shells lie inside shells or it is thin like a wall:
then the user says whether the mesh is the liquid or the metal around it.
"""

from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path
from typing import Literal

import numpy as np

from tanksolve.geometry.axes import box_words, implausible
from tanksolve.geometry.findings import counted, refuse
from tanksolve.geometry.intake import Body, Intake, take_in
from tanksolve.geometry.plugs import Plug, plugs_of
from tanksolve.geometry.readings import (
    Choice,
    Meaning,
    as_liquid,
    as_metal,
    choose,
    confirm_plugs,
    looks_like_sheet,
    other_spaces,
    which,
)
from tanksolve.geometry.shells import check_winding
from tanksolve.geometry.unite import roles
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import told
from tanksolve.units import length_words

Point = tuple[float, float, float]
_CHORD = 1e-4  # m: of STEP files, where none is stated
_FINER = 4.0  # times as fine: a second cut, to tell what the first does to the volume

__all__ = ["read_mesh", "read_mesh_and_plugs"]


def read_mesh(
    path: str | Path,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    *,
    meaning: Meaning | None = None,
    body: Body | None = None,
    cavity: int | Literal["all"] | None = None,
    plug: Literal["all"] | Sequence[str] | None = None,
    chord: float | None = None,
    seal: float | None = None,
    inside: Point | None = None,
    examined: Intake | None = None,
) -> Tank:
    """Read a watertight mesh file as a tank.

    Parameters
    ----------
    path : STL (binary or ASCII), OBJ, PLY, OFF, 3MF, GLB, GLTF, or STEP with the extra ``step``.
    unit : length unit of the file: ``mm``, ``in``, ``m``, ...; may be left out where the format
        states it (3MF, GLB, GLTF, STEP).
    forward, up : the mesh axes that point forward and up on the machine: ``+x``, ``-y``, ``z``, ...;
        glTF states both, 3MF states up.
    meaning : ``liquid`` where the mesh bounds the liquid, ``metal`` where it bounds the wall; needed
        only where both are possible.
    body : which of several bodies: a name of the scene, a number from 1, or ``all`` together.
    cavity : which of several cavities in the metal, the greatest first where ports are open.
    plug : confirms the flat plugs over open ports: ``all``, or a name for each, the greatest first.
    chord : for STEP, how far facets may stray from a curved surface [m]; by default 0.1 mm.
    seal : for metal, the widest opening that is closed [m]; proposed where it is not given.
    inside : for metal, a point of the space that is meant (3,) [m], tank frame; else the greatest.
    examined : ``intake`` of an ``inspect_mesh`` report on the same file with the same unit, axes and
        body, so that it is not read and examined again.

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
    tank, _ = read_mesh_and_plugs(
        path,
        unit,
        forward,
        up,
        meaning=meaning,
        body=body,
        cavity=cavity,
        plug=plug,
        chord=chord,
        seal=seal,
        inside=inside,
        examined=examined,
    )
    return tank


def read_mesh_and_plugs(
    path: str | Path,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    *,
    meaning: Meaning | None = None,
    body: Body | None = None,
    cavity: int | Literal["all"] | None = None,
    plug: Literal["all"] | Sequence[str] | None = None,
    chord: float | None = None,
    seal: float | None = None,
    inside: Point | None = None,
    examined: Intake | None = None,
) -> tuple[Tank, tuple[Plug, ...]]:
    """Read a mesh file as a tank and the plugs over its open ports; see :func:`read_mesh`.

    Each plug can become a port: ``plug.port(PortKind.FILLER)``.
    """
    names = plug if plug is None or plug == "all" else tuple(plug)
    intake = examined or take_in(Path(path), unit, forward, up, body, chord)
    findings = intake.examination.findings
    if meaning == "metal" or (meaning is None and plug is not None):
        findings = tuple(f for f in findings if f.kind != "inside-out")
    refuse(findings, str(intake.file), intake.conventions.unit)
    if meaning is None:
        meaning = _meaning(intake, plugged=plug is not None)
    if meaning == "metal":
        found = as_metal(intake, seal, inside)
        choice = choose(intake, found, cavity, "cavities")
        confirm_plugs(intake, choice, names)
    else:
        refuse(check_winding(intake.shells), str(intake.file), intake.conventions.unit)
        choice = choose(intake, as_liquid(intake), "all" if body is not None else None, "bodies")
    given = names if isinstance(names, tuple) else ()
    plugs = plugs_of(choice.openings, intake.conventions, given)
    rest = _left_out(intake, choice, found) if meaning == "metal" else ()
    tank = _tank(intake, choice, meaning, plugs, rest)
    if intake.file.suffix.lower() in (".step", ".stp"):
        finer = take_in(Path(path), unit, forward, up, body, (chord or _CHORD) / _FINER)
        if meaning == "metal":
            again = choose(finer, as_metal(finer, seal, inside), cavity, "cavities")
        else:
            again = choose(finer, as_liquid(finer), "all" if body is not None else None, "bodies")
        tank = _with_faceting(tank, again.volume * finer.conventions.scale**3)
    return tank, plugs


def _with_faceting(tank: Tank, finer: float) -> Tank:
    """What facets do to the capacity, estimated from a finer cut [m³]: their error falls as the chord."""
    error = (tank.capacity - finer) * _FINER / (_FINER - 1.0)
    if abs(error) < 1e-7 * tank.capacity:
        return replace(tank, volume_error=0.0)
    side = "more" if error > 0.0 else "less"
    told_so = (
        f"the facets of its curved walls hold about {100.0 * abs(error) / tank.capacity:.2g} % {side} than "
        f"the curved tank (an estimate, from a cut {_FINER:g} times as fine)"
    )
    return replace(tank, notes=(*tank.notes, told_so), volume_error=error)


def _left_out(intake: Intake, choice: Choice, found: tuple[Choice, ...]) -> tuple[str, ...]:
    """What else the metal encloses, so that nothing is left out silently."""
    litres = intake.conventions.litres
    words = []
    if choice.openings:
        seal = choice.seal * intake.conventions.scale
        ball = f"of {length_words(seal)}" if np.isfinite(seal) else "without bounds (a flat lid)"
        words.append(f"inside is what a ball {ball} rolled round the outside does not reach")
    words += other_spaces(intake, choice)
    wetted = {face.tobytes() for face in choice.faces}
    for other in found:
        if other.faces[0].tobytes() not in wetted:
            place = intake.conventions.to_tank(other.vertices[other.faces[0]])[0]
            at = ", ".join(told(c, "rough length") for c in place)
            words.append(f"also enclosed and left out: {litres(other.volume)}, at ({at})")
    return tuple(words)


def _meaning(intake: Intake, plugged: bool) -> Meaning:
    """Settle what the mesh is where the user did not say; raises MeshError where both may be."""
    liquid = as_liquid(intake)
    nested = len(intake.shells) > len(liquid)
    if not nested and plugged:
        return "metal"
    if nested or looks_like_sheet(intake):
        metal = as_metal(intake)
        if metal:
            raise which(intake, liquid, metal)
    return "liquid"


def _tank(
    intake: Intake,
    choice: Choice,
    meaning: Meaning,
    plugs: tuple[Plug, ...],
    rest: tuple[str, ...],
) -> Tank:
    used = np.zeros(len(choice.vertices), bool)
    used[choice.faces] = True
    number = np.cumsum(used) - 1
    vertices = intake.conventions.to_tank(choice.vertices[used])
    notes = [
        *intake.conventions.notes,
        f"origin: the mesh file's own; {box_words(vertices)}",
    ]
    if meaning == "metal":
        notes.append("the mesh is the metal: the tank is the space inside its inner surface")
    elif len(intake.shells) > len(as_liquid(intake)):
        notes.append("the mesh is the liquid: shells inside another are solids that stand in it")
    if len(choice.shells) > 1:
        notes.append(f"{len(choice.shells)} separate shells bound the tank")
    notes += [f"plugged {plug.words}" for plug in plugs]
    notes += rest
    if intake.united is not None:
        notes += intake.united.notes
        if meaning == "metal":
            notes += roles(intake.united.parts, choice.vertices[choice.faces])
    if intake.surface.dropped:
        notes.append(
            f"{counted(intake.surface.dropped, 'face', 'faces')} with two corners in one point left "
            "out: they bound nothing"
        )
    tank = Tank(
        name=intake.file.stem,
        vertices=vertices,
        faces=number[choice.faces],
        notes=tuple(notes),
        volume_error=None,
    )
    question = implausible(tank.capacity, intake.conventions.scale)
    return replace(tank, notes=(*notes, question)) if question else tank
