"""A mesh file taken in: read, its unit and axes settled, one body chosen, examined. No verdict yet."""

from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.geometry.axes import axes_rotation, axes_words, unit_length
from tanksolve.geometry.findings import counted
from tanksolve.geometry.formats import RawMesh, read_raw
from tanksolve.geometry.mesh_checks import Examination, Surface, examine, merged
from tanksolve.geometry.shells import Shell, liquid_bodies, nest
from tanksolve.geometry.unite import WELD, United, unite
from tanksolve.kernel.topology.edges import face_volumes
from tanksolve.progress import tell
from tanksolve.units import volume_words

Array = NDArray[np.float64]
Body = int | str

__all__ = ["Body", "Conventions", "Intake", "checked_surface", "choose_part", "settle", "take_in"]

_LARGEST = 1e12  # coordinates beyond this are no drawing, in whatever unit
_LISTED = 20


@dataclass(frozen=True)
class Conventions:
    """How the file's coordinates become the tank's.

    Attributes
    ----------
    unit : of the file; scale : its length [m].
    rotation : (3, 3), rows are forward, left and up in the file's axes.
    notes : the same in words, and where the user overrode what the format states.
    missing : of ``unit``, ``forward``, ``up`` and ``body``, what nobody has stated: shown as mm, +x, +z and
        all bodies, only for a look at the file, never for an answer.
    """

    unit: str
    scale: float
    rotation: Array = field(repr=False)
    notes: tuple[str, ...] = ()
    missing: tuple[str, ...] = ()

    def to_tank(self, vertices: Array) -> Array:
        """Positions (N, 3) [m] in the tank frame of vertices in the file's frame and unit."""
        return np.asarray((vertices @ self.rotation.T) * self.scale)

    def litres(self, volume: float) -> str:
        """Write a volume in the file's unit cubed as litres."""
        return volume_words(volume * self.scale**3)


@dataclass(frozen=True, eq=False)
class Intake:
    """A mesh file read and examined; ``united`` where it was an assembly whose bodies meet."""

    file: Path
    conventions: Conventions
    surface: Surface
    examination: Examination
    shells: tuple[Shell, ...]
    united: United | None = None


def take_in(
    file: Path,
    unit: str | None,
    forward: str | None,
    up: str | None,
    body: Body | None = None,
    chord: float | None = None,
    *,
    only_look: bool = False,
) -> Intake:
    """Read a file and examine the chosen body; see :func:`tanksolve.geometry.mesh_file.read_mesh`.

    With ``only_look`` unit, axes and a body that nobody has stated are no error, but ``conventions.missing``.

    Shells are nested only where nothing is refused. Raises MeshError for a file that cannot be
    read, unsettled conventions, and an open choice among the bodies of a scene.
    """
    tell("reading the file")
    raw = read_raw(file, chord)
    conventions = settle(raw, unit, forward, up, file, only_look)
    scene = len(raw.names) > 1
    if scene and body is None and only_look:
        conventions, body = _looking_at_all(raw, conventions), "all"
    raw = choose_part(raw, body, conventions, file) if scene else raw
    surface = checked_surface(raw, file)
    united = None
    if body == "all":
        united = unite(raw, WELD / conventions.scale, str(file), conventions.unit)
        surface = surface if united is None else checked_surface(RawMesh(united.corners), file)
    tell(f"checking {len(surface.faces):,} faces: closed, wound alike, nothing crosses")
    del raw  # as large as the file: not needed any more
    examination = examine(surface)
    # a wall is the same wall whichever way its faces were wound: only as liquid is it inside-out
    if any(finding.refused and finding.kind != "inside-out" for finding in examination.findings):
        return Intake(file, conventions, surface, examination, (), united)
    shells = nest(surface, examination)
    if not scene and body is not None and body != "all":
        surface = _only_body(surface, examination, shells, body, conventions, file)
        examination = examine(surface)
        shells = nest(surface, examination)
    return Intake(file, conventions, surface, examination, shells, united)


def settle(
    raw: RawMesh,
    unit: str | None,
    forward: str | None,
    up: str | None,
    file: Path,
    only_look: bool = False,
) -> Conventions:
    """Settle unit and axes: what the user says, else what the format states.

    Raises MeshError where neither says it.
    """
    chosen = {"unit": unit or raw.unit, "forward": forward or raw.forward, "up": up or raw.up}
    missing = tuple(name for name, value in chosen.items() if not value)
    if missing and only_look:
        chosen = {**chosen, **_shown(chosen)}
    elif missing:
        raise _unsettled(missing, file)
    rotation = axes_rotation(str(chosen["forward"]), str(chosen["up"]))
    notes = [f"{axes_words(rotation)}; lengths in {chosen['unit']}"]
    stated = {"unit": raw.unit, "forward": raw.forward, "up": raw.up}
    for name, given in (("unit", unit), ("forward", forward), ("up", up)):
        if given and stated[name] and given.strip().lstrip("+") != str(stated[name]).lstrip("+"):
            notes.append(f"{name} {given} as stated by the user; the format says {stated[name]}")
    return Conventions(
        str(chosen["unit"]), unit_length(str(chosen["unit"])), rotation, tuple(notes), missing
    )


