"""What one long route does to liquid that walls part: it is carried along, stop by stop, and looked at there.

A sample, not a bound: attitudes that differ by less than a step from the last stop are taken as that
stop. Where one surface is certain, or the rules are kept whatever came before, nothing rests on it.
"""

import itertools
import math
from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.stops import LOST, thinned, thinner
from tanksolve.kernel.pools.settle import settle
from tanksolve.state.conditions import Conditions
from tanksolve.state.start import Start

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]

__all__ = ["BROKEN", "KEPT", "RESTS", "Carried", "Carrier", "LeastMargin", "RouteRows"]

STEP = math.radians(0.5)  # of attitude, at first: it doubles as often as the stops grow too many
WIDEST = math.radians(8.0)
MOST_STOPS = 4000
KEPT, BROKEN, RESTS = 0, 1, 2  # whatever the route, whatever the route, or as the route left it


class RouteRows(NamedTuple):
    """Rows of a route in order.

    up (N, 3); way (N,) of ``kernel.attitude.stops``; joined (N,) whether this row and the one before are known
    and nothing is missing between; length (N,) [s] since that row; answer (N,) KEPT, BROKEN or RESTS;
    line (N,) and time (N,) [s].
    """

    up: Array
    way: NDArray[np.int8]
    joined: Bools
    length: Array
    answer: NDArray[np.int8]
    line: Ints
    time: Array


@dataclass(frozen=True)
class LeastMargin:
    """The least margin [m] of a port at the stops, with the line and time [s] of that stop in the log."""

    port: str
    margin_m: float
    line: int
    time_s: float


@dataclass(frozen=True)
class Carried:
    """What a route did to the liquid carried along it, at the rows whose answer rests on the route.

    Attributes
    ----------
    kept_s, broken_s : seconds of those rows, and of the stretches that lead to them; kept_rows, broken_rows.
        What is in neither comes after a missing row or stretch, until one surface is certain again.
    least : of each port; empty without stops.
    step_deg : attitudes nearer than this to a stop are taken as that stop; stops : how many.
    filled : how the tank is taken to have been filled before the first row, in words.
    ended_s : when the stops grew too many, so that nothing was carried any further; None: to the end.
    """

    kept_s: float
    broken_s: float
    kept_rows: int
    broken_rows: int
    least: tuple[LeastMargin, ...]
    step_deg: float
    stops: int
    filled: str
    ended_s: float | None


class _Stops(NamedTuple):
    """Stops (S,): up (S, 3), whether liquid starts anew, line, time, and the seconds and rows that share each."""

    up: Array
    fresh: Bools
    line: Ints
    time: Array
    seconds: Array
    rows: Ints

    def then(self, other: "_Stops") -> "_Stops":
        return _Stops(*(np.concatenate(pair) for pair in zip(self, other, strict=True)))


_NO_STOPS = _Stops(
    *(np.empty((0, 3)), np.empty(0, bool), np.empty(0, np.int64)),
    *(np.empty(0), np.empty(0), np.empty(0, np.int64)),
)


