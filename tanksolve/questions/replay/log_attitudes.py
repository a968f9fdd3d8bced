"""From the columns of a log to what the liquid feels, row by row in the file's order.

No row is left out: one whose attitude, fill or time cannot be is marked, and told by line.
"""

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
from tanksolve.questions.replay.log_doubts import ACCELERATIONS
from tanksolve.questions.replay.log_file import Problems, RawBlock
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]
Ints = NDArray[np.int64]
Reading = Literal["inclinometer", "rotations", "projected"]
Acceleration = Literal["own", "felt"]

__all__ = ["FAULTS", "GAP_STEPS", "Acceleration", "Follower", "Reading", "Samples", "check_columns"]

GAP_STEPS = 3.0  # usual steps without a row that count as a gap
FAULTS = ("", "empty", "overfull", "overturned")
NO_FAULT, EMPTY, OVERFULL, OVERTURNED = range(4)


class Samples(NamedTuple):
    """Rows in the file's order.

    time (N,) [s], carried over where it is missing; up (N, 3) as the liquid feels it, NaN where that is
    not known; volume (N,) [m³] within the tank, or None; line (N,); length (N,) [s] since the row
    before; sure (N,) whether nothing is missing or doubtful between that row and this; timed (N,)
    whether its time can be trusted; known (N,) whether ports can be judged; fault (N,) index of ``FAULTS``.
    """

    time: Array
    up: Array
    volume: Array | None
    line: Ints
    length: Array
    sure: Bools
    timed: Bools
    known: Bools
    fault: NDArray[np.int8]


def check_columns(
    columns: dict[str, Column], where: str, *, route: bool, acceleration: Acceleration | None
) -> None:
    """Refuse a log that lacks what it needs. Raises FileFormatError."""
    needed: tuple[str, ...] = ("distance", "elevation") if route else ("time", "pitch", "roll")
    if acceleration == "felt":
        needed = ("time", *ACCELERATIONS)
    missing = [name for name in needed if name not in columns]
    if not missing:
        return
    if acceleration is None and {"time", *ACCELERATIONS} <= set(columns):
        raise FileFormatError(
            f"no column for {', '.join(missing)}, but three of acceleration",
            where=where,
            allowed="the axes of an accelerometer that feels gravity, if you say so",
            next_step="--acceleration felt",
        )
    raise FileFormatError(
        f"no column for {', '.join(missing)}",
        where=where,
        allowed="columns such as time_s, pitch_deg, roll_deg; or, for a route,"
        " distance_m, elevation_m, heading_deg",
        next_step="rename the columns, or say which is which",
    )


