"""What a mesh file holds: everything found and everything it could mean, without a verdict raised."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np

from tanksolve.errors import MeshError
from tanksolve.geometry.axes import implausible
from tanksolve.geometry.findings import Finding, counted
from tanksolve.geometry.holes import find_holes
from tanksolve.geometry.intake import Body, Intake, take_in
from tanksolve.geometry.plugs import Plug, plugs_of
from tanksolve.geometry.readings import Choice, as_liquid, as_metal, looks_like_sheet, other_spaces
from tanksolve.geometry.shells import check_winding

__all__ = ["MeshReading", "MeshReport", "ShellReport", "inspect_mesh"]

_LISTED = 50


@dataclass(frozen=True)
class ShellReport:
    """One closed piece of the surface.

    ``volume_m3`` is negative where its faces look inwards; ``inside`` is the number of the shell
    that encloses it, or None.
    """

    number: int
    faces: int
    volume_m3: float
    inside: int | None


@dataclass(frozen=True)
class MeshReading:
    """One thing that the mesh could mean.

    Attributes
    ----------
    meaning : ``liquid`` or ``metal``.
    volumes_m3 : capacity of each body or cavity.
    plugs : the ports that have to be plugged for it, in words.
    words : the same for people.
    others : where a vessel stands in the first of them, what else may be meant, in words.
    """

    meaning: str
    volumes_m3: tuple[float, ...]
    plugs: tuple[str, ...]
    words: str
    others: tuple[str, ...] = ()


@dataclass(frozen=True)
class MeshReport:
    """The findings on a mesh file.

    Attributes
    ----------
    missing : of ``unit``, ``forward``, ``up`` and ``body``, what neither the file nor the user states; all
        is then shown as if in mm, forward +x, up +z, and of all bodies.
    box_m : length, width and height of the enclosing box [m], tank frame.
    findings : every fault and peculiarity; places in the file's own coordinates and unit.
    shells : the closed pieces, where the surface is closed.
    saw : which case this is, and why, in words.
    readings : what the mesh could mean, with volumes; more than one leaves the user a choice.
    usable : whether it can be read as a tank, once the choice is made.
    intake : the mesh itself, so that ``read_mesh`` need not examine it again.
    """

    file: str
    unit: str
    missing: tuple[str, ...]
    notes: tuple[str, ...]
    faces: int
    vertices: int
    box_m: tuple[float, float, float]
    findings: tuple[Finding, ...]
    shells: tuple[ShellReport, ...]
    saw: str
    readings: tuple[MeshReading, ...]
    usable: bool
    intake: Intake = field(repr=False, metadata={"json": False})


def inspect_mesh(
    path: str | Path,
    unit: str | None = None,
    forward: str | None = None,
    up: str | None = None,
    *,
    body: Body | None = None,
    chord: float | None = None,
) -> MeshReport:
    """Examine a mesh file and report all that is found; arguments as for ``read_mesh``.

    Faults of the mesh are findings, not errors. Raises MeshError only where there is no mesh to
    speak of: the file cannot be read, has no faces or no numbers.
    """
    intake = take_in(Path(path), unit, forward, up, body, chord, only_look=True)
    findings = [*intake.examination.findings, *_remarks(intake)]
    readings: tuple[MeshReading, ...] = ()
    if not any(finding.refused for finding in findings):
        readings, saw = _readings(intake)
    else:
        saw = "a surface that cannot bound liquid as it is: " + ", ".join(
            f"{f.kind} ({f.count})" for f in findings if f.refused
        )
    scale = intake.conventions.scale
    box = np.ptp(intake.conventions.to_tank(intake.surface.vertices), axis=0).tolist()
    return MeshReport(
        file=str(path),
        unit=intake.conventions.unit,
        missing=intake.conventions.missing,
        notes=intake.conventions.notes,
        faces=len(intake.surface.faces),
        vertices=len(intake.surface.vertices),
        box_m=(box[0], box[1], box[2]),
        findings=tuple(findings),
        shells=tuple(
            ShellReport(s.number, s.faces, s.volume * scale**3, s.parent) for s in intake.shells
        ),
        saw=saw,
        readings=readings,
        usable=bool(readings),
        intake=intake,
    )


def _remarks(intake: Intake) -> list[Finding]:
    """Findings on what is closed but looks the wrong way, and those that refuse nothing."""
    # An outward shell inside another is no fault where the mesh is the metal.
    remarks = [replace(f, refused=f.kind == "inside-out") for f in check_winding(intake.shells)]
    if intake.surface.dropped:
        remarks.append(
            Finding(
                "collapsed faces",
                intake.surface.dropped,
                (),
                f"{counted(intake.surface.dropped, 'face has', 'faces have')} two corners in one "
                "point; left out, as nothing is bounded by them",
                "",
                refused=False,
            )
        )
    if any(finding.kind == "leaking" for finding in intake.examination.findings):
        holes = find_holes(intake.surface, intake.examination.edges)
        widths = ", ".join(f"{hole.width:.4g}" for hole in holes[:5])
        remarks.append(
            Finding(
                "holes",
                len(holes),
                tuple(hole.centre for hole in holes[:3]),
                f"{counted(len(holes), 'hole', 'holes')}, widths {widths}"
                f"{', ...' if len(holes) > 5 else ''} {intake.conventions.unit}",
                "the leaking edges run round these",
                refused=False,
            )
        )
    return remarks


def _readings(intake: Intake) -> tuple[tuple[MeshReading, ...], str]:
    """All that a sound surface could mean, and which case was seen."""
    liquid = as_liquid(intake)
    metal: tuple[Choice, ...] = ()
    nested = len(intake.shells) > len(liquid)
    sheet = looks_like_sheet(intake)
    if nested or sheet:
        try:
            metal = as_metal(intake)
        except MeshError as error:
            return (), f"probably metal, but it cannot be read so: {error.message}"
    readings = []
    if not check_winding(intake.shells):
        readings.append(_reading(intake, "liquid", liquid))
    if metal:
        readings.append(_reading(intake, "metal", metal))
    if nested:
        saw = "shells inside shells: solids standing in the liquid, or the inner faces of a metal wall"
    elif metal:
        saw = "one surface, thin like a wall, round a space with open ports: probably the metal"
    elif sheet:
        saw = "a thin body that encloses nothing: read as liquid"
    elif len(liquid) > 1:
        saw = f"{len(liquid)} bodies apart from each other: choose one, or all as one tank"
    else:
        saw = "one closed surface: the boundary of the liquid"
    return tuple(readings), saw


def _reading(intake: Intake, meaning: str, choices: tuple[Choice, ...]) -> MeshReading:
    scale = intake.conventions.scale
    plugs: list[Plug] = [plug for c in choices for plug in plugs_of(c.openings, intake.conventions)]
    shown = ", ".join(intake.conventions.litres(c.volume) for c in choices[:_LISTED])
    capacity = sum(c.volume for c in choices) * scale**3
    question = implausible(capacity, scale)
    doubt = f"; {question}" if question else ""
    kind = ("body", "bodies") if meaning == "liquid" else ("cavity", "cavities")
    ports = f", {counted(len(plugs), 'port', 'ports')} to plug" if plugs else ""
    return MeshReading(
        meaning,
        tuple(c.volume * scale**3 for c in choices),
        tuple(plug.words for plug in plugs[:_LISTED]),
        f"as {meaning}: {counted(len(choices), *kind)}, {shown}{ports}{doubt}",
        other_spaces(intake, choices[0]) if choices[0].vessel else (),
    )
