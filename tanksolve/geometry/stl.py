"""Reads STL files, binary and ASCII, into bare triangles.

trimesh would do as well, but to import it takes longer than the whole of the answer
(docs/decisions/stl-reader.md).
"""

import re
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError

Array = NDArray[np.float64]

__all__ = ["read_stl", "stl_bytes"]

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])
_HEADER = 84  # 80 bytes of text and the number of faces
_FACET = (
    b"facet normal x y z outer loop vertex x y z vertex x y z vertex x y z endloop endfacet".split()
)
_WORDS = [i for i, word in enumerate(_FACET) if word not in (b"x", b"y", b"z")]
_NUMBERS = [8, 9, 10, 12, 13, 14, 16, 17, 18]
_BATCH = 50_000  # facets turned into numbers at a time, to bound the memory
_SOLID_LINES = re.compile(rb"^[ \t]*(?:end)?solid\b[^\r\n]*", re.MULTILINE)


def read_stl(path: Path) -> Array:
    """Read the corners (F, 3, 3) of all faces, in the file's unit; normals are ignored.

    Single-precision numbers are kept as they are (every float32 is a float64). Several solids in
    an ASCII file are read as one.

    Raises
    ------
    MeshError : the file is neither kind of STL, or breaks off.
    """
    data = path.read_bytes()
    count = int.from_bytes(data[80:_HEADER], "little") if len(data) >= _HEADER else -1
    if count >= 0 and len(data) == _HEADER + count * _RECORD.itemsize:
        return _binary(data, count)
    if data.lstrip()[:5].lower() == b"solid" and b"facet" in data[:4000].lower():
        return _ascii(data, path)
    if count < 0:
        raise MeshError(
            f"the file breaks off after {len(data)} bytes, inside the STL header",
            where=str(path),
            allowed="a binary STL (84 bytes of header, 50 for each face) or an ASCII one",
            next_step="export or copy the file again",
        )
    found = (len(data) - _HEADER) // _RECORD.itemsize
    if found >= count:
        # Some writers add a footer; the faces that the header announces are all there.
        return _binary(data, count)
    raise MeshError(
        f"truncated STL: the header announces {count} faces, the file holds {found}",
        where=str(path),
        allowed=f"{_HEADER + count * _RECORD.itemsize} bytes; there are {len(data)}",
        next_step="export or copy the file again",
    )


def _binary(data: bytes, count: int) -> Array:
    records = np.frombuffer(data, _RECORD, count=count, offset=_HEADER)
    return records["corners"].astype(np.float64)


def _ascii(data: bytes, path: Path) -> Array:
    data = data.lower()
    if not re.search(rb"endsolid[^\r\n]*\s*\Z", data):
        last_line = len(data.splitlines())
        raise MeshError(
            "truncated STL: the ASCII file does not end with 'endsolid'",
            where=f"{path}, line {last_line}",
            next_step="export or copy the file again",
        )
    facets = re.split(rb"(?<=endfacet)", _SOLID_LINES.sub(b"", data))
    if facets and not facets[-1].strip():
        facets.pop()
    parts = [
        _numbers(facets[start : start + _BATCH], start, path)
        for start in range(0, len(facets), _BATCH)
    ]
    return np.concatenate(parts) if parts else np.zeros((0, 3, 3))


def _numbers(facets: list[bytes], start: int, path: Path) -> Array:
    """Turn a batch of ASCII facets, the first of them number ``start``, into corners."""
    rows = []
    for index, facet in enumerate(facets, start):
        words = facet.split()
        if len(words) != len(_FACET) or any(words[i] != _FACET[i] for i in _WORDS):
            raise _malformed(b" ".join(words), index, path)
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
