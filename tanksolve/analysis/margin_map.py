"""Margins over pitch and roll, on a grid: what the pitch-roll picture is drawn from."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.conditions import Conditions
from tanksolve.kernel.direction import up_from_inclinometer

Array = NDArray[np.float64]

__all__ = ["MarginMap", "margin_map"]


@dataclass(frozen=True, eq=False)
class MarginMap:
    """Margins over pitch and roll as an inclinometer reads them.

    Attributes
    ----------
    pitch_deg, roll_deg : (P,), (R,)   nose up +, right side down +.
    margin_m : (P, R) [m]   NaN where no attitude has such a pair of readings.
    port_index : (P, R) int   index into ``ports`` of the one that sets the margin; -1 at NaN.
    ports : names.
    """

    pitch_deg: Array
    roll_deg: Array
    margin_m: Array
    port_index: NDArray[np.int64]
    ports: tuple[str, ...]


def margin_map(conditions: Conditions, to_deg: float, steps: int = 30) -> MarginMap:
    """Margins on a grid of inclinometer readings out to ``to_deg`` both ways (2 steps + 1 square)."""
    readings = np.radians(np.linspace(-to_deg, to_deg, 2 * steps + 1))
    pitch, roll = np.meshgrid(readings, readings, indexing="ij")
    real = np.sin(pitch) ** 2 + np.sin(roll) ** 2 <= 1.0
    up = np.zeros((*pitch.shape, 3))
    up[..., 2] = 1.0
    up[real] = up_from_inclinometer(pitch[real], roll[real])
    margin, port = conditions.group_margins(conditions.margins(up))
    names = tuple(p.name for p in conditions.ports)
    degrees = np.degrees(readings)
    return MarginMap(
        degrees, degrees, np.where(real, margin, np.nan), np.where(real, port, -1), names
    )
