"""First sloshing frequencies of a tank's bays: closed forms for a box and an upright cylinder.

Small waves, still walls, liquid without viscosity. A tank of any other shape is answered by an
equivalent box, and said to be an estimate. Thick oil damps, but does not shift, these waves much.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass

from tanksolve.errors import FillError, TankError
from tanksolve.model.attitude import GRAVITY

__all__ = [
    "BaffleEffect",
    "SloshMode",
    "box_frequency",
    "box_modes",
    "cylinder_frequency",
    "equivalent_box",
    "near_excitation",
    "with_baffle",
]

_CYLINDER_ROOT = 1.84118  # first zero of J1', the first sideways wave of a cylinder (from memory)
NEAR = (
    0.2  # a wave within 20 % of a figure of excitation is called near: common practice, no source
)


@dataclass(frozen=True)
class SloshMode:
    """A standing wave: its direction in words, frequency [Hz], and how well it is known."""

    direction: str
    frequency_hz: float
    length_m: float
    depth_m: float
    basis: str


def _sizes(**sizes: float) -> None:
    for name, value in sizes.items():
        if not (math.isfinite(value) and value > 0.0):
            raise TankError(f"a {name} of {1000 * value:g} mm is not positive")


def box_frequency(length: float, depth: float, mode: int = 1, gravity: float = GRAVITY) -> float:
    """Frequency [Hz] of wave ``mode`` along a box ``length`` [m] filled to ``depth`` [m].

    ``f = sqrt(g k tanh(k h)) / 2 pi``, ``k = n pi / L``. References: H. Lamb, "Hydrodynamics",
    and the slosh case V8.21.101 of a general finite-element code's validation manual (read there).
    """
    _sizes(length=length, depth=depth)
    k = mode * math.pi / length
    return math.sqrt(gravity * k * math.tanh(k * depth)) / (2.0 * math.pi)


def cylinder_frequency(radius: float, depth: float, gravity: float = GRAVITY) -> float:
    """First sideways frequency [Hz] of an upright cylinder: the box's form with k = 1.84118/R."""
    _sizes(radius=radius, depth=depth)
    k = _CYLINDER_ROOT / radius
    return math.sqrt(gravity * k * math.tanh(k * depth)) / (2.0 * math.pi)


def box_modes(length: float, width: float, depth: float, basis: str) -> tuple[SloshMode, ...]:
    """First longitudinal and lateral waves of a box (x along ``length``, y along ``width``) [m]."""
    return (
        SloshMode("longitudinal", box_frequency(length, depth), length, depth, basis),
        SloshMode("lateral", box_frequency(width, depth), width, depth, basis),
    )


def equivalent_box(
    volume: float, surface_area: float, second_x: float, second_y: float
) -> tuple[SloshMode, ...]:
    """Waves of the box with the same volume, surface area and second moments of the surface.

    Parameters
    ----------
    volume, surface_area : liquid [m³] and its level free surface [m²].
    second_x, second_y : integrals of x² and y² over the surface about its centroid [m⁴].

    An estimate: a box's surface has ``L = sqrt(12 I/A)``; its depth is volume over area.
    """
    for value, what in ((volume, "volume"), (surface_area, "surface")):
        if not (math.isfinite(value) and value > 0.0):
            raise FillError(f"a {what} of {value:g} is not positive")
    length, width = (math.sqrt(12.0 * i / surface_area) for i in (second_x, second_y))
    basis = "estimate by an equivalent box: same volume, surface and moments of the surface"
    return box_modes(length, width, volume / surface_area, basis)


def near_excitation(frequency: float, excitations: Sequence[float]) -> tuple[float, ...]:
    """Those of the user's excitations [Hz] that lie within 20 % of a wave's frequency [Hz]."""
    for excitation in excitations:
        if not (math.isfinite(excitation) and excitation > 0.0):
            raise FillError(f"an excitation of {excitation:g} Hz is not positive")
    return tuple(e for e in excitations if abs(e - frequency) <= NEAR * frequency)


@dataclass(frozen=True)
class BaffleEffect:
    """What one solid cross-wise baffle does: waves of the two bays [Hz] beside that of the whole."""

    position_m: float
    whole_hz: float
    rear_hz: float
    front_hz: float
    words: str


def with_baffle(length: float, depth: float, position: float) -> BaffleEffect:
    """Split a box ``length`` [m] by a solid, full-height baffle at ``position`` [m] from the rear.

    Both bays stay at the same depth [m]. Raises TankError for a baffle outside the box.
    """
    _sizes(length=length, depth=depth)
    if not 0.0 < position < length:
        raise TankError(
            f"a baffle at {1000 * position:g} mm is outside the tank",
            allowed=f"more than 0, less than {1000 * length:g} mm from the rear",
        )
    whole = box_frequency(length, depth)
    rear, front = box_frequency(position, depth), box_frequency(length - position, depth)
    words = (
        f"a solid baffle {1000 * position:.0f} mm from the rear takes the first longitudinal wave"
        f" from {whole:.2f} Hz to {min(rear, front):.2f} Hz in the longer bay; a baffle with holes"
        " lies between"
    )
    return BaffleEffect(position, whole, rear, front, words)