def _unsettled(missing: tuple[str, ...], file: Path) -> MeshError:
    """Ask for what nobody has stated of unit and axes, and for that only."""
    axes = "the mesh axes that point forward and up (+x, -x, +y, -y, +z, -z)"
    allowed = {"unit": "a length unit (mm, cm, m, in, ft)", "forward": axes, "up": axes}
    example = {"unit": "mm", "forward": "+x", "up": "+z"}
    options = " ".join(f"--{name} {example[name]}" for name in missing)
    keys = ", ".join(f'{name} = "{example[name]}"' for name in missing)
    return MeshError(
        f"the file does not say its {' nor its '.join(missing)}",
        where=str(file),
        allowed=" and ".join(dict.fromkeys(allowed[name] for name in missing)),
        next_step=f"state them, for instance {options}; in a tank file {keys}. 'tanksolve new tank.toml "
        f"--from {file.name} {options}' draws up a tank file with the ports found",
    )


def _shown(chosen: dict[str, str | None]) -> dict[str, str | None]:
    """What to show a file in where nobody has said it: an axis that is not taken by the other one."""
    up = chosen["up"] or ("+x" if (chosen["forward"] or "").strip("+-") == "z" else "+z")
    ahead = chosen["forward"] or ("+x" if up.strip("+-") != "x" else "+y")
    return {"unit": chosen["unit"] or "mm", "forward": ahead, "up": up}


def checked_surface(raw: RawMesh, file: Path) -> Surface:
    """Merge the corners of what was read; refuse no faces at all and numbers that are none."""
    if len(raw.corners) == 0:
        raise MeshError(
            "no faces in the file",
            where=str(file),
            allowed="a surface of triangles",
            next_step="export the body as a mesh, not as points or curves",
        )
    # of no number at all the least and the greatest are none either
    if not (raw.corners.max() < _LARGEST and raw.corners.min() > -_LARGEST):
        bad = ~(np.abs(raw.corners) < _LARGEST)
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


def choose_part(raw: RawMesh, body: Body | None, conventions: Conventions, file: Path) -> RawMesh:
    """Keep the chosen body of a scene: a name, a number from 1, or ``all`` at once."""
    if body == "all":
        return raw
    if isinstance(body, int) and 1 <= body <= len(raw.names):
        return raw.only(body - 1)
    if isinstance(body, str) and body in raw.names:
        return raw.only(raw.names.index(body))
    problem = (
        f"the file holds {len(raw.names)} bodies"
        if body is None
        else f"there is no body '{body}' among the {len(raw.names)} of the file"
    )
    raise MeshError(
        problem,
        where=str(file),
        allowed=_bodies(raw, conventions),
        next_step="choose a body by name or number, or 'all' together",
    )


def _bodies(raw: RawMesh, conventions: Conventions) -> str:
    """Number, name and volume of each body of a scene."""
    listed = []
    for number, name in enumerate(raw.names[:_LISTED]):
        corners = raw.only(number).corners
        indices = np.arange(3 * len(corners)).reshape(-1, 3)
        with np.errstate(all="ignore"):  # nothing has been checked yet
            volume = float(
                face_volumes(corners.reshape(-1, 3), indices, corners.mean(axis=(0, 1))).sum()
            )
        words = conventions.litres(volume)
        listed.append(f"{number + 1} '{name}' ({len(corners)} faces, {words} if closed)")
    if len(raw.names) > _LISTED:
        listed.append("...")
    return "; ".join(listed)


def _looking_at_all(raw: RawMesh, conventions: Conventions) -> Conventions:
    """Take all bodies of a scene for a look, list them, and leave the choice open."""
    note = f"{len(raw.names)} bodies, shown together: {_bodies(raw, conventions)}"
    return replace(
        conventions,
        notes=(*conventions.notes, note),
        missing=(*conventions.missing, "body"),
    )


def _only_body(
    surface: Surface,
    examination: Examination,
    shells: tuple[Shell, ...],
    body: Body,
    conventions: Conventions,
    file: Path,
) -> Surface:
    bodies = liquid_bodies(surface, examination, shells)
    if not isinstance(body, int) or not 1 <= body <= len(bodies):
        listed = (
            f"{k}: {conventions.litres(reading.volume)}"
            for k, reading in enumerate(bodies[:_LISTED], 1)
        )
        raise MeshError(
            f"there is no body '{body}' among the {len(bodies)} of the file",
            where=str(file),
            allowed="; ".join(listed),
        )
    return Surface(surface.vertices, bodies[body - 1].faces, surface.dropped)
