"""Margins at very many attitudes, right in sign whatever the machine did before.

Where one surface is certain the margin is that of one level, out of a table. Elsewhere walls may part
the liquid, and the margin is that in the worst state of rest: bounded over small cells of attitudes
where many rows fall into few cells, solved for each attitude where the bound leaves the sign open.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import MarginTable, one_level_margins

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["RowMargins"]

_STEP = math.radians(0.25)  # of a cell's two projected angles
_HAIR = 1e-7  # rad
_MOST_SOLVED = 200_000  # attitudes at which the worst state is solved; beyond, rows are not known


class _Found(NamedTuple):
    """Margins (N, ports) [m], NaN where they are not known; and where (N,) one surface is certain."""

    margins: Array
    certain: Bools


class RowMargins:
    """Margins of one tank, row by row.

    Attributes
    ----------
    table : of margins with one level. solved_rows, solved_cells : in the worst state, so far.
    left_out : rows that were not solved because there were too many.
    """

    def __init__(self, conditions: Conditions) -> None:
        self.conditions = conditions
        self.table = MarginTable(conditions)
        self.walls = conditions.walls_may_part
        self.solved_rows = self.solved_cells = self.left_out = 0
        side = math.ceil(math.pi / _STEP)
        self._cell = np.full((side, side) if self.walls else (0, 0), -1, np.int32)
        self._certain = np.zeros(0, bool)
        self._bound = np.zeros((0, len(conditions.ports)))
        self._solved: dict[bytes, Array] = {}

    def at(self, up: Array, volume: Array | None = None) -> _Found:
        """Margins at ``up`` (N, 3); ``volume`` (N,) [m³] where the tank holds another amount at each row."""
        if volume is None:
            margins = self.table.margins(up)
        else:
            margins = one_level_margins(self.conditions, up, volume)
            self.table.solved_rows += len(up)
        if not self.walls or not len(up):
            return _Found(margins, np.ones(len(up), bool))
        if volume is not None:
            return self._each(up, volume, margins)
        cell, by_itself = self._cells(up)
        certain = np.zeros(len(up), bool)
        certain[~by_itself] = self._certain[cell[~by_itself]]
        certain[by_itself] = self.conditions.one_surface(up[by_itself])
        bound = np.full_like(margins, -np.inf)
        bound[~by_itself] = self._bound[cell[~by_itself]]
        sure = ~certain & (bound >= 0.0).all(axis=1)
        margins[sure] = bound[sure]
        open_ = np.flatnonzero(~certain & ~sure)
        margins[open_] = self._worst(up[open_])
        return _Found(margins, certain)

    def _each(self, up: Array, volume: Array, margins: Array) -> _Found:
        """Every row solved by itself, since each has its own fill."""
        c = self.conditions
        certain = c.one_surface(up, less=min(c.least, c.most) - volume)
        open_ = np.flatnonzero(~certain)
        room = max(_MOST_SOLVED - self.solved_rows, 0)
        margins[open_[room:]] = np.nan
        self.left_out += len(open_[room:])
        open_ = open_[:room]
        if len(open_):
            margins[open_] = c.margins_at_fill(up[open_], volume[open_])
            self.solved_rows += len(open_)
        return _Found(margins, certain)

    def _worst(self, up: Array) -> Array:
        """Margins (N, ports) [m] in the worst state of rest, each attitude solved once; NaN beyond the most."""
        each, back = np.unique(up, axis=0, return_inverse=True)
        found = np.full((len(each), len(self.conditions.ports)), np.nan)
        keys = [row.tobytes() for row in each]
        new = [k for k, key in enumerate(keys) if key not in self._solved]
        new = new[: max(_MOST_SOLVED - self.solved_rows, 0)]
        if new:
            margins = self.conditions.margins(each[new][:, None, :])[:, 0]
            self.solved_rows += len(new)
            self._solved.update(zip((keys[k] for k in new), margins, strict=True))
        for k, key in enumerate(keys):
            found[k] = self._solved.get(key, np.nan)
        out = found[back.ravel()]
        self.left_out += int(np.isnan(out[:, 0]).sum())
        return out

    def _cells(self, up: Array) -> tuple[Ints, Bools]:
        """Number (N,) of each row's cell, and which rows are in none: those are looked at by themselves.

        A cell is bounded when a row first falls into it, unless there are more new cells than such rows.
        """
        above = np.flatnonzero(up[:, 2] > 1e-6)
        z = up[above, 2]
        across = np.stack(
            [
                np.floor((np.arctan2(up[above, k], z) + 0.5 * math.pi) / _STEP).astype(np.int64)
                for k in (0, 1)
            ]
        )
        fresh = across[:, self._cell[*across] < 0]
        missing = np.unique(fresh, axis=1)
        if missing.shape[1] and 4 * missing.shape[1] <= fresh.shape[1]:
            self._bound_cells(missing)
        number = np.full(len(up), -1, np.int64)
        number[above] = self._cell[*across]
        return number, number < 0

    def _bound_cells(self, missing: Ints) -> None:
        corner = missing.T * _STEP - 0.5 * math.pi
        ends = np.stack([corner, corner + _STEP], axis=2).reshape(-1, 4)
        ends = np.clip(ends, -0.5 * math.pi + _HAIR, 0.5 * math.pi - _HAIR)
        chart = np.full(len(ends), attitude_cells.PROJECTED, np.int8)
        cells = attitude_cells.Cells(chart, ends)
        up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
        certain = self.conditions.one_surface(up, hulls)
        bound = np.full((len(up), len(self.conditions.ports)), np.inf)
        if not certain.all():
            bound[~certain] = self.conditions.margins_within(up[~certain], hulls[~certain])
        self._cell[*missing] = len(self._certain) + np.arange(len(up))
        self._certain = np.concatenate([self._certain, certain])
        self._bound = np.concatenate([self._bound, bound])
        self.solved_cells += len(up)
