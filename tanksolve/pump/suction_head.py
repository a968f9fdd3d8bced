"""How high the liquid stands over the pump's inlet, at the worst of the attitudes asked for."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np

from tanksolve.kernel.capacity.level import levels
from tanksolve.model.attitude import Attitude
from tanksolve.model.liquid import Fill
from tanksolve.model.tank import Tank

__all__ = ["SuctionHead", "level_over_pump"]


@dataclass(frozen=True)
class SuctionHead:
    """The least level over the pump [m], along gravity, the attitude where it is, and the fill [m³].

    ``volume_m3`` is None where the level was given and not computed from a tank.
    """

    level_over_pump_m: float
    pitch_deg: float
    roll_deg: float
    volume_m3: float | None = None


def level_over_pump(
    tank: Tank,
    fill: Fill | float,
    pump: tuple[float, float, float],
    attitudes: Sequence[Attitude] = (),
) -> SuctionHead:
    """Find the least height of the surface over the pump's inlet, at the least fill.

    Parameters
    ----------
    pump : the inlet's place (3,) [m], tank frame; it tilts with the tank.
    attitudes : that the machine must survive; level ground is always looked at.

    Raises FillError for more than the tank holds.
    """
    volume = Fill.of(fill)
    volume.check(tank.capacity)
    asked = (Attitude.level(), *attitudes)
    up = np.array([attitude.up for attitude in asked])
    over = levels(tank.tree, up, volume.least)[0] - up @ np.asarray(pump)
    k = int(np.argmin(over))
    pitch, roll = np.degrees(asked[k].inclinometer)
    return SuctionHead(float(over[k]), float(pitch), float(roll), volume.least)
