"""Limits with no gap between samples: cells of attitudes proved whole, roots solved.

Along one heading, cells are proved one after the other outwards from level, each as wide as can
be proved. Over all headings the disc of slopes below a candidate is cut into cells until each is
proved or too small to matter. A cell is proved by one pass per port (``kernel.bounds``).
"""

from typing import Protocol

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading

Array = NDArray[np.float64]

__all__ = ["Prover", "bisect_slopes", "held_out_to", "worst_of_all_headings"]

_SMALLEST = 1.0 / 64.0  # of the tolerance: a cell that is not proved at this width is given up
_MOST_CELLS = 400_000


class Prover(Protocol):
    """What can prove a whole cell of attitudes: ``Conditions``, or a stricter demand."""

    def held(self, up: Array, /) -> NDArray[np.bool_]:
        """Whether each demand is met at ``up`` (D, 3): (D, demands)."""

    def held_over(self, cells: Array, /) -> NDArray[np.bool_]:
        """Whether all demands are certainly met all over each cell (C, 4): (C,)."""


def held_out_to(
    conditions: Prover, headings: Array, start: Array, limit: Array, tolerance: float
) -> Array:
    """Slope [rad] up to which each heading is proved, going out from ``start`` to ``limit``.

    headings, start, limit : (K,) [rad]. Stops where a cell of ``tolerance / 64`` is not proved,
    so the result is within a small part of the tolerance of the first loss, or of a graze.
    """
    reached = start.copy()
    width = np.full(len(headings), np.radians(4.0))
    going = reached < limit
    while going.any():
        k = np.flatnonzero(going)
        outer = np.minimum(reached[k] + width[k], limit[k])
        proved = conditions.held_over(
            np.stack([reached[k], outer, headings[k], headings[k]], axis=-1)
        )
        reached[k[proved]] = outer[proved]
        width[k] *= np.where(proved, 2.0, 0.5)
        going[k] = (reached[k] < limit[k]) & (width[k] > tolerance * _SMALLEST)
    return reached


def bisect_slopes(
    conditions: Prover, headings: Array, inside: Array, outside: Array
) -> tuple[Array, Array]:
    """Halve brackets until they stop shrinking: last slopes held and first not held, (K,) [rad]."""
    inside, outside = inside.copy(), outside.copy()
    for _ in range(60):
        middle = 0.5 * (inside + outside)
        open_ = (middle != inside) & (middle != outside)
        open_ &= np.abs(outside - inside) > 1e-12
        if not open_.any():
            break
        k = np.flatnonzero(open_)
        held = conditions.held(up_from_slope_heading(middle[k], headings[k])).all(axis=1)
        inside[k[held]] = middle[k[held]]
        outside[k[~held]] = middle[k[~held]]
    return inside, outside


def worst_of_all_headings(
    conditions: Prover, limit: float, tolerance: float
) -> tuple[float, float]:
    """Slope [rad] below which every attitude of every heading is proved held, up to ``limit``.

    A cell with a lost centre caps the result there, one that stays unproved at a small part of
    the tolerance at its inner edge; cells further out than the cap are dropped. Also returns the
    heading [rad] of the cell that capped it, NaN where none did.
    """
    where = np.nan
    if limit <= 0.0:
        return 0.0, where
    ring = np.linspace(0.0, limit, 1 + max(1, round(np.degrees(limit) / 8.0)))
    turn = np.radians(np.arange(0.0, 360.0, 20.0))
    inner, k0 = (a.ravel() for a in np.meshgrid(ring[:-1], turn))
    outer = inner + (ring[1] - ring[0])
    cells = np.stack([inner, outer, k0, k0 + np.radians(20.0)], axis=-1)
    cap, spent = limit, 0
    while len(cells):
        spent += len(cells)
        cells = cells[~conditions.held_over(cells)]
        # a centre that is lost caps the slope at once, so lost ground is not searched to the end
        centres = np.stack([cells[:, :2].mean(axis=1), cells[:, 2:].mean(axis=1)], axis=-1)
        lost = centres[~conditions.held(up_from_slope_heading(*centres.T)).all(axis=1)]
        if len(lost) and lost[:, 0].min() < cap:
            cap, where = (float(c) for c in lost[np.argmin(lost[:, 0])])
        tall = cells[:, 1] - cells[:, 0]
        wide = (cells[:, 3] - cells[:, 2]) * np.sin(cells[:, 1])
        tiny = np.maximum(tall, wide) < tolerance * _SMALLEST
        if spent > _MOST_CELLS:  # give up on what is left: the bound is lower, never wrong
            tiny[:] = True
        if tiny.any() and cells[tiny, 0].min() < cap:
            capping = cells[tiny][np.argmin(cells[tiny, 0])]
            cap, where = float(capping[0]), float(capping[2:].mean())
        keep = ~tiny & (cells[:, 0] < cap)
        cells = _halve(cells[keep], tall[keep] > wide[keep])
    return cap, where


def _halve(cells: Array, across: NDArray[np.bool_]) -> Array:
    """Cut each cell in two, across the slope where ``across``, else across the heading."""
    low, high = cells.copy(), cells.copy()
    column = np.where(across, 0, 2)
    rows = np.arange(len(cells))
    middle = 0.5 * (cells[rows, column] + cells[rows, column + 1])
    low[rows, column + 1] = middle
    high[rows, column] = middle
    return np.concatenate([low, high])
