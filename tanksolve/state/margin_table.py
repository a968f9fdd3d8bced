"""Margins of ports with one level, at very many attitudes, from a table that is filled as it is needed.

Where the sign of a margin does not follow for certain from the table, the row is solved anew: such a
margin changes by at most R per chord of attitude (``kernel.support.reach``; docs/theory/envelope.md).
Otherwise the margin is bilinear between nodes about 0.2 degrees apart.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.grid_lookup import look_up, mark_cells, node_directions
from tanksolve.kernel.attitude.support import reach
from tanksolve.kernel.capacity.level import levels
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]

__all__ = ["STEP", "MarginTable", "one_level_margins"]

STEP = 1.0 / 512.0  # of the stereographic coordinates: a chord of at most 0.0039, 0.22 degrees


def one_level_margins(conditions: Conditions, up: Array, volume: Array | None = None) -> Array:
    """Margins (N, ports) [m] at ``up`` (N, 3) with one level through the whole tank, each row solved.

    Right where one surface is certain, and never below those in the worst state of rest.
    volume : (N,) [m³] in the tank at each row; None takes the conditions' least and most fill.
    """
    out = np.empty((len(up), len(conditions.ports)))
    for wet, fill in ((True, conditions.least), (False, conditions.most)):
        columns = conditions.columns(wet=wet)
        if columns:
            held = fill if volume is None else volume
            level = levels(conditions.tank.tree, up, held, lowest=wet)[0]
            for i in columns:
                edge = conditions.edge(i, up)
                out[:, i] = level - edge if wet else edge - level
    return out


class MarginTable:
    """Margins of one tank at one fill with one level; nodes are solved when a row first needs them.

    Attributes
    ----------
    solved_rows, solved_nodes : how many of each were solved so far.
    """

    def __init__(self, conditions: Conditions, step: float = STEP) -> None:
        self.conditions = conditions
        self.step = step
        self.half = int(np.ceil(1.0 / step)) + 2
        size = 2 * self.half + 1
        self.table = np.full((size, size, len(conditions.ports)), np.nan)
        self.known = np.zeros((size, size), bool)
        corners = conditions.tank.vertices
        self.reach = np.array([reach(port.discs, corners) for port in conditions.ports])
        self.solved_rows = 0
        self.solved_nodes = 0

    def margins(self, up: Array) -> Array:
        """Margins (N, ports) [m] at ``up`` (N, 3): right in sign, and near zero solved."""
        wanted = np.zeros_like(self.known)
        nodes, rows = mark_cells(up, self.step, self.half, self.known, wanted)
        # Solve nodes where they cost no more than the rows themselves would, or than those have cost
        if 0 < nodes <= max(rows, self.solved_rows):
            self._fill(*np.nonzero(wanted))
        values, anew = look_up(self.table, up, self.step, self.half, self.reach)
        if anew.any():
            values[anew] = one_level_margins(self.conditions, up[anew])
            self.solved_rows += int(np.count_nonzero(anew))
        return np.asarray(values)

    def _fill(self, row: NDArray[np.int64], column: NDArray[np.int64]) -> None:
        up = node_directions(row, column, self.half, self.step)
        self.table[row, column] = one_level_margins(self.conditions, up)
        self.known[row, column] = True
        self.solved_nodes += len(row)
