"""How a mesh file's axes and unit are taken: stated by the user, told back in words."""

import re

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import MeshError, QuantityError
from tanksolve.unit_systems import current, told
from tanksolve.units import parse_length, volume_words

Array = NDArray[np.float64]

__all__ = ["axes_rotation", "axes_words", "box_words", "implausible", "unit_length"]

_AXES = {"x": (1, 0, 0), "y": (0, 1, 0), "z": (0, 0, 1)}
_FRAME = ("forward", "left", "up")
_LENGTHS = {"mm": 0.001, "cm": 0.01, "m": 1.0, "in": 0.0254, "ft": 0.3048}
_PLAUSIBLE = (1e-5, 100.0)  # m3: what a tank on a machine holds; common practice, no source


def _axis_vector(text: str, option: str) -> Array:
    """Read a mesh axis such as ``+x``, ``-y`` or ``z`` as a unit vector (3,). Raises MeshError."""
    match = re.fullmatch(r"\s*([+-]?)\s*([xyz])\s*", text.lower())
    if match is None:
        raise MeshError(
            f"'{text}' is not an axis of the mesh",
            where=option,
            allowed="+x, -x, +y, -y, +z, -z",
            next_step="look in the drawing program which axis points that way",
        )
    sign = -1.0 if match[1] == "-" else 1.0
    return sign * np.asarray(_AXES[match[2]], float)


def axes_rotation(forward: str, up: str) -> Array:
    """Rotation (3, 3) from the mesh's axes to the tank's: rows forward, left, up.

    Left follows from the other two, so a mirrored tank cannot be described by mistake.
    Raises MeshError where an axis is unknown or both lie along one line.
    """
    ahead, above = _axis_vector(forward, "forward"), _axis_vector(up, "up")
    if abs(float(ahead @ above)) > 0.5:
        raise MeshError(
            f"forward '{forward}' and up '{up}' lie along the same axis",
            where="axes of the mesh",
            allowed="two different axes, as in forward +x, up +z",
        )
    return np.stack([ahead, np.cross(above, ahead), above])


def axes_words(rotation: Array) -> str:
    """Say which mesh axis points where: ``mesh +y is forward, mesh +z is up, so ...``."""
    names = []
    for row in rotation:
        k = int(np.argmax(np.abs(row)))
        names.append(f"{'+' if row[k] > 0 else '-'}{'xyz'[k]}")
    return (
        f"mesh {names[0]} is forward, mesh {names[2]} is up, so mesh {names[1]} is left "
        f"(right-handed)"
    )


def unit_length(unit: str) -> float:
    """Length of the mesh's unit in metres; raises QuantityError for what is not a length."""
    if unit == "um":  # as 3MF may be; no unit that people write for a tank
        return 1e-6
    if unit in _LENGTHS:  # the usual ones, without starting the unit library
        return _LENGTHS[unit]
    if unit == "um":  # no tank is measured in it, but a 3MF may be written in it
        return 1e-6
    if not unit.strip() or unit.strip()[0] in "0123456789.+-":
        raise QuantityError(
            f"'{unit}' is not the name of a unit",
            where="unit of the mesh",
            allowed="mm, cm, m, in, ft",
        )
    length = parse_length("1" + unit.strip(), "unit of the mesh")
    if not length > 0.0:
        raise QuantityError(f"'{unit}' is not a unit of length", where="unit of the mesh")
    return length


def box_words(vertices: Array) -> str:
    """Say where the enclosing box of vertices (N, 3) [m], tank frame, lies, in the units in force."""
    unit = current().units["length"]
    ends = zip(_FRAME, unit.of(vertices.min(axis=0)), unit.of(vertices.max(axis=0)), strict=True)
    ranges = (f"{name} {a:.{unit.digits}f} to {b:.{unit.digits}f}" for name, a, b in ends)
    return f"enclosing box {', '.join(ranges)} {unit.symbol}"


def implausible(capacity: float, scale: float) -> str:
    """Question a capacity [m³] that hardly belongs to a tank on a machine; empty where it may.

    ``scale`` the length of the file's unit [m]: it is told what the tank would hold in other units.
    """
    if _PLAUSIBLE[0] <= capacity <= _PLAUSIBLE[1]:
        return ""
    others = []
    for unit, length in _LENGTHS.items():
        ratio = length / scale
        if _PLAUSIBLE[0] <= capacity * ratio**3 <= _PLAUSIBLE[1]:
            others.append(f"{volume_words(capacity * ratio**3)} in {unit}")
    hint = f"; it would hold {', '.join(others)}" if others else ""
    least = f"less than {told(_PLAUSIBLE[0], 'small volume')}"
    held = least if capacity < _PLAUSIBLE[0] else volume_words(capacity)
    return f"is the unit right? The tank holds {held}{hint}"
