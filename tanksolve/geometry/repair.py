"""Mends a mesh file into another: only with a bounded change of volume, stated; else it refuses."""

import os
import tempfile
from dataclasses import dataclass
from pathlib import Path

import numpy as np

from tanksolve.errors import MeshError, OutputError
from tanksolve.files import check_folder
from tanksolve.geometry.findings import Finding, counted, place_words
from tanksolve.geometry.formats import read_raw
from tanksolve.geometry.intake import checked_surface
from tanksolve.geometry.mend import (
    Mended,
    Step,
    close_holes,
    drop_collapsed,
    drop_duplicates,
    join_equal_corners,
    join_near_corners,
    stitch_edges,
    turn_flipped,
)
from tanksolve.geometry.mesh_checks import Surface, examine
from tanksolve.geometry.shells import nest
from tanksolve.geometry.stl import stl_bytes
from tanksolve.kernel.topology.edges import edges_of

__all__ = ["Repair", "repair_mesh"]

_WRITES = (".stl", ".obj", ".ply")
_GAP = 1e-5  # corners of a leak this near, relative to the size, are taken for one
_WIDER_GAPS = (4.0, 16.0, 64.0)  # times that, tried where it leaves leaks and these leave none
_HOLE = 0.05  # holes up to this width, relative to the size, are closed
_MOST_CHANGE = 0.01  # of the volume; a repair that may have changed more is none


@dataclass(frozen=True)
class Repair:
    """What a repair did.

    Attributes
    ----------
    steps : what was mended, in order; empty where the mesh was sound.
    volume : of the mended surface, in the file's unit cubed.
    volume_bound : by how much the steps can have changed it at most, same unit.
    change : the bound as a share of the volume.
    """

    file: str
    output: str
    steps: tuple[Mended, ...]
    volume: float
    volume_bound: float

    @property
    def change(self) -> float:
        """Greatest possible change as a share of the volume."""
        return self.volume_bound / self.volume


def repair_mesh(
    path: str | Path,
    output: str | Path,
    *,
    gap: float | None = None,
    hole: float | None = None,
) -> Repair:
    """Mend duplicate, collapsed and flipped faces, near corners and small holes of a mesh file.

    Parameters
    ----------
    path : the file to mend; it is never written to. All bodies of a scene are taken together.
    output : an STL, OBJ or PLY file; written whole, and only when the mended mesh is sound.
    gap : corners at leaks up to this far apart are joined, in the file's unit; by default
        1e-5 of the mesh's size, or up to 64 times that where it closes all leaks.
    hole : holes up to this width are closed, in the file's unit; by default 5 % of the size.

    Raises
    ------
    MeshError : what is left cannot be mended (self-crossing, sheets, large holes), or the repair
        could change the volume by more than 1 %.
    OutputError : the output is the input, of another format, or cannot be written.
    """
    file, target = Path(path), Path(output)
    _check_output(file, target)
    surface = checked_surface(read_raw(file), file)
    steps: list[Mended] = []

    def take(step: Step) -> Surface:
        mended, done = step
        if done is not None:
            steps.append(done)
        return mended

    size = surface.size
    surface = take(drop_collapsed(surface))
    surface = take(join_equal_corners(surface))
    surface = take(drop_duplicates(surface))
    if len(surface.faces) == 0:
        raise MeshError(
            "nothing is left of the mesh: all its faces lie back to back in pairs",
            where=str(file),
            next_step="give the sheet a thickness in the program that drew it",
        )
    surface = take(_joined(surface, gap))
    surface = take(stitch_edges(surface, _GAP * size if gap is None else gap))
    surface = take(drop_duplicates(surface))
    surface = take(close_holes(surface, _HOLE * size if hole is None else hole))
    surface = take(turn_flipped(surface))
    surface, turned = _outward(surface)
    steps += turned
    volume = _sound_volume(surface, steps, file)
    bound = sum(step.volume_bound for step in steps)
    if bound > _MOST_CHANGE * volume:
        raise MeshError(
            f"mending could change the volume by up to {100 * bound / volume:.2g} %",
            where=str(file),
            allowed=f"{100 * _MOST_CHANGE:g} %; {'; '.join(step.words for step in steps)}",
            next_step="close the larger holes in the program that drew it",
        )
    _write(surface, target)
    return Repair(str(file), str(target), tuple(steps), volume, bound)


def _joined(surface: Surface, gap: float | None) -> Step:
    """Join near corners: within the gap stated, else within the least of some that closes all leaks.

    Where none does, the narrowest is tried, and the holes that are left are closed as holes.
    """
    if gap is not None:
        return join_near_corners(surface, gap)
    first = join_near_corners(surface, _GAP * surface.size)
    for share in (1.0, *_WIDER_GAPS):
        step = first if share == 1.0 else join_near_corners(surface, share * _GAP * surface.size)
        if (edges_of(step[0].faces).twin >= 0).all():
            return step
    return first


