"""The dipstick table: depth against volume, standing level."""

import math
from collections.abc import Sequence
from dataclasses import dataclass
from typing import ClassVar

import numpy as np

from tanksolve.errors import FillError
from tanksolve.kernel.capacity.volumes import volumes
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.questions.marks.gauge import place_on, stick_of
from tanksolve.result import Result
from tanksolve.state.stick import held_at
from tanksolve.unit_systems import stated, told

__all__ = ["DipRow", "DipTable", "dip"]

_UP = (0.0, 0.0, 1.0)


@dataclass(frozen=True)
class DipRow:
    """Depth over the lowest point of the liquid [m] and the volume at that depth [m³].

    volume_m3 : with one level through the whole tank. at_least_m3, at_most_m3 : what the tank may hold
        with that reading where bays do not join below it, however it was filled; else the same.
    """

    depth_m: float
    volume_m3: float
    at_least_m3: float
    at_most_m3: float


@dataclass(frozen=True, eq=False, repr=False)
class DipTable(Result):
    """Rows from empty to full at equal steps of depth; the last row is the full tank.

    stick : where the dipstick stands, in words.
    """

    rows_of: ClassVar[str] = "rows"

    tank: str
    stick: str
    capacity_m3: float
    depth_full_m: float
    rows: tuple[DipRow, ...]

    @property
    def one_level(self) -> bool:
        """Whether every reading tells of the whole tank."""
        close = 1e-6 * self.capacity_m3
        return all(row.at_most_m3 - row.at_least_m3 <= close for row in self.rows)


def dip(tank: Tank, step: float, ports: Sequence[Port] = ()) -> DipTable:
    """Tabulate the volume at every ``step`` [m] of depth, standing level.

    Depth counts from the lowest point of the liquid, and the stick reaches it (``stick_of``). Where walls
    part the liquid it tells of its own bay: see ``state.stick``. Raises FillError for a step that is not
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
    stick = stick_of(tank, ports)
    place = np.array(stick.foot) if tank.is_convex else place_on(tank, stick, 0.5 * full)
    each = np.stack(held_at(tank, place, tank.lower[2] + depths))
    each[:, -1] = tank.capacity
    table = np.column_stack([depths, held, *each]).tolist()
    return DipTable(
        tank.name, stick.name, tank.capacity, full, tuple(DipRow(*row) for row in table)
    )
