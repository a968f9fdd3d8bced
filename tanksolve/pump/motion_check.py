"""What manoeuvres do to a tank's ports, how its liquid sloshes, and what baffles change."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.pump.crossflow import RunningLeft
from tanksolve.pump.motion import Manoeuvre
from tanksolve.pump.slosh import BaffleEffect, Slosh, solve_slosh, with_baffle
from tanksolve.result import Result
from tanksolve.state.conditions import Conditions, Pickups

__all__ = ["ManoeuvreResult", "Motion", "check_motion"]

CAUTIONS = (
    "It tells nothing of roll-over or grip: the maker's limits come first.",
    "Liquid at rest in a machine that keeps up its acceleration. A short manoeuvre is over before"
    " the liquid gets there; a sudden one throws it past, up to about twice as far (one swing of a"
    " wave without damping).",
    "Waves are small ones of liquid without viscosity on level ground, at one level in all bays;"
    " through small holes, and in thick oil, they are damped. Flaps and balance pipes count as shut.",
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


@dataclass(frozen=True, eq=False, repr=False)
class Motion(Result):
    """Everything about a moving tank; see :func:`check_motion`."""

    rows_of: ClassVar[str] = "manoeuvres"

    tank: str
    fill: Fill
    manoeuvres: tuple[ManoeuvreResult, ...]
    slosh: Slosh
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
    baffles : places [m] of solid cross-wise baffles from the rear wall, each tried by itself at the
        least fill.

    Raises PortError, FillError, TankError.
    """
    conditions = Conditions.of(tank, ports, fill, pickups)
    found = tuple(_manoeuvre(conditions, m) for m in manoeuvres)
    return Motion(
        tank=tank.name,
        fill=conditions.fill,
        manoeuvres=found,
        slosh=solve_slosh(tank, conditions.fill, excitations),
        baffles=tuple(with_baffle(tank, conditions.least, place) for place in baffles),
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