def _check_output(file: Path, target: Path) -> None:
    if target.suffix.lower() not in _WRITES:
        raise OutputError(
            f"'{target.suffix}' is not a format that a repair is written in",
            where=str(target),
            allowed=", ".join(_WRITES),
        )
    if target.resolve() == file.resolve() or (
        target.exists() and file.exists() and target.samefile(file)
    ):
        raise OutputError(
            "a repair never overwrites its input",
            where=str(target),
            next_step="give another name for the output",
        )
    check_folder(target, str(target))


def _outward(surface: Surface) -> tuple[Surface, list[Mended]]:
    """Turn shells to look out of the body: outermost ones outwards, voids in them inwards, and so on.

    Where a shell lies says what it is: one inside another bounds a void, however it was wound. Taken
    as wound, a void that looks outwards would count its volume twice.
    """
    examination = examine(surface)
    if any(finding.kind != "inside-out" for finding in examination.findings):
        return surface, []
    shells = nest(surface, examination)
    wrong = [s for s in shells if (s.volume > 0.0) == (s.depth % 2 == 1)]
    if not wrong:
        return surface, []
    faces = surface.faces.copy()
    turned = np.isin(examination.shells.label, [s.number - 1 for s in wrong])
    faces[turned] = faces[turned][:, ::-1]
    steps = []
    for kind, group, what in (
        ("inside-out", [s for s in wrong if s.depth % 2 == 0], "turned inside out"),
        (
            "void",
            [s for s in wrong if s.depth % 2 == 1],
            "inside another turned to bound a void, which would have counted twice",
        ),
    ):
        if group:
            places = tuple((s.lower[0], s.lower[1], s.lower[2]) for s in group[:3])
            words = f"{counted(len(group), 'shell', 'shells')} {what}"
            steps.append(Mended(kind, sum(s.faces for s in group), places, words))
    return Surface(surface.vertices, faces, surface.dropped), steps


def _sound_volume(surface: Surface, steps: list[Mended], file: Path) -> float:
    examination = examine(surface)
    left = [finding for finding in examination.findings if finding.refused]
    if left:
        done = "; ".join(step.words for step in steps) or "nothing"
        raise MeshError(
            f"cannot be mended: {'; '.join(_told(finding) for finding in left)}",
            where=str(file),
            allowed=f"mended so far: {done}",
            next_step=left[0].advice.replace(", or 'tanksolve repair'", ""),
        )
    return float(examination.shell_volumes.sum())


def _told(finding: Finding) -> str:
    place = f" at {place_words(finding.places[0], '')}" if finding.places else ""
    return f"{finding.words}{place}"


def _write(surface: Surface, target: Path) -> None:
    """Write the mesh beside its place, read it back, and only then move it there."""
    try:
        handle, name = tempfile.mkstemp(suffix=target.suffix, dir=target.parent)
        os.close(handle)
        draft = Path(name)
        try:
            draft.write_bytes(_as_bytes(surface, target.suffix.lower()))
            written = examine(checked_surface(read_raw(draft), target))
            if any(finding.refused for finding in written.findings):
                raise MeshError(
                    "the mended mesh does not survive the rounding of this format",
                    where=str(target),
                    next_step="write an OBJ or PLY instead",
                )
            draft.chmod(0o644)
            draft.replace(target)
        finally:
            draft.unlink(missing_ok=True)
    except OSError as error:
        raise OutputError(
            f"cannot be written: {(error.strerror or str(error)).lower()}",
            where=str(target),
            next_step="choose a folder that exists and can be written to",
        ) from error


def _as_bytes(surface: Surface, suffix: str) -> bytes:
    if suffix == ".stl":
        return stl_bytes(surface.vertices[surface.faces])
    used, faces = np.unique(surface.faces, return_inverse=True)
    points = [f"{x!r} {y!r} {z!r}" for x, y, z in surface.vertices[used].tolist()]
    corners = faces.reshape(-1, 3).tolist()
    if suffix == ".obj":
        lines = [f"v {p}" for p in points] + [f"f {a + 1} {b + 1} {c + 1}" for a, b, c in corners]
    else:
        lines = ["ply", "format ascii 1.0", f"element vertex {len(points)}"]
        lines += [f"property double {c}" for c in "xyz"]
        lines += [f"element face {len(corners)}", "property list uchar int vertex_indices"]
        lines += ["end_header", *points, *(f"3 {a} {b} {c}" for a, b, c in corners)]
    return ("\n".join(lines) + "\n").encode()
