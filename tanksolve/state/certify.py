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

__all__ = ["Lacking", "Prover", "close_in", "held_out_to", "worst_of_all_headings"]

_SMALLEST = 1.0 / 64.0  # of the tolerance: a cell that is not proved at this width is given up
_MOST_CELLS = 400_000
_CLOSE = 1e-12  # rad, of a root


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


class Lacking(Protocol):
    """What can tell by how much a rule is broken: ``Conditions``."""

    def lacking(self, up: Array, /) -> Array:
        """By how much more than there is each group needs at ``up`` (D, 3): (D, groups) [m³]."""


def close_in(
    conditions: Lacking, headings: Array, inside: Array, outside: Array
) -> tuple[Array, Array]:
    """Shrink brackets to 1e-12 rad: last slopes held and first not held, (K,) [rad].

    Where the amount that lacks goes evenly through zero a secant is quick; where it jumps, each bracket
    is halved as it would be anyway, one round more at most.

    References: I. F. D. Oliveira and R. H. C. Takahashi, "An Enhancement of the Bisection Method Average
    Performance Preserving Minmax Optimality", ACM Trans. Math. Softw. 47 (2020) 5 (from memory).
    """

    def lack(k: NDArray[np.intp], slopes: Array) -> Array:
        found = conditions.lacking(up_from_slope_heading(slopes, headings[k]))
        return np.asarray(found.max(axis=1))

    inside, outside = inside.copy(), outside.copy()
    width = np.abs(outside - inside)
    rounds = np.ceil(np.log2(np.maximum(width / _CLOSE, 1.0))) + 1.0
    every = np.arange(len(headings))
    low, high = lack(every, inside), lack(every, outside)
    outside = np.where(low > 0.0, inside, outside)  # nothing is held: the bracket is empty
    for turn in range(int(rounds.max(initial=0.0)) + 1):
        k = np.flatnonzero(np.abs(outside - inside) > _CLOSE)
        if not len(k):
            break
        a, b, wide = inside[k], outside[k], np.abs(outside[k] - inside[k])
        middle = 0.5 * (a + b)
        with np.errstate(invalid="ignore", divide="ignore", over="ignore"):
            secant = a + (b - a) * (low[k] / (low[k] - high[k]))
        secant = np.where(np.isfinite(secant), secant, middle)
        towards = np.sign(middle - secant)
        nudge = 0.2 * wide * wide / width[k]
        near = np.where(nudge <= np.abs(middle - secant), secant + towards * nudge, middle)
        reach = np.maximum(0.5 * _CLOSE * 2.0 ** (rounds[k] - turn) - 0.5 * wide, 0.0)
        trial = np.where(np.abs(near - middle) <= reach, near, middle - towards * reach)
        trial = np.clip(trial, np.minimum(a, b), np.maximum(a, b))
        found = lack(k, trial)
        held = found <= 0.0
        inside[k[held]], low[k[held]] = trial[held], found[held]
        outside[k[~held]], high[k[~held]] = trial[~held], found[~held]
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
