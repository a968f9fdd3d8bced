"""A tank's surface as the bytes of a mesh file, for other programs."""

import numpy as np

from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated

__all__ = ["obj_text", "stl_bytes"]

_RECORD = np.dtype([("normal", "<f4", 3), ("corners", "<f4", (3, 3)), ("attribute", "<u2")])


def stl_bytes(tank: Tank, unit: float = 0.001) -> bytes:
    """A binary STL in a length unit given in metres (millimetres by default), x forward, z up.

    STL holds 32-bit floats: coordinates are rounded to about seven digits. Its header names the
    tank, the unit and the axes, because the format has no place for them.
    """
    corners = tank.vertices[tank.faces] / unit
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    data = np.zeros(len(corners), _RECORD)
    data["normal"] = normal / np.linalg.norm(normal, axis=1)[:, None]
    data["corners"] = corners
    words = f"{tank.name}, 1 unit = {stated(unit, 'length')}, x forward, y left, z up"
    header = words.encode("ascii", "replace")[:80].ljust(80)
    return header + np.uint32(len(data)).tobytes() + data.tobytes()


def obj_text(tank: Tank, unit: float = 0.001) -> str:
    """An OBJ in a length unit given in metres (millimetres by default), x forward, z up, all digits kept."""
    lines = [f"# {tank.name}, 1 unit = {stated(unit, 'length')}, x forward, y left, z up"]
    lines += [f"v {x!r} {y!r} {z!r}" for x, y, z in (tank.vertices / unit).tolist()]
    lines += [f"f {a} {b} {c}" for a, b, c in (tank.faces + 1).tolist()]
    return "\n".join(lines) + "\n"
