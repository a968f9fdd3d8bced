"""How the machine stands, said in any of the usual ways, kept as one up vector."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import AttitudeError
from tanksolve.kernel.attitude import direction
from tanksolve.units import slope_words

__all__ = [
    "GRAVITY",
    "Attitude",
    "heading_words",
    "mounting_rotation",
    "pitch_roll_words",
    "uphill_words",
]

GRAVITY = 9.80665  # m/s², standard gravity, SI Brochure (from memory)
_RIGHT_ANGLE = 0.5 * math.pi


def _below_right_angle(name: str, angle: float) -> None:
    if not abs(angle) < _RIGHT_ANGLE:
        raise AttitudeError(
            f"{name} of {math.degrees(angle):g}° is at or past 90°",
            allowed="more than -90° and less than 90°",
            next_step="a tank limit is about a machine on its wheels, tracks or keel",
        )


@dataclass(frozen=True)
class Attitude:
    """One attitude: the unit vector opposite to gravity, seen from the tank (x forward, y left, z up).

    Raises ValueError where ``up`` is not a finite unit vector.
    """

    up: tuple[float, float, float]

    def __post_init__(self) -> None:
        if not abs(math.hypot(*self.up) - 1.0) < 1e-9:
            raise ValueError(f"up {self.up} is not a unit vector")

    @classmethod
    def level(cls) -> "Attitude":
        """The machine on level ground."""
        return cls((0.0, 0.0, 1.0))

    @classmethod
    def from_rotations(cls, pitch: float, roll: float) -> "Attitude":
        """Pitch (nose up +), then roll (right side down +), as successive rotations [rad]."""
        _below_right_angle("pitch", pitch)
        _below_right_angle("roll", roll)
        return cls._of(direction.up_from_pitch_roll(pitch, roll))

    @classmethod
    def from_inclinometer(cls, pitch: float, roll: float) -> "Attitude":
        """Two readings [rad], each axis against the horizontal: nose up +, right side down +."""
        _below_right_angle("pitch", pitch)
        _below_right_angle("roll", roll)
        try:
            return cls._of(direction.up_from_inclinometer(pitch, roll))
        except ValueError:
            raise AttitudeError(
                f"no attitude reads {math.degrees(pitch):g}° pitch and {math.degrees(roll):g}° roll at once",
                allowed="sin² pitch + sin² roll up to 1",
                next_step="if these are successive rotations, say so",
            ) from None

    @classmethod
    def from_projected(cls, pitch: float, roll: float) -> "Attitude":
        """Readings of a device that reports arctangent projections [rad]."""
        _below_right_angle("pitch", pitch)
        _below_right_angle("roll", roll)
        return cls._of(direction.up_from_projected(pitch, roll))

    @classmethod
    def from_slope(cls, slope: float, heading: float) -> "Attitude":
        """A slope [rad] and the direction of uphill [rad]: 0 nose, 90° left, 180° tail, 270° right."""
        _below_right_angle("slope", slope)
        return cls._of(direction.up_from_slope_heading(slope, heading))

    def with_acceleration(self, acceleration: Sequence[float]) -> "Attitude":
        """The attitude that the liquid feels while the machine accelerates by (3,) [m/s²], tank axes."""
        try:
            return self._of(direction.up_with_acceleration(self.up, acceleration, GRAVITY))
        except ValueError as error:
            raise AttitudeError(str(error)) from None

    def mounted(self, rotation: NDArray[np.float64]) -> "Attitude":
        """The same attitude seen from a tank that is turned in the machine; see mounting_rotation."""
        return self._of(np.asarray(rotation, float) @ np.asarray(self.up))

    @classmethod
    def _of(cls, up: NDArray[np.float64]) -> "Attitude":
        x, y, z = (float(c) for c in up)
        return cls((x, y, z))

    @property
    def slope(self) -> float:
        """Angle between the tank's z axis and up [rad]."""
        return float(direction.slope_heading_from_up(self.up)[0])

    @property
    def heading(self) -> float:
        """Direction of uphill [rad]: 0 nose, 90° left, 180° tail, 270° right."""
        return float(direction.slope_heading_from_up(self.up)[1])

    @property
    def rotations(self) -> tuple[float, float]:
        """Pitch and roll as successive rotations [rad]."""
        pitch, roll = direction.pitch_roll_from_up(self.up)
        return float(pitch), float(roll)

    @property
    def inclinometer(self) -> tuple[float, float]:
        """Pitch and roll as an inclinometer reads them [rad]."""
        pitch, roll = direction.inclinometer_from_up(self.up)
        return float(pitch), float(roll)


def heading_words(heading: float) -> str:
    """How the machine stands when uphill is at ``heading`` [rad], the stronger part first.

    Within 2.5 degrees of an axis that axis alone is named.
    """
    ahead, aside = math.cos(heading), math.sin(heading)
    nose = "nose up" if ahead > 0.0 else "nose down"
    side = "right side down" if aside > 0.0 else "left side down"
    small = math.sin(math.radians(2.5))
    if abs(aside) <= small:
        return nose
    if abs(ahead) <= small:
        return side
    return f"{nose}, {side}" if abs(ahead) >= abs(aside) - 1e-9 else f"{side}, {nose}"


def uphill_words(heading_deg: float, digits: int = 0) -> str:
    """A heading in degrees and in words: ``151° (nose down, right side down)``, never 360°."""
    rounded = round(heading_deg % 360.0, digits) % 360.0
    return f"{rounded:.{digits}f}° ({heading_words(math.radians(heading_deg))})"


def pitch_roll_words(pitch: float, roll: float) -> str:
    """Inclinometer readings [rad] in words, without signs; ``level ground`` where both are nought."""
    parts = [
        f"{slope_words(abs(angle))} {positive if angle > 0.0 else negative}"
        for angle, positive, negative in (
            (pitch, "nose up", "nose down"),
            (roll, "right side down", "left side down"),
        )
        if abs(angle) >= math.radians(0.05)
    ]
    return ", ".join(parts) or "level ground"


def mounting_rotation(
    yaw: float = 0.0, pitch: float = 0.0, roll: float = 0.0
) -> NDArray[np.float64]:
    """Rotation (3, 3) that takes machine axes to tank axes, for a tank fixed askew in its machine.

    The tank is turned in the machine by yaw (nose to the left +), then pitch (nose up +), then
    roll (right side down +) [rad], about its own axes.
    """
    cy, sy, cp, sp, cr, sr = (f(a) for a in (yaw, pitch, roll) for f in (math.cos, math.sin))
    about_z = np.array([[cy, sy, 0.0], [-sy, cy, 0.0], [0.0, 0.0, 1.0]])
    about_y = np.array([[cp, 0.0, sp], [0.0, 1.0, 0.0], [-sp, 0.0, cp]])
    about_x = np.array([[1.0, 0.0, 0.0], [0.0, cr, sr], [0.0, -sr, cr]])
    return np.asarray(about_x @ about_y @ about_z)