class Carrier:
    """Gathers the stops of a route block by block, and carries the liquid along them in the end."""

    def __init__(self, conditions: Conditions) -> None:
        self.conditions = conditions
        self.step = STEP
        self.start = Start.of(conditions.tank, conditions.tank_ports)
        self.stops = _NO_STOPS
        self.led = np.zeros(
            2
        )  # seconds kept and broken of rows that lead to one that rests on the route
        self.ended_s: float | None = None
        self._as_filled = False  # the first stop is the filling
        self._state = np.array([0.0, 0.0, 1.0, 0.0, 0.0, 1.0, -1.0, 0.0])
        self._last: tuple[int, float, int] | None = None  # line, time and answer of the row before

    def take(self, rows: RouteRows) -> None:
        """Take in a block; none any more once the stops are too many."""
        if self.ended_s is not None:
            return
        before_up, before_stop = self._state[3:6].copy(), int(self._state[6])
        line, time, answer = self._last or (0, 0.0, KEPT)
        chord = 2.0 * math.sin(0.5 * self.step)
        at, fresh, stop_of = thinned(rows.up, rows.way, rows.joined, chord, self._state)
        if len(at):
            self._as_filled |= self._last is None and at[0] < 0
            new = _Stops(
                np.concatenate([before_up[None], rows.up])[at + 1],
                fresh,
                np.concatenate([[line], rows.line])[at + 1],
                np.concatenate([[time], rows.time])[at + 1],
                np.zeros(len(at)),
                np.zeros(len(at), np.int64),
            )
            self.stops = self.stops.then(new)
        rests = rows.answer == RESTS
        from_ = np.concatenate([[answer], rows.answer[:-1]])
        stop_before = np.concatenate([[before_stop], stop_of[:-1]])
        resting = rows.joined & (from_ == RESTS) & (stop_before >= 0) & ~(rests & (stop_of == LOST))
        np.add.at(self.stops.seconds, stop_before[resting], rows.length[resting])
        here = rests & (stop_of >= 0)
        np.add.at(self.stops.rows, stop_of[here], 1)
        for kind in (KEPT, BROKEN):
            self.led[kind] += rows.length[rows.joined & (from_ == kind) & here].sum()
        self._last = (int(rows.line[-1]), float(rows.time[-1]), int(rows.answer[-1]))
        while len(self.stops.up) > MOST_STOPS and self.step < WIDEST:
            self._thin()
        if len(self.stops.up) > MOST_STOPS and self.ended_s is None:
            self.ended_s = self._last[1]

    def _thin(self) -> None:
        """Leave out every stop within twice the step of the one kept before it."""
        self.step *= 2.0
        old = self.stops
        joins = thinner(old.up, old.fresh, 2.0 * math.sin(0.5 * self.step))
        kept = np.flatnonzero(np.diff(joins, prepend=-1))
        count = len(kept)
        self.stops = _Stops(
            old.up[kept],
            old.fresh[kept],
            old.line[kept],
            old.time[kept],
            np.asarray(np.bincount(joins, weights=old.seconds, minlength=count), np.float64),
            np.bincount(joins, weights=old.rows, minlength=count).astype(np.int64),
        )
        self._state[:3] = self.stops.up[-1]
        self._state[7] = count
        if self._state[6] >= 0.0:
            self._state[6] = joins[int(self._state[6])]

    def result(self) -> Carried:
        """Carry the liquid from each place where it starts anew, and judge the ports at each stop."""
        stops = self.stops
        margins = np.full((len(stops.up), len(self.conditions.ports)), np.inf)
        pieces = [*np.flatnonzero(stops.fresh), len(stops.up)]
        for k, (a, b) in enumerate(itertools.pairwise(pieces)):
            margins[a:b] = self._margins(stops.up[a:b], poured=self._as_filled and k == 0)
        broken = (margins < 0.0).any(axis=1)
        worst = np.argmin(margins, axis=0) if len(margins) else np.empty(0, np.int64)
        return Carried(
            kept_s=float(stops.seconds[~broken].sum() + self.led[KEPT]),
            broken_s=float(stops.seconds[broken].sum() + self.led[BROKEN]),
            kept_rows=int(stops.rows[~broken].sum()),
            broken_rows=int(stops.rows[broken].sum()),
            least=tuple(
                LeastMargin(
                    port.name, float(margins[s, i]), int(stops.line[s]), float(stops.time[s])
                )
                for i, (port, s) in enumerate(zip(self.conditions.ports, worst, strict=False))
            ),
            step_deg=math.degrees(self.step),
            stops=len(stops.up),
            filled=self.start.words,
            ended_s=self.ended_s,
        )

    def _margins(self, up: Array, *, poured: bool) -> Array:
        """Margins (S, ports) [m] along one path of stops; at its first the liquid stands as filled, or level."""
        c = self.conditions
        out = np.empty((len(up), len(c.ports)))
        for wet, volume in ((True, c.least), (False, c.most)):
            columns = c.columns(wet=wet)
            if not columns:
                continue
            found = settle(
                c.tank.graph,
                up,
                volume,
                [c.tank.seated(c.ports[i].position) for i in columns],
                links=c.tank.link_stations,
                poured_at=self.start.poured_at if poured else [],
            )
            for q, i in enumerate(columns):
                gap = found.port_level[0, :, q] - c.edge(i, up)
                # over nothing: never to be read as kept
                out[:, i] = np.where(np.isnan(gap), -np.inf, gap if wet else -gap)
        return out
