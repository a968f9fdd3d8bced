"""The greatest value of a function over all required attitudes: solved, and bounded with no gap.

Branch and bound over cells of attitudes. Each pass values every cell at its centre and bounds it
over the whole cell; cells whose bound does not come above the greatest value found (plus the
tolerance) are done, the others are halved. The solved value is polished by a pattern search that
stays within the requirement, so an extreme on its rim is met exactly.
"""

import math
from collections.abc import Callable
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import Cells
from tanksolve.model.requirement import Requirement

Array = NDArray[np.float64]
Value = Callable[[Array], Array]
Bound = Callable[[Array, Array], Array]
Closes = Callable[[Array, Array, float], NDArray[np.bool_]]

__all__ = ["Worst", "worst_case"]

_MOST_CELLS = 200_000
_POLISH_EVERY = 4
_STEPS = np.array([[i, j] for i in (-1.0, 0.0, 1.0) for j in (-1.0, 0.0, 1.0)])


@dataclass(frozen=True)
class Worst:
    """The greatest value over a requirement.

    Attributes
    ----------
    value : the greatest value solved, reached at ``up``.
    up : attitude of that value (3,).
    bound : no required attitude has a greater value than this.
    evaluations : attitudes at which the function was valued or bounded.
    """

    value: float
    up: tuple[float, float, float]
    bound: float
    evaluations: int


def worst_case(
    requirement: Requirement,
    value: Value,
    bound: Bound,
    tolerance: float,
    enough: float = -math.inf,
    *,
    most_cells: int | None = None,
    closes: Closes | None = None,
) -> Worst:
    """Find the greatest ``value`` over all required attitudes.

    value : up (D, 3) -> (D,).
    bound : up (D, 3), hulls (D, J, 3) -> (D,), at least the value all over each hull.
    tolerance : by how much the bound may exceed the value solved. Where a bound stays wide for
        ``most_cells``, else 200,000, the search ends with what it has: a wider bound, never a wrong one.
    closes : (up (D, 3), hulls (D, J, 3), a value) -> (D,), whether nothing in a hull is certainly greater
        than the value: a closer look than ``bound``, asked for cells that this leaves open.
    enough : where only more or less than this matters: the search ends once a greater value is found,
        and bounds no greater are not followed up.
    """
    cells = requirement.cells()
    best, spent, ceiling, count = _Best(value, requirement), 0, -math.inf, 0
    while len(cells.box):
        up = attitude_cells.centres(cells)
        above = bound(up, attitude_cells.hulls(cells))
        best.offer(cells, up, value(up))
        if count % _POLISH_EVERY == 0:
            best.polish()
        spent += len(up)
        count += 1
        open_ = above > max(best.value + tolerance, enough)
        if enough > -math.inf and best.value > enough:
            open_[:] = False
        k = np.flatnonzero(open_)
        if closes is not None and len(k):
            near = best.value + tolerance
            done = k[closes(up[k], attitude_cells.hulls(cells.at(k)), near)]
            above[done], open_[done] = near, False
        if spent > (most_cells or _MOST_CELLS):
            open_[:] = False
        ceiling = max(ceiling, float(above[~open_].max(initial=-math.inf)))
        cells = attitude_cells.halves(cells.at(open_))
    best.polish()
    x, y, z = (float(c) for c in best.up)
    return Worst(best.value, (x, y, z), max(ceiling, best.value), spent + best.spent)


class _Best:
    """The greatest value so far, with its place in the chart of the patch it belongs to."""

    def __init__(self, function: Value, requirement: Requirement) -> None:
        self.function = function
        self.patches = requirement.patches
        self.value = -math.inf
        self.up = np.array([0.0, 0.0, 1.0])
        self.spent = 0
        self._place = np.zeros(2)
        self._step = np.zeros(2)
        self._chart = attitude_cells.SLOPE_HEADING
        self._shift = (0.0, 0.0)
        self._polished = False

    def offer(self, cells: Cells, up: Array, values: Array) -> None:
        """Take the greatest of the values at cell centres, if it is greater than the best."""
        row = int(np.argmax(values))
        if values[row] > self.value:
            box = cells.box[row]
            self.value, self.up = float(values[row]), up[row]
            self._chart = int(cells.chart[row])
            x, y = np.broadcast_to(cells.shift, (len(cells.box), 2))[row]
            self._shift = float(x), float(y)
            self._place = np.array([box[:2].mean(), box[2:].mean()])
            self._step = np.array([box[1] - box[0], box[3] - box[2]])
            self._polished = False

    def polish(self) -> None:
        """Climb from the best place by ever smaller steps, inside the patches that hold it."""
        if self._polished:
            return
        low, high = self._limits()
        step = np.maximum(self._step, 1e-3)
        while step.max() > 1e-13:
            places = np.clip(self._place + step * _STEPS, low, high)
            codes = np.full(len(places), self._chart, np.int8)
            shift = np.array([self._shift])
            up = attitude_cells.ups(codes, places[:, 0], places[:, 1], shift)
            values = self.function(up)
            self.spent += len(up)
            row = int(np.argmax(values))
            if values[row] > self.value + 1e-15 * abs(self.value):
                self.value, self.up, self._place = float(values[row]), up[row], places[row]
            else:
                step = 0.3 * step
        self._polished = True

    def _limits(self) -> tuple[Array, Array]:
        """Corners of the patch that holds the best place; a full circle of headings has none."""
        a, b = self._place
        for patch in self.patches:
            inside = patch.a[0] <= a <= patch.a[1] and patch.b[0] <= b <= patch.b[1]
            if (patch.chart, patch.shift) == (self._chart, self._shift) and inside:
                round_ = patch.b[1] - patch.b[0] >= math.tau
                turn = (-math.inf, math.inf) if round_ else patch.b
                return np.array([patch.a[0], turn[0]]), np.array([patch.a[1], turn[1]])
        raise ValueError("the best place is in no patch")
