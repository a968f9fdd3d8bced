"""From the columns of a log to what the liquid feels, row by row and in order of time."""

import math
from dataclasses import dataclass, field
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.kernel.attitude import direction
from tanksolve.kernel.attitude.grid_lookup import low_pass
from tanksolve.model.attitude import GRAVITY
from tanksolve.questions.replay.log_columns import Column
from tanksolve.questions.replay.log_file import Problems, RawBlock

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Reading = Literal["inclinometer", "rotations", "projected"]

__all__ = ["Follower", "Reading", "Samples", "route_block"]

_ACCELERATIONS = ("forward", "left", "up")


class Samples(NamedTuple):
    """Rows in order of time.

    time (N,) [s]; up (N, 3) as the liquid feels it; volume (N,) [m³] or None; line (N,);
    after_gap (N,) bool: a gap in the log lies before this row.
    """

    time: Array
    up: Array
    volume: Array | None
    line: Ints
    after_gap: NDArray[np.bool_]


def route_block(block: RawBlock, previous: dict[str, float], speed: float | None) -> RawBlock:
    """Turn rows of distance, elevation and heading into pitch, roll 0 and the push of the bends.

    Pitch is that of the stretch since the row before, its distance measured along the road. With
    time (or a constant ``speed`` [m/s]) a bend pushes by speed x turning rate; speeding up and
    braking are not in it. ``previous`` carries the last row over, and is updated.
    """
    rows = {
        name: np.concatenate([[previous.get(name, block.values[name][0])], block.values[name]])
        for name in ("distance", "elevation", "heading", "time")
        if name in block.values
    }
    for name in rows:
        previous[name] = float(rows[name][-1])
    along = np.diff(rows["distance"])
    moved = along > 0.0
    sine = np.divide(np.diff(rows["elevation"]), along, out=np.zeros_like(along), where=moved)
    values = {
        "pitch": np.arcsin(np.clip(sine, -0.999, 0.999)),
        "roll": np.zeros(len(along)),
        "time": rows["time"][1:] if "time" in rows else rows["distance"][1:] / (speed or 1.0),
    }
    if "heading" in rows:
        turn = np.diff(np.unwrap(rows["heading"]))  # compass: clockwise, to the right, is positive
        passed = np.diff(rows["time"]) if "time" in rows else along / (speed or 1.0)
        going = passed > 0.0
        rate, pace = (
            np.divide(change, passed, out=np.zeros_like(passed), where=going)
            for change in (turn, along)
        )
        values["left"] = -pace * rate
    if "fill" in block.values:
        values["fill"] = block.values["fill"]
    return RawBlock(values, block.lines)


@dataclass
class Follower:
    """Follows a log block by block, carrying over what one block must know of the last.

    Attributes
    ----------
    reading : how pitch and roll are to be understood; see ``Attitude``.
    gap : seconds between rows that count as a gap; None takes ten times the usual step.
    time_constant : of the filter for slosh [s]; None is off.
    """

    problems: Problems
    reading: Reading = "inclinometer"
    gap: float | None = None
    time_constant: float | None = None
    capacity: float = math.inf
    last_time: float = math.nan
    gaps: int = 0
    state: Array = field(default_factory=lambda: np.full(3, np.nan))

    @staticmethod
    def check_columns(columns: dict[str, Column], where: str, *, route: bool) -> None:
        """Refuse a log that lacks what it needs. Raises FileFormatError."""
        needed = ("distance", "elevation") if route else ("time", "pitch", "roll")
        missing = [name for name in needed if name not in columns]
        if missing:
            raise FileFormatError(
                f"no column for {', '.join(missing)}",
                where=where,
                allowed="columns such as time_s, pitch_deg, roll_deg; or, for a route,"
                " distance_m, elevation_m, heading_deg",
                next_step="rename the columns, or say which is which",
            )

    def follow(self, block: RawBlock) -> Samples:
        """Check the rows, put aside those that cannot be, and give what the liquid feels."""
        values, lines = self._in_order(*self._possible(block))
        time = values["time"]
        before = np.concatenate([[self.last_time], time[:-1]]) if len(time) else time
        interval = time - before
        going = interval[interval > 0.0]  # rows may share a time that was rounded
        if self.gap is None and len(going):
            self.gap = 10.0 * float(np.median(going))
        after_gap = interval > (math.inf if self.gap is None else self.gap)
        for k in np.flatnonzero(after_gap):
            self.problems.add(int(lines[k]), f"a gap of {interval[k]:g} s before this line")
        self.gaps += int(np.count_nonzero(after_gap))
        up = self._felt(values, lines)
        if self.time_constant is not None:
            broken = np.where(after_gap, math.nan, interval)
            up = low_pass(up, broken, self.time_constant, self.state)
            up /= np.linalg.norm(up, axis=1, keepdims=True)
        if len(time):
            self.last_time = float(time[-1])
        return Samples(time, up, values.get("fill"), lines, after_gap)

    def _possible(self, block: RawBlock) -> tuple[dict[str, Array], Ints]:
        values = block.values
        pitch, roll = values["pitch"], values["roll"]
        bad = ~((np.abs(pitch) < 0.5 * np.pi) & (np.abs(roll) < 0.5 * np.pi))
        if self.reading == "inclinometer":
            bad |= np.sin(pitch) ** 2 + np.sin(roll) ** 2 > 1.0
        over = np.zeros(len(bad), bool)
        if "fill" in values:
            over = ~((values["fill"] > 0.0) & (values["fill"] <= self.capacity)) & ~bad
        for k in np.flatnonzero(bad | over):
            words = (
                f"a fill of {1000 * values['fill'][k]:g} L does not fit the tank"
                if over[k]
                else f"no attitude reads {np.degrees(pitch[k]):g}° pitch, {np.degrees(roll[k]):g}° roll"
            )
            self.problems.add(int(block.lines[k]), words)
        good = ~(bad | over)
        if good.all():
            return values, block.lines
        return {name: column[good] for name, column in values.items()}, block.lines[good]

    def _in_order(self, values: dict[str, Array], lines: Ints) -> tuple[dict[str, Array], Ints]:
        """Leave out rows whose time is before one already passed."""
        time = values["time"]
        start = -math.inf if math.isnan(self.last_time) else self.last_time
        latest = np.maximum.accumulate(np.concatenate([[start], time]))[:-1]
        back = time < latest
        if not back.any():
            return values, lines
        for k in np.flatnonzero(back):
            self.problems.add(int(lines[k]), f"time goes back by {latest[k] - time[k]:g} s")
        return {name: column[~back] for name, column in values.items()}, lines[~back]

    def _felt(self, values: dict[str, Array], lines: Ints) -> Array:
        pitch, roll = values["pitch"], values["roll"]
        up = {
            "inclinometer": direction.up_from_inclinometer,
            "rotations": direction.up_from_pitch_roll,
            "projected": direction.up_from_projected,
        }[self.reading](pitch, roll)
        given = [name for name in _ACCELERATIONS if name in values]
        if not given:
            return up
        push = np.zeros_like(up)
        for name in given:
            push[:, _ACCELERATIONS.index(name)] = values[name]
        total = GRAVITY * up + push
        size = np.linalg.norm(total, axis=1, keepdims=True)
        weightless = size < 1e-3 * GRAVITY
        for k in np.flatnonzero(weightless):
            self.problems.add(
                int(lines[k]), "free fall: no surface; the ground's attitude is taken"
            )
        return np.asarray(np.where(weightless, up, total / np.maximum(size, 1e-12)))
