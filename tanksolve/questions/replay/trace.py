"""Margins against time at a size that can be drawn, however long the log."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

Array = NDArray[np.float64]

__all__ = ["Trace", "TraceBuilder"]


@dataclass(frozen=True, eq=False)
class Trace:
    """Least and greatest margin of each port in stretches of rows, for a plot.

    start_s, end_s (B,) [s]; least_m, greatest_m (B, ports) [m], NaN where no
    row of a stretch is known; ports : names.
    """

    start_s: Array
    end_s: Array
    least_m: Array
    greatest_m: Array
    ports: tuple[str, ...]


class TraceBuilder:
    """Builds a trace block by block: at most 4000 stretches; pairs are merged as the log grows."""

    MOST = 4000

    def __init__(self, ports: int) -> None:
        self.each = 1  # rows in a stretch
        self.time = np.empty((0, 2))
        self.least = np.empty((0, ports))
        self.greatest = np.empty((0, ports))

    def take(self, time: Array, margins: Array) -> None:
        """Take in a block, in stretches of its own (the last of a block may be shorter)."""
        starts = np.arange(0, len(time), self.each)
        ends = np.minimum(starts + self.each, len(time)) - 1
        self.time = np.vstack([self.time, np.stack([time[starts], time[ends]], axis=1)])
        self.least = np.vstack([self.least, np.fmin.reduceat(margins, starts)])
        self.greatest = np.vstack([self.greatest, np.fmax.reduceat(margins, starts)])
        while len(self.time) > self.MOST:
            self._halve()

    def _halve(self) -> None:
        starts = np.arange(0, len(self.time), 2)
        ends = np.minimum(starts + 1, len(self.time) - 1)
        self.time = np.stack([self.time[starts, 0], self.time[ends, 1]], axis=1)
        self.least = np.fmin.reduceat(self.least, starts)
        self.greatest = np.fmax.reduceat(self.greatest, starts)
        self.each *= 2

    def result(self, ports: tuple[str, ...]) -> Trace:
        """The trace as it stands."""
        return Trace(self.time[:, 0], self.time[:, 1], self.least, self.greatest, ports)
