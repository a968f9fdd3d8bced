"""Attitudes as up vectors: how gravity's opposite looks from the tank. Arrays in, arrays out.

Tank frame: x forward, y left, z up, right-handed. Angles in radians. Every function broadcasts
and returns ``(..., 3)`` unit vectors. Liquid lies where ``up · x <= height``.
"""

import numpy as np
from numpy.typing import ArrayLike, NDArray

Array = NDArray[np.float64]

__all__ = [
    "inclinometer_from_up",
    "pitch_roll_from_up",
    "projected_from_up",
    "slope_heading_deg",
    "slope_heading_from_up",
    "up_from_inclinometer",
    "up_from_pitch_roll",
    "up_from_projected",
    "up_from_slope_heading",
    "up_with_acceleration",
]


def _stack(x: ArrayLike, y: ArrayLike, z: ArrayLike) -> Array:
    return np.stack(np.broadcast_arrays(x, y, z), axis=-1).astype(np.float64)


def up_from_pitch_roll(pitch: ArrayLike, roll: ArrayLike) -> Array:
    """Up for successive rotations yaw, pitch, roll: pitch nose up +, roll right side down +."""
    p, r = np.asarray(pitch, float), np.asarray(roll, float)
    return _stack(np.sin(p), np.sin(r) * np.cos(p), np.cos(r) * np.cos(p))


def pitch_roll_from_up(up: ArrayLike) -> tuple[Array, Array]:
    """Invert :func:`up_from_pitch_roll`; pitch in [-pi/2, pi/2], roll in (-pi, pi]."""
    u = np.asarray(up, float)
    return np.arctan2(u[..., 0], np.hypot(u[..., 1], u[..., 2])), np.arctan2(u[..., 1], u[..., 2])


def up_from_inclinometer(pitch: ArrayLike, roll: ArrayLike) -> Array:
    """Up for two readings, each axis against the horizontal: ``u_x = sin p, u_y = sin r``.

    Raises ValueError where ``sin² p + sin² r > 1``: no attitude gives such a pair.
    """
    x, y = np.sin(np.asarray(pitch, float)), np.sin(np.asarray(roll, float))
    z2 = 1.0 - x * x - y * y
    if np.any(z2 < -1e-15):
        raise ValueError("no attitude has these two readings: sin² p + sin² r exceeds 1")
    return _stack(x, y, np.sqrt(np.maximum(z2, 0.0)))


def inclinometer_from_up(up: ArrayLike) -> tuple[Array, Array]:
    """Give the two readings of an inclinometer, each axis against the horizontal."""
    u = np.asarray(up, float)
    pitch = np.arctan2(u[..., 0], np.hypot(u[..., 1], u[..., 2]))
    return pitch, np.arctan2(u[..., 1], np.hypot(u[..., 0], u[..., 2]))


def up_from_projected(pitch: ArrayLike, roll: ArrayLike) -> Array:
    """Up for a device that reports arctangent projections: ``u ~ (tan p, tan r, 1)``."""
    raw = _stack(np.tan(np.asarray(pitch, float)), np.tan(np.asarray(roll, float)), 1.0)
    return np.asarray(raw / np.linalg.norm(raw, axis=-1, keepdims=True))


def projected_from_up(up: ArrayLike) -> tuple[Array, Array]:
    """Invert :func:`up_from_projected`; up must point above the tank's floor plane."""
    u = np.asarray(up, float)
    return np.arctan2(u[..., 0], u[..., 2]), np.arctan2(u[..., 1], u[..., 2])


def up_from_slope_heading(slope: ArrayLike, heading: ArrayLike) -> Array:
    """Up for a slope and the direction of uphill seen from the machine.

    Heading 0: nose uphill; 90 deg: left side uphill; 180: nose downhill; 270: right side uphill.
    """
    b, k = np.asarray(slope, float), np.asarray(heading, float)
    return _stack(np.sin(b) * np.cos(k), np.sin(b) * np.sin(k), np.cos(b))


def slope_heading_from_up(up: ArrayLike) -> tuple[Array, Array]:
    """Invert :func:`up_from_slope_heading`; heading in [0, 2 pi), 0 on level ground."""
    u = np.asarray(up, float)
    slope = np.arctan2(np.hypot(u[..., 0], u[..., 1]), u[..., 2])
    return slope, np.mod(np.arctan2(u[..., 1], u[..., 0]), 2.0 * np.pi)


def up_with_acceleration(up: ArrayLike, acceleration: ArrayLike, gravity: float) -> Array:
    """Effective up of liquid in rigid-body motion: ``(g u0 + a) / |g u0 + a|``.

    ``acceleration`` is the machine's own, in tank axes [m/s²]: braking is ``(-a, 0, 0)``.
    Raises ValueError in free fall, where there is no up.
    """
    total = gravity * np.asarray(up, float) + np.asarray(acceleration, float)
    length = np.linalg.norm(total, axis=-1, keepdims=True)
    if np.any(length < 1e-9 * gravity):
        raise ValueError("gravity and acceleration cancel: the liquid has no surface")
    return np.asarray(total / length)


def slope_heading_deg(up: Array) -> tuple[float, float]:
    """Slope and heading [°] of an up vector (3,)."""
    slope, heading = slope_heading_from_up(up)
    return float(np.degrees(slope)), float(np.degrees(heading))
