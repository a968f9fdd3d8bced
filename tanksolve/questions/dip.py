"""The dipstick table: depth against volume, standing level."""

import math
from dataclasses import dataclass

import numpy as np

from tanksolve.errors import FillError
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.tank import Tank
from tanksolve.unit_systems import stated, told

__all__ = ["DipRow", "DipTable", "dip", "volume_at_depth"]

_UP = (0.0, 0.0, 1.0)


@dataclass(frozen=True)
class DipRow:
    """Depth over the lowest point of the liquid [m] and the volume at that depth [m³]."""

    depth_m: float
    volume_m3: float


@dataclass(frozen=True)
class DipTable:
    """Rows from empty to full at equal steps of depth; the last row is the full tank."""

    tank: str
    capacity_m3: float
    depth_full_m: float
    rows: tuple[DipRow, ...]


def dip(tank: Tank, step: float) -> DipTable:
    """Tabulate the volume at every ``step`` [m] of depth, standing level.

    Depth counts from the lowest point of the liquid. Raises FillError for a step that is not
    positive or that makes more than 100,000 rows.
    """
    full = float(tank.upper[2] - tank.lower[2])
    if not step > 0.0 or full / step > 100_000:
        raise FillError(
            f"a step of {stated(step, 'length')} makes no table of a tank {told(full, 'length')} deep",
            allowed=f"more than {stated(full / 100_000, 'length')}",
        )
    depths = np.append(step * np.arange(math.ceil(full / step - 1e-9)), full)
    up = np.broadcast_to(_UP, (len(depths), 3))
    held = volumes(tank.tree, up, tank.lower[2] + depths)[0]
    held[-1] = tank.capacity
    rows = (DipRow(float(d), float(v)) for d, v in zip(depths, held, strict=True))
    return DipTable(tank.name, tank.capacity, full, tuple(rows))


def volume_at_depth(tank: Tank, depth: float) -> float:
    """Volume [m³] at a depth [m] over the lowest point, standing level.

    Raises FillError for a depth below zero or above the tank's top.
    """
    full = float(tank.upper[2] - tank.lower[2])
    if not 0.0 <= depth <= full:
        raise FillError(
            f"a depth of {told(depth, 'length')} is not within the tank",
            allowed=f"0 mm to {told(full, 'length')} over the lowest point",
        )
    return float(volumes(tank.tree, [_UP], [tank.lower[2] + depth])[0][0])
