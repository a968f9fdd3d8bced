"""The limits of all headings as one closed line: what is proved between the headings listed.

A limit is known at the headings that were asked for, and the worst over all of them. A line drawn
straight from one to the next says more: that all below it is held. Here that is proved, gap by gap,
for as much of it as can be: cells of attitudes below the straight line, as in
``certify.worst_of_all_headings``.
"""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.questions.envelope.rows import Limit, told_at_same_heading
from tanksolve.state.certify import Prover

Array = NDArray[np.float64]

__all__ = ["Edge", "edge_of", "shares_between"]

_SMALLEST = 1.0 / 128.0  # of the slope, and of a radian on heading: finer than a line is drawn
_MOST_CELLS = 60_000
_REFINE = 0.97  # a gap proved to less, where an attitude is known to be lost, is looked at closer
_ROUNDS = 3


@dataclass(frozen=True, eq=False)
class Edge:
    """A closed line through limits, straight from one heading to the next on a polar plan.

    Attributes
    ----------
    rows : the limits by heading: those listed, the worst, and more where the line bends in between.
    held_deg : (M,) bounds, lowered so far that all below the straight line from one to the next is
        proved.
    """

    rows: tuple[Limit, ...]
    held_deg: Array


def edge_of(
    limits: Sequence[Limit],
    worst: Limit,
    prover: Prover,
    limits_at: Callable[[Array], Sequence[Limit]],
) -> Edge:
    """Put the limits, the worst among them, into one line that tells no more than is proved.

    prover : what proves cells for the bounds of the rows.
    limits_at : more limits at headings (K,) [rad], to follow the line where it bends in.
    """
    rows = sorted(_with_worst(limits, worst), key=lambda row: row.heading_deg)
    for left in range(_ROUNDS, -1, -1):
        headings = np.radians([row.heading_deg for row in rows])
        held = np.radians([row.held_to_deg for row in rows])
        share, lost = shares_between(prover, headings, held)
        bends = np.flatnonzero((lost < np.inf) & (share < _REFINE))
        if not left or not len(bends):
            break
        gaps = np.diff(np.append(headings, headings[0] + 2.0 * math.pi))
        between = headings[bends] + 0.5 * gaps[bends]
        rows = sorted((*rows, *limits_at(between)), key=lambda row: row.heading_deg)
    return Edge(tuple(rows), np.degrees(held) * np.minimum(share, np.roll(share, 1)))


def _with_worst(limits: Sequence[Limit], worst: Limit) -> tuple[Limit, ...]:
    same = [row for row in limits if told_at_same_heading(row, worst)]
    return tuple(limits) if same or not worst.limited else (*limits, worst)


def shares_between(prover: Prover, headings: Array, slopes: Array) -> tuple[Array, Array]:
    """How much of the straight lines between neighbours on a polar plan is proved, and is lost.

    headings, slopes : (M,) [rad], by heading, once round; no gap as wide as half a turn.

    Returns for each gap, from k to k + 1, the share (M,) up to 1 such that all attitudes below the
    line, brought in by it, are proved held; and the least share (M,) at which one was found lost,
    infinite where none was. On a line at the distance d from level, the slope at heading k is
    ``d / cos(k - f)``, where f is the heading of its nearest point.
    """
    after = np.append(headings[1:], headings[0] + 2.0 * math.pi)
    place = slopes * np.exp(1j * headings)
    along = np.roll(place, -1) - place
    normal = -1j * along / np.maximum(np.abs(along), 1e-300)
    far = np.real(place * np.conj(normal))  # distance from level; 0 where an end is level
    foot = np.angle(normal)
    cap, lost = np.ones(len(headings)), np.full(len(headings), np.inf)
    gap = np.flatnonzero(far > 1e-9)
    ones = np.ones(len(gap))
    cells = np.stack([0.0 * ones, ones, headings[gap], after[gap]], axis=-1)
    spent = 0
    while len(cells):
        spent += len(cells)
        open_ = ~prover.held_over(_on_slopes(cells, far[gap], foot[gap]))
        cells, gap = cells[open_], gap[open_]
        centre = 0.5 * (cells[:, ::2] + cells[:, 1::2])
        slope = centre[:, 0] * far[gap] / np.cos(centre[:, 1] - foot[gap])
        gone = ~prover.held(up_from_slope_heading(slope, centre[:, 1])).all(axis=1)
        np.minimum.at(lost, gap[gone], centre[gone, 0])
        np.minimum.at(cap, gap[gone], centre[gone, 0])
        steep = 1.0 + np.abs(np.tan(centre[:, 1] - foot[gap]))  # along a line that runs outwards
        tall, wide = cells[:, 1] - cells[:, 0], steep * (cells[:, 3] - cells[:, 2])
        tiny = np.maximum(tall, wide) < _SMALLEST
        if spent > _MOST_CELLS:  # give up on what is left: less is proved, nothing wrong
            tiny[:] = True
        np.minimum.at(cap, gap[tiny], cells[tiny, 0])
        keep = ~tiny & (cells[:, 0] < cap[gap])
        cells, gap = _halved(cells[keep], tall[keep] > wide[keep]), np.repeat(gap[keep], 2)
    return cap, lost


def _on_slopes(cells: Array, far: Array, foot: Array) -> Array:
    """Cells (C, 4) of share and heading as cells of slope and heading [rad] that contain them."""
    low, high, start, end = cells.T
    farthest = far / np.minimum(np.cos(start - foot), np.cos(end - foot))
    turn = np.round((0.5 * (start + end) - foot) / (2.0 * math.pi)) * 2.0 * math.pi
    nearest = far / np.cos(np.clip(foot + turn, start, end) - foot)
    return np.stack([low * nearest, high * farthest, start, end], axis=-1)


def _halved(cells: Array, across: NDArray[np.bool_]) -> Array:
    """Each cell (C, 4) in two, one after the other: across the share where ``across``, else heading."""
    column = np.where(across, 0, 2)
    rows = np.arange(len(cells))
    middle = 0.5 * (cells[rows, column] + cells[rows, column + 1])
    both = np.repeat(cells, 2, axis=0)
    both[2 * rows, column + 1] = middle
    both[2 * rows + 1, column] = middle
    return both
