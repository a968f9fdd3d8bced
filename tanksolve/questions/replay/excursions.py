"""Stretches of a log in which a port breaks its rule, followed block by block in bounded memory."""

import heapq
import itertools
import math
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.replay.log_attitudes import Samples

Array = NDArray[np.float64]

__all__ = ["KEPT", "Excursion", "Moment", "PortFollower"]

KEPT = 500  # the deepest that are kept one by one; all are counted and their time added up


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
        before a gap or the end of the log.
    worst : the row with the least margin; its depth is ``-worst.margin_m``.
    cut_short : whether a gap or the log's end hides how it ended.
    running_left_s : seconds until air reaches the pump less ``length_s``; negative where air got
        there. None where that is not known, or the port is no pickup.
    """

    port: str
    start_s: float
    length_s: float
    line: int
    worst: Moment
    cut_short: bool
    running_left_s: float | None


class PortFollower:
    """Follows one port through the log.

    Attributes
    ----------
    count, seconds_out : of all excursions, kept or not.
    longest_s : the longest.
    worst : the row with the least margin in the whole log, broken or not.
    """

    def __init__(self, port: str, hold: float | None) -> None:
        self.port = port
        self.hold = hold
        self.count = 0
        self.seconds_out = 0.0
        self.longest_s = 0.0
        self.worst: Moment | None = None
        self._open: tuple[float, int] | None = None  # start time and line
        self._deepest: Moment | None = None
        self._last_time = math.nan
        self._kept: list[tuple[float, int, Excursion]] = []
        self._serial = itertools.count()

    @property
    def kept(self) -> tuple[Excursion, ...]:
        """Kept excursions in order of time."""
        return tuple(sorted((item[2] for item in self._kept), key=lambda e: e.start_s))

    def follow(self, samples: Samples, margin: Array) -> None:
        """Take in the margins (N,) [m] of a block."""
        if len(margin) == 0:
            return
        lowest = int(np.argmin(margin))
        self.worst = _deeper(self.worst, samples, margin, lowest)
        broken = margin < 0.0
        if broken.any() or self._open is not None:
            changes = np.flatnonzero((broken[1:] != broken[:-1]) | samples.after_gap[1:]) + 1
            edges = np.concatenate([[0], changes, [len(margin)]])
            for first, last in itertools.pairwise(edges.tolist()):
                self._stretch(samples, margin, first, last, bool(broken[first]))
        self._last_time = float(samples.time[-1])

    def _stretch(
        self, samples: Samples, margin: Array, first: int, last: int, broken: bool
    ) -> None:
        """Take in rows first..last, all broken or all holding, without a gap inside."""
        if self._open is not None and (samples.after_gap[first] or not broken):
            gap = bool(samples.after_gap[first])
            before = float(samples.time[first - 1]) if first > 0 else self._last_time
            self._close(before if gap else float(samples.time[first]), gap)
        if not broken:
            return
        if self._open is None:
            self._open = (float(samples.time[first]), int(samples.line[first]))
            self._deepest = None
        lowest = first + int(np.argmin(margin[first:last]))
        self._deepest = _deeper(self._deepest, samples, margin, lowest)

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
        found = Excursion(self.port, start, length, line, self._deepest, cut_short, left)
        self.count += 1
        self.seconds_out += length
        self.longest_s = max(self.longest_s, length)
        item = (-self._deepest.margin_m, next(self._serial), found)
        if len(self._kept) < KEPT:
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
