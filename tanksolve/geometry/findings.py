"""A fault of a mesh as a record, and as the error that refuses it."""

from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import PurePath

from tanksolve.errors import MeshError

Place = tuple[float, float, float]

__all__ = ["Finding", "Place", "advised", "counted", "place_words", "refuse"]

_REPAIR = "'tanksolve repair'"
_WRITTEN = (".stl", ".obj", ".ply")


@dataclass(frozen=True)
class Finding:
    """One kind of fault (or peculiarity) of a mesh.

    Attributes
    ----------
    kind : one word or two, such as ``leaking``; stable, for programs.
    count : how many edges, faces, vertices or shells.
    places : up to three places, in the mesh file's own coordinates and unit.
    words : what it is, for people.
    advice : what to do about it.
    refused : whether a mesh with this fault is refused.
    """

    kind: str
    count: int
    places: tuple[Place, ...]
    words: str
    advice: str
    refused: bool = True


def counted(number: int, one: str, many: str) -> str:
    """Write a number with its noun (and verb): ``1 edge has``, ``3 edges have``."""
    return f"{number} {one if number == 1 else many}"


def refuse(findings: Sequence[Finding], where: str, unit: str) -> None:
    """Raise MeshError for the first finding that is refused, naming the others."""
    bad = [finding for finding in findings if finding.refused]
    if not bad:
        return
    first, others = bad[0], bad[1:]
    places = "; ".join(place_words(place, unit) for place in first.places)
    also = f" (also: {', '.join(f'{f.kind}, {f.count}' for f in others)})" if others else ""
    at = f", at {places}" if places else ""
    more = ", ..." if first.count > len(first.places) > 0 else ""
    raise MeshError(
        f"{first.kind}: {first.words}{at}{more}{also}",
        where=where,
        allowed="a closed surface whose faces look out of the liquid and do not cross",
        next_step=advised(first, where),
    )


def advised(finding: Finding, file: str) -> str:
    """What to do about a fault, with the command that mends it as it is typed."""
    name = PurePath(file)
    suffix = name.suffix.lower() if name.suffix.lower() in _WRITTEN else ".stl"
    both = (name.name, f"{name.stem}_mended{suffix}")
    typed = " ".join(f'"{one}"' if " " in one else one for one in both)
    return finding.advice.replace(_REPAIR, f"'tanksolve repair {typed}'")


def place_words(place: Place, unit: str) -> str:
    """Write a place in the file's own coordinates, as the user finds it in the drawing."""
    return "(" + ", ".join(f"{c:.6g}" for c in place) + f") {unit}".rstrip()
