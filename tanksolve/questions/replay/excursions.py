"""Stretches of a log in which a port breaks its rule, followed block by block in bounded memory."""

import heapq
import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.replay.log_attitudes import FAULTS, Samples
from tanksolve.questions.replay.outcome import BROKEN, KEPT, NOT_KNOWN, Outcome, OutcomeBuilder

Array = NDArray[np.float64]

__all__ = ["MOST_KEPT", "Excursion", "Moment", "PortFollower"]

MOST_KEPT = 500  # the deepest that are kept one by one; all are counted and their time added up


@dataclass(frozen=True)
class Moment:
    """One row: its line and time in the log, the attitude that the liquid feels, and a margin [m]."""

    line: int
    time_s: float
    up: tuple[float, float, float]
    volume_m3: float | None
    margin_m: float


@dataclass(frozen=True)
class Excursion:
    """A stretch in which a port's rule is broken.

    Attributes
    ----------
    start_s, length_s : from the first broken row to the first that holds again, or to the last
        before what is not known or the end of the log.
    worst : the row with the least margin; its depth is ``-worst.margin_m``.
    cut_short : whether a row or stretch that is not known, or the log's end, hides how it ended.
    fault : what is wrong apart from the port's margin: ``empty``, ``overfull``, ``overturned``, or nothing.
    running_left_s : seconds until air reaches the pump less ``length_s``; negative where air got
        there. None where that is not known, or the port is no pickup.
    """

    port: str
    start_s: float
    length_s: float
    line: int
    worst: Moment
    cut_short: bool
    fault: str
    running_left_s: float | None


class PortFollower:
    """Follows one port through the log.

    Attributes
    ----------
    count, seconds_out : of all excursions, kept or not.
    longest_s : the longest.
    worst : the row with the least margin of those that are known, broken or not.
    """

    def __init__(self, port: str, hold: float | None) -> None:
        self.port = port
        self.hold = hold
        self.count = 0
        self.seconds_out = 0.0
        self.longest_s = 0.0
        self.worst: Moment | None = None
        self._outcome = OutcomeBuilder()
        self._open: tuple[float, int] | None = None  # start time and line
        self._deepest: Moment | None = None
        self._fault = 0
        self._any_fault = False  # in the block at hand
        self._last_time = math.nan
        self._kept: list[tuple[float, int, Excursion]] = []
        self._serial = itertools.count()

    @property
    def kept(self) -> tuple[Excursion, ...]:
        """Kept excursions in order of time."""
        return tuple(sorted((item[2] for item in self._kept), key=lambda e: e.start_s))

    @property
    def outcome(self) -> Outcome:
        """The three answers so far."""
        return self._outcome.result()

    def follow(self, samples: Samples, margin: Array, state: NDArray[np.int8]) -> None:
        """Take in the margins (N,) [m], NaN where not known, and the states (N,) of a block."""
        self._outcome.take(state, samples)
        lowest = int(np.argmin(margin))
        if math.isnan(margin[lowest]):
            lowest = int(np.argmin(np.where(np.isnan(margin), np.inf, margin)))
        if not math.isnan(margin[lowest]):
            self.worst = _deeper(self.worst, samples, margin, lowest)
        self._any_fault = bool(samples.fault.any())
        if self._open is not None or (state == BROKEN).any():
            changes = np.flatnonzero((state[1:] != state[:-1]) | ~samples.sure[1:]) + 1
            edges = np.concatenate([[0], changes, [len(margin)]])
            for first, last in itertools.pairwise(edges.tolist()):
                self._stretch(samples, margin, first, last, int(state[first]))
        self._last_time = float(samples.time[-1])

    def _stretch(self, samples: Samples, margin: Array, first: int, last: int, state: int) -> None:
        """Take in rows first..last of one state, with nothing missing between them."""
        hidden = not samples.sure[first] or state == NOT_KNOWN
        if self._open is not None and (hidden or state == KEPT):
            before = float(samples.time[first - 1]) if first > 0 else self._last_time
            self._close(before if hidden else float(samples.time[first]), hidden)
        if state != BROKEN:
            return
        if self._open is None:
            self._open = (float(samples.time[first]), int(samples.line[first]))
            self._deepest, self._fault = None, 0
        lowest = first + int(np.argmin(margin[first:last]))
        self._deepest = _deeper(self._deepest, samples, margin, lowest)
        if self._any_fault:
            self._fault = max(self._fault, int(samples.fault[first:last].max()))

    def finish(self) -> None:
        """Close what is open at the end of the log."""
        if self._open is not None:
            self._close(self._last_time, cut_short=True)

    def _close(self, end: float, cut_short: bool) -> None:
        if self._open is None or self._deepest is None:
            raise ValueError("no excursion is open")
        start, line = self._open
        length = end - start
        left = None if self.hold is None else self.hold - length
        found = Excursion(
            *(self.port, start, length, line, self._deepest),
            *(cut_short, FAULTS[self._fault], left),
        )
        self.count += 1
        self.seconds_out += length
        self.longest_s = max(self.longest_s, length)
        item = (-self._deepest.margin_m, next(self._serial), found)
        if len(self._kept) < MOST_KEPT:
            heapq.heappush(self._kept, item)
        else:
            heapq.heappushpop(self._kept, item)
        self._open = None


def _deeper(known: Moment | None, samples: Samples, margin: Array, k: int) -> Moment:
    """The deeper of a known moment and row k."""
    if known is not None and known.margin_m <= margin[k]:
        return known
    x, y, z = samples.up[k].tolist()
    volume = None if samples.volume is None else float(samples.volume[k])
    return Moment(int(samples.line[k]), float(samples.time[k]), (x, y, z), volume, float(margin[k]))
