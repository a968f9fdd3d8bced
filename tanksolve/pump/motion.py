"""A machine that brakes, corners and climbs: what its liquid feels.

The attitudes here are those of liquid at rest in a machine that keeps up its acceleration (rigid
body motion). A short manoeuvre is over before the liquid gets there, or throws it past; see the
sloshing frequencies and the seconds of running left.
Tank frame: x forward, y left, z up; the acceleration is the machine's own.
"""

import math
from dataclasses import dataclass

from tanksolve.errors import AttitudeError
from tanksolve.model.attitude import GRAVITY, Attitude

__all__ = [
    "Manoeuvre",
    "accelerate",
    "brake",
    "corner",
    "grade_of_acceleration",
    "rotation_rise",
]


@dataclass(frozen=True)
class Manoeuvre:
    """A named acceleration on a slope, and what the liquid feels.

    Attributes
    ----------
    name : such as "brake 0.40 g".
    ground : attitude of the machine on its ground.
    acceleration_m_s2 : of the machine [m/s²], tank frame.
    effective : the attitude that the liquid feels.
    effective_gravity_m_s2 : what it weighs by [m/s²].
    """

    name: str
    ground: Attitude
    acceleration_m_s2: tuple[float, float, float]
    effective: Attitude
    effective_gravity_m_s2: float

    @classmethod
    def of(
        cls, name: str, acceleration: tuple[float, float, float], ground: Attitude | None = None
    ) -> "Manoeuvre":
        """Make one from any acceleration [m/s²]; ground is level unless given."""
        stood = ground or Attitude.level()
        total = [GRAVITY * u + a for u, a in zip(stood.up, acceleration, strict=True)]
        effective = stood.with_acceleration(acceleration)
        return cls(name, stood, acceleration, effective, math.hypot(*total))

    @property
    def tilt_in_g(self) -> tuple[float, float]:
        """The effective attitude as accelerations on level ground, forward and left, in g."""
        x, y, z = self.effective.up
        if z <= 0.0:
            raise AttitudeError(f"'{self.name}' throws the liquid off the floor")
        return x / z, y / z


def _size(value: float, what: str, top: float, unit: str) -> float:
    if not (math.isfinite(value) and 0.0 < value <= top):
        raise AttitudeError(
            f"{what} of {value:g} {unit} is not one of a machine on the ground",
            allowed=f"more than 0, up to {top:g} {unit}",
        )
    return value


def brake(deceleration: float, ground: Attitude | None = None) -> Manoeuvre:
    """Brake by a deceleration [m/s²] while driving forward: the liquid runs to the nose."""
    a = _size(deceleration, "a deceleration", 50.0, "m/s²")
    return Manoeuvre.of(f"brake {a / GRAVITY:.2f} g", (-a, 0.0, 0.0), ground)


def accelerate(acceleration: float, ground: Attitude | None = None) -> Manoeuvre:
    """Gain speed forward [m/s²], on a climb if the ground says so: the liquid runs to the tail."""
    a = _size(acceleration, "an acceleration", 50.0, "m/s²")
    return Manoeuvre.of(f"accelerate {a / GRAVITY:.2f} g", (a, 0.0, 0.0), ground)


def corner(speed: float, radius: float, side: str, ground: Attitude | None = None) -> Manoeuvre:
    """Corner at a speed [m/s] round a radius [m] to the "left" or "right": the liquid runs outward."""
    v = _size(speed, "a speed", 100.0, "m/s")
    r = _size(radius, "a radius", 1e5, "m")
    if side not in ("left", "right"):
        raise AttitudeError(f"'{side}' is not a side", allowed="left, right")
    a = _size(v * v / r, "a sideways acceleration", 50.0, "m/s²")
    name = f"corner {side} {v:g} m/s at {r:g} m"
    return Manoeuvre.of(name, (0.0, a if side == "left" else -a, 0.0), ground)


def grade_of_acceleration(acceleration: float) -> float:
    """Angle [rad] of the surface in a machine that accelerates by [m/s²] on the level: atan(a/g)."""
    return math.atan(acceleration / GRAVITY)


def rotation_rise(speed: float, radius: float) -> float:
    """Rise [m] of the surface at a radius [m] in a tank that spins about its axis [rad/s]: w²r²/2g."""
    return (speed * radius) ** 2 / (2.0 * GRAVITY)