@dataclass
class Follower:
    """Follows a log block by block, carrying over what one block must know of the last.

    Attributes
    ----------
    gap : seconds between rows that count as a gap; ``None``: nothing does.
    reading : how pitch and roll are to be understood; see ``Attitude``.
    acceleration : ``felt`` takes the tilt from three axes of an accelerometer.
    time_constant : of the filter for slosh [s]; None is off.
    pushes : sums of the accelerations [m/s²] of the rows known, and how many.
    """

    problems: Problems
    gap: float | None
    reading: Reading = "inclinometer"
    acceleration: Acceleration | None = None
    time_constant: float | None = None
    capacity: float = math.inf
    gaps: int = 0
    pushes: dict[str, tuple[float, int]] = field(default_factory=dict)
    _time: float = math.nan
    _latest: float = -math.inf
    _timed: bool = True
    _begun: bool = False
    _state: Array = field(default_factory=lambda: np.full(3, np.nan))

    @property
    def end(self) -> float:
        """Time of the last row that has one [s]."""
        return self._time

    def follow(self, block: RawBlock) -> Samples:
        """Judge the rows, and give what the liquid feels."""
        values, lines = block
        time, length, sure, timed = self._timing(values["time"], lines)
        up, overturned = self._felt(values, lines)
        if self.time_constant is not None:
            up = low_pass(up, np.where(sure, length, np.nan), self.time_constant, self._state)
            up /= np.linalg.norm(up, axis=1, keepdims=True)
        fault = np.where(overturned, np.int8(OVERTURNED), np.int8(NO_FAULT))
        known = np.isfinite(up[:, 2])
        volume = None
        if "fill" in values:
            volume = self._contents(values["fill"], lines, fault)
            known &= np.isfinite(volume)
        return Samples(time, up, volume, lines, length, sure, timed, known, fault)

    def _timing(self, read: Array, lines: Ints) -> tuple[Array, Array, Bools, Bools]:
        """Time with gaps carried over, length, sure and timed; see :class:`Samples`."""
        given = np.isfinite(read)
        time = np.concatenate([[self._time], read])
        if not given.all():
            time = time[np.maximum.accumulate(np.where(np.isfinite(time), np.arange(len(time)), 0))]
        latest = np.fmax.accumulate(np.concatenate([[self._latest], read]))
        with np.errstate(invalid="ignore"):
            timed = given & (read >= latest[:-1])
            length = np.fmax(np.diff(time), 0.0)
        length[np.isnan(length)] = 0.0
        sure = timed & np.concatenate([[self._timed], timed[:-1]])
        gap = sure & (length > (math.inf if self.gap is None else self.gap))
        if not timed.all():
            back = np.flatnonzero(given & ~timed)
            step = latest[back] - read[back]
            self.problems.add_all(lines[back], lambda k: f"time goes back by {step[k]:g} s")
        if gap.any():
            at = np.flatnonzero(gap)
            self.problems.add_all(
                lines[at], lambda k: f"a gap of {length[at[k]]:g} s before this line"
            )
            self.gaps += len(at)
            sure &= ~gap
        if not self._begun:
            sure[0], self._begun = True, True  # nothing lies before the first row
        self._time, self._latest, self._timed = float(time[-1]), float(latest[-1]), bool(timed[-1])
        first = time[1:][given][0] if given.any() else 0.0
        return np.where(np.isnan(time[1:]), first, time[1:]), length, sure, timed

    def _felt(self, values: dict[str, Array], lines: Ints) -> tuple[Array, Bools]:
        """Up vectors (N, 3) as the liquid feels them, and whether the machine is on its side or beyond."""
        given = [name for name in ACCELERATIONS if name in values]
        push = np.zeros((len(lines), 3 if given else 0))
        for name in given:
            push[:, ACCELERATIONS.index(name)] = values[name]
            known = values[name][np.isfinite(values[name])]
            total, count = self.pushes.get(name, (0.0, 0))
            self.pushes[name] = (total + float(known.sum()), count + len(known))
        if self.acceleration == "felt":
            total_push, overturned = push, push[:, 2] <= 0.0
        else:
            ground, overturned = self._ground(values["pitch"], values["roll"], lines)
            if not given:
                return ground, overturned
            total_push = GRAVITY * ground + push
        size = np.linalg.norm(total_push, axis=1, keepdims=True)
        weightless = size[:, 0] < 1e-3 * GRAVITY
        at = np.flatnonzero(weightless)
        self.problems.add_all(lines[at], lambda _: "free fall: the liquid has no surface")
        size[weightless] = np.nan
        return np.asarray(total_push / size), overturned

    def _ground(self, pitch: Array, roll: Array, lines: Ints) -> tuple[Array, Bools]:
        """Up vectors of the machine as it stands, and whether it is on its side or beyond."""
        steepest = np.fmax(np.abs(pitch), np.abs(roll))
        if self.reading == "rotations":
            up = direction.up_from_pitch_roll(pitch, roll)
            overturned = up[:, 2] <= 1e-12
        else:
            of = {
                "inclinometer": direction.up_from_inclinometer,
                "projected": direction.up_from_projected,
            }
            overturned = steepest >= 0.5 * np.pi * (1.0 - 1e-12)
            impossible = overturned
            if self.reading == "inclinometer" and not steepest.max(initial=0.0) <= 0.25 * np.pi:
                square = np.sin(pitch) ** 2 + np.sin(roll) ** 2
                impossible = overturned | (square > 1.0)
            if impossible.any():
                level = np.where(impossible, 0.0, 1.0)
                up = of[self.reading](pitch * level, roll * level)
                up[impossible] = np.nan
                up[overturned] = direction.up_from_pitch_roll(pitch[overturned], roll[overturned])
            else:
                up = of[self.reading](pitch, roll)
        beyond = steepest > np.pi * (1.0 + 1e-12)
        up[beyond], overturned = np.nan, overturned & ~beyond
        bad = np.flatnonzero(np.isnan(up[:, 2]) & np.isfinite(pitch + roll))
        self.problems.add_all(
            lines[bad],
            lambda k: (
                f"no attitude reads {np.degrees(pitch[bad[k]]):g}° pitch,"
                f" {np.degrees(roll[bad[k]]):g}° roll"
            ),
        )
        return up, overturned

    def _contents(self, fill: Array, lines: Ints, fault: NDArray[np.int8]) -> Array:
        """Volumes that the tank can hold [m³], NaN where none is known; writes what is no fill to ``fault``."""
        with np.errstate(invalid="ignore"):
            below, over, empty = fill < 0.0, fill > self.capacity * (1.0 + 1e-12), fill == 0.0
        for at, words in ((below, "is less than nothing"), (over, "does not fit the tank")):
            rows = np.flatnonzero(at)
            self.problems.add_all(
                lines[rows],
                lambda k, rows=rows, words=words: (  # type: ignore[misc]
                    f"a fill of {stated(fill[rows[k]], 'volume')} {words}"
                ),
            )
        fault[empty & (fault == NO_FAULT)] = EMPTY
        fault[over & (fault == NO_FAULT)] = OVERFULL
        inside = np.clip(fill, 1e-9 * self.capacity, (1.0 - 1e-9) * self.capacity)
        return np.asarray(np.where(below, np.nan, inside))
