"""What manoeuvres do to a tank's ports, how its liquid sloshes, and what baffles change."""

import math
from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import RunningLeft
from tanksolve.pump.motion import Manoeuvre
from tanksolve.pump.slosh import (
    BaffleEffect,
    SloshMode,
    box_modes,
    cylinder_frequency,
    equivalent_box,
    near_excitation,
    with_baffle,
)
from tanksolve.questions.level.surface import level
from tanksolve.state.conditions import Conditions, Pickups

__all__ = ["ManoeuvreResult", "Motion", "SloshResult", "check_motion", "slosh_modes"]

CAUTIONS = (
    "Liquid at rest in a machine that keeps up its acceleration. A short manoeuvre is over before"
    " the liquid gets there; a sudden one throws it past, up to about twice as far (one swing of a"
    " wave without damping).",
    "Waves are those of the whole surface: where the tank has baffles already, read the lines for"
    " a baffle at each of their places.",
    "It says nothing about roll-over or grip: the machine maker's limits come first.",
)


@dataclass(frozen=True)
class ManoeuvreResult:
    """One manoeuvre at this tank.

    Attributes
    ----------
    slope_deg, heading_deg : the attitude that the liquid feels; heading is where uphill is.
    pitch_deg, roll_deg : the same as two readings, nose up + and right side down +.
    forward_g, left_g : the same as an acceleration on level ground; None past 90 degrees.
    margin_m : the least over the ports; ``port`` sets it.
    """

    name: str
    slope_deg: float
    heading_deg: float
    pitch_deg: float
    roll_deg: float
    forward_g: float | None
    left_g: float | None
    effective_gravity_m_s2: float
    margin_m: float
    port: str
    holds: bool


@dataclass(frozen=True)
class SloshResult:
    """One wave and those of the user's excitations [Hz] that are within 20 % of it."""

    mode: SloshMode
    near_hz: tuple[float, ...]


@dataclass(frozen=True)
class Motion:
    """Everything about a moving tank; see :func:`check_motion`."""

    tank: str
    fill: Fill
    manoeuvres: tuple[ManoeuvreResult, ...]
    slosh: tuple[SloshResult, ...]
    baffles: tuple[BaffleEffect, ...]
    running_left: RunningLeft | None
    holds: bool
    cautions: tuple[str, ...]


def check_motion(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    manoeuvres: Sequence[Manoeuvre],
    *,
    excitations: Sequence[float] = (),
    baffles: Sequence[float] = (),
    running_left: RunningLeft | None = None,
    pickups: Pickups = "all",
) -> Motion:
    """Check manoeuvres, waves and baffles.

    Parameters
    ----------
    excitations : frequencies [Hz] that the machine puts in, from the user.
    baffles : places [m] of solid cross-wise baffles from the rear wall, each tried by itself.

    Raises PortError, FillError, TankError.
    """
    conditions = Conditions.of(tank, ports, fill, pickups)
    found = tuple(_manoeuvre(conditions, m) for m in manoeuvres)
    modes = slosh_modes(tank, conditions.least)
    length, depth = modes[0].length_m, modes[0].depth_m
    return Motion(
        tank=tank.name,
        fill=conditions.fill,
        manoeuvres=found,
        slosh=tuple(SloshResult(m, near_excitation(m.frequency_hz, excitations)) for m in modes),
        baffles=tuple(with_baffle(length, depth, place) for place in baffles),
        running_left=running_left,
        holds=all(result.holds for result in found),
        cautions=CAUTIONS,
    )


def _manoeuvre(conditions: Conditions, manoeuvre: Manoeuvre) -> ManoeuvreResult:
    up = np.array([[manoeuvre.effective.up]])
    margin, port = conditions.group_margins(conditions.margins(up))
    x, y, z = manoeuvre.effective.up
    pitch, roll = (math.degrees(angle) for angle in manoeuvre.effective.inclinometer)
    return ManoeuvreResult(
        name=manoeuvre.name,
        slope_deg=math.degrees(manoeuvre.effective.slope),
        heading_deg=math.degrees(manoeuvre.effective.heading),
        pitch_deg=pitch,
        roll_deg=roll,
        forward_g=x / z if z > 0.0 else None,
        left_g=y / z if z > 0.0 else None,
        effective_gravity_m_s2=manoeuvre.effective_gravity_m_s2,
        margin_m=float(margin[0, 0]),
        port=conditions.ports[int(port[0, 0])].name,
        holds=bool(margin[0, 0] >= 0.0),
    )


def slosh_modes(tank: Tank, volume: float) -> tuple[SloshMode, ...]:
    """First longitudinal and lateral waves at a volume [m³]: closed forms where the shape has one.

    A tank that fills its enclosing box is a box; one that fills the upright cylinder in it is
    that; any other is answered by an equivalent box, and says so. Raises FillError.
    """
    length, width, height = (float(c) for c in tank.upper - tank.lower)
    depth = volume / tank.capacity * height
    if math.isclose(tank.capacity, length * width * height, rel_tol=1e-9):
        return box_modes(length, width, depth, "closed form of a box")
    round_ = 0.25 * math.pi * length * width * height
    if math.isclose(length, width, rel_tol=2e-3) and math.isclose(
        tank.capacity, round_, rel_tol=2e-3
    ):
        frequency = cylinder_frequency(0.5 * length, depth)
        basis = "closed form of an upright cylinder"
        return tuple(SloshMode(d, frequency, length, depth, basis) for d in _BOTH)
    surface = level(tank, volume)
    second = surface.surface_second_moment_m4
    return equivalent_box(volume, surface.surface_area_m2, second[0][0], second[1][1])


_BOTH = ("longitudinal", "lateral")
