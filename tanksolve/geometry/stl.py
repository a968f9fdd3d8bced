"""Reads STL files, binary and ASCII, into bare triangles.

trimesh would do as well, but to import it takes longer than the whole of the answer
(docs/decisions/stl-reader.md).
"""

import os
import re
from pathlib import Path
from typing import BinaryIO

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError
from tanksolve.gate.files import opened

Array = NDArray[np.float64]

__all__ = ["MESH_BYTES", "read_stl", "stl_bytes"]

MESH_BYTES = 2_000_000_000  # that a mesh file may have

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_HEADER = 84  # 80 bytes of text and the number of faces
_FACET = (
    b"facet normal x y z outer loop vertex x y z vertex x y z vertex x y z endloop endfacet".split()
)
_WORDS = [i for i, word in enumerate(_FACET) if word not in (b"x", b"y", b"z")]
_NUMBERS = [8, 9, 10, 12, 13, 14, 16, 17, 18]
_BATCH = 50_000  # faces turned into numbers at a time, to bound the memory
_PIECE = 4 << 20  # bytes of an ASCII file read at a time
_SOLID_LINES = re.compile(rb"^[ \t]*(?:end)?solid\b[^\r\n]*", re.MULTILINE)


def read_stl(path: Path) -> Array:
    """Read the corners (F, 3, 3) of all faces, in the file's unit; normals are ignored.

    Single-precision numbers are kept as they are (every float32 is a float64). Several solids in
    an ASCII file are read as one.

    Raises
    ------
    MeshError : the file is neither kind of STL, or breaks off.
    """
    with opened(path, MESH_BYTES, "mesh file", MeshError) as file:
        size = file.seek(0, os.SEEK_END)
        if size == 0:
            raise MeshError("the file is empty", where=str(path), next_step="export it again")
        file.seek(0)
        start = file.read(4000)
        count = int.from_bytes(start[80:_HEADER], "little") if size >= _HEADER else -1
        if count >= 0 and size == _HEADER + count * _RECORD.itemsize:
            return _binary(file, count, path)
        if start.lstrip()[:5].lower() == b"solid" and b"facet" in start.lower():
            return _ascii(file, path)
        if count < 0:
            raise MeshError(
                f"the file breaks off after {size} bytes, inside the STL header",
                where=str(path),
                allowed="a binary STL (84 bytes of header, 50 for each face) or an ASCII one",
                next_step="export or copy the file again",
            )
        found = (size - _HEADER) // _RECORD.itemsize
        if found >= count:
            # Some writers add a footer; the faces that the header announces are all there.
            return _binary(file, count, path)
    raise MeshError(
        f"truncated STL: the header announces {count} faces, the file holds {found}",
        where=str(path),
        allowed=f"{_HEADER + count * _RECORD.itemsize} bytes; there are {size}",
        next_step="export or copy the file again",
    )


def _binary(file: BinaryIO, count: int, path: Path) -> Array:
    file.seek(_HEADER)
    corners = np.empty((count, 3, 3))
    for start in range(0, count, _BATCH):
        wanted = min(_BATCH, count - start) * _RECORD.itemsize
        part = file.read(wanted)
        if len(part) < wanted:
            raise MeshError("the file grew shorter while it was read", where=str(path))
        records = np.frombuffer(part, _RECORD)
        corners[start : start + len(records)] = records["corners"]
    return corners


def _ascii(file: BinaryIO, path: Path) -> Array:
    """Read an ASCII STL a piece at a time, so that memory is bounded by what it holds of faces."""
    file.seek(0)
    parts, rest, index = [], b"", 0
    while piece := file.read(_PIECE):
        text = rest + piece.lower()
        end = text.rfind(b"endfacet") + len(b"endfacet")
        if end < len(b"endfacet"):  # there is none
            if len(text) > _PIECE:
                raise _malformed(b" ".join(text[:4000].split()), index, path)
            end = 0
        facets, rest = _facets(text[:end]), text[end:]
        parts.append(_numbers(facets, index, path))
        index += len(facets)
    closing = rest.rstrip()
    closing = closing[max(closing.rfind(b"\n"), closing.rfind(b"\r")) + 1 :]
    if not closing.lstrip().startswith(b"endsolid"):
        file.seek(0)
        raise MeshError(
            "truncated STL: the ASCII file does not end with 'endsolid'",
            where=f"{path}, line {sum(1 for _ in file)}",
            next_step="export or copy the file again",
        )
    facets = _facets(rest)
    parts.append(_numbers(facets, index, path))
    return np.concatenate(parts)


def _facets(text: bytes) -> list[bytes]:
    """The facets of a text that does not begin inside one; lines of 'solid' and 'endsolid' left out."""
    facets = re.split(rb"(?<=endfacet)", _SOLID_LINES.sub(b"", text))
    return facets[:-1] if not facets[-1].strip() else facets


def _numbers(facets: list[bytes], start: int, path: Path) -> Array:
    """Turn a batch of ASCII facets, the first of them number ``start``, into corners."""
    rows = []
    for index, facet in enumerate(facets, start):
        words = facet.split()
        if len(words) != len(_FACET) or any(words[i] != _FACET[i] for i in _WORDS):
            raise _malformed(b" ".join(words[:30]), index, path)
        try:
            rows.append([float(words[i]) for i in _NUMBERS])
        except ValueError as error:
            raise _malformed(b" ".join(words), index, path) from error
    return np.asarray(rows, float).reshape(-1, 3, 3)


def _malformed(text: bytes, index: int, path: Path) -> MeshError:
    shown = text[:100].decode("ascii", "replace")
    return MeshError(
        f"facet {index + 1} of the ASCII STL is malformed: '{shown}'",
        where=str(path),
        allowed="facet normal, outer loop, three vertex lines, endloop, endfacet",
        next_step="export or copy the file again",
    )


def stl_bytes(corners: Array) -> bytes:
    """Write faces (F, 3, 3) as a binary STL; coordinates are rounded to single precision."""
    records = np.zeros(len(corners), _RECORD)
    records["corners"] = corners
    normals = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    length = np.linalg.norm(normals, axis=1, keepdims=True)
    records["normal"] = normals / np.where(length > 0.0, length, 1.0)
    header = b"binary STL written by tanksolve".ljust(80) + len(corners).to_bytes(4, "little")
    return header + records.tobytes()
