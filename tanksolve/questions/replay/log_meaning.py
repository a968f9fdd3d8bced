"""How a log is understood, from its head: columns, units, signs, decimal mark, time step; doubts are asked."""

from dataclasses import dataclass, field
from pathlib import Path
from typing import Literal, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.questions.replay.log_attitudes import (
    GAP_STEPS,
    Acceleration,
    Reading,
    check_columns,
)
from tanksolve.questions.replay.log_columns import Column, find_columns, units_below
from tanksolve.questions.replay.log_doubts import (
    ACCELERATIONS,
    ask_what_accelerations_mean,
    ask_whether_tilt_counts_twice,
    decimal_mark,
)
from tanksolve.questions.replay.log_file import Head, read_head
from tanksolve.questions.replay.log_rows import Plan, rows_of_fields

Array = NDArray[np.float64]

__all__ = ["LogOptions", "Understood", "understand"]

_SHOWN = 3


@dataclass(frozen=True)
class LogOptions:
    """How the log is to be read.

    Attributes
    ----------
    names, units : quantity to header and to unit, where the header does not say.
    reversed_signs : quantities signed against pitch nose up +, roll right side down +.
    reading : what pitch and roll are: ``inclinometer``, ``rotations`` or ``projected``.
    acceleration : what columns of acceleration are: ``own`` (the machine's, without gravity) or ``felt`` (an
        accelerometer's three axes, from which the tilt is then taken); None asks where it matters.
    decimal : ``comma`` or ``point``; None finds out, and asks in doubt.
    gap : seconds between rows that count as a gap; None is three times the usual step.
    time_constant : of the filter for slosh [s]; None is off.
    speed : constant speed [m/s] along a route without times; None is not given.
    """

    names: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    reversed_signs: frozenset[str] = frozenset()
    reading: Reading = "inclinometer"
    acceleration: Acceleration | None = None
    decimal: Literal["comma", "point"] | None = None
    gap: float | None = None
    time_constant: float | None = None
    speed: float | None = None

    def __post_init__(self) -> None:
        for value, what in (
            (self.gap, "gap"),
            (self.time_constant, "time constant"),
            (self.speed, "speed"),
        ):
            if value is not None and not 0.0 < value < 1e9:
                raise FileFormatError(f"a {what} of {value:g} (SI) is not positive")


class Understood(NamedTuple):
    """A log as it will be read.

    columns : by quantity; plan : for the rows; sample : the first rows (N,) by quantity, in SI, as they
    stand in the file; step : usual time between rows [s], None where no row follows another; gap [s];
    is_route : whether attitudes follow from distance and elevation; notes : what is set aside, in words.
    """

    head: Head
    columns: dict[str, Column]
    plan: Plan
    sample: dict[str, Array]
    step: float | None
    gap: float | None
    is_route: bool
    notes: tuple[str, ...]

    @property
    def first_rows(self) -> tuple[tuple[float | None, ...], ...]:
        """The first rows in SI, a value for each column, None where it is none."""
        rows = zip(*(values[:_SHOWN].tolist() for values in self.sample.values()), strict=True)
        return tuple(tuple(None if v != v else v for v in row) for row in rows)

    def check_accelerations(self, mean: dict[str, float], told: Acceleration | None) -> None:
        """Ask what the columns of acceleration mean, where their means [m/s²] show gravity."""
        ask_what_accelerations_mean(mean, self.head.where, told, self.columns)


def understand(path: Path, options: LogOptions) -> Understood:
    """Read a log's head and find out what its columns mean. Raises FileFormatError, also in doubt."""
    head = read_head(path)
    titled = units_below(head.fields, head.sample[0])
    if titled is not None and head.length > 1 and len(head.sample) > 1:
        head = head.below()._replace(fields=titled)
    columns = find_columns(
        *(head.fields, head.sample, head.where),
        *(options.names, options.units, options.reversed_signs),
    )
    columns, notes = _set_aside(columns, options.acceleration)
    is_route = "pitch" not in columns and {"distance", "elevation"} & set(columns) != set()
    is_route &= options.acceleration != "felt"
    check_columns(columns, head.where, route=is_route, acceleration=options.acceleration)
    if is_route and "time" not in columns and options.speed is None:
        raise FileFormatError(
            "a route without times needs a speed",
            where=head.where,
            next_step="give a constant speed",
        )
    used = tuple(columns.values())
    mark = "."
    if head.separator:
        mark = decimal_mark(head.sample, used, head.separator, head.where, options.decimal)
    plan = Plan(head.separator, mark, _width(head), used)
    found = zip(used, rows_of_fields(head.sample, plan), strict=True)
    sample = {column.quantity: column.to_si(values) for column, values in found}
    step = _usual_step(sample, options.speed)
    gap = options.gap if options.gap is not None or step is None else GAP_STEPS * step
    known = Understood(head, columns, plan, sample, step, gap, is_route, notes)
    given = [name for name in ACCELERATIONS if name in sample]
    if np.isfinite([sample[name] for name in given]).any():
        mean = {name: float(np.nanmean([*sample[name], 0.0][:-1] or [0.0])) for name in given}
        known.check_accelerations(mean, options.acceleration)
        ask_whether_tilt_counts_twice(sample, head.where, options.acceleration, columns)
    return known


def _set_aside(
    columns: dict[str, Column], acceleration: Acceleration | None
) -> tuple[dict[str, Column], tuple[str, ...]]:
    """Leave out columns that an accelerometer's axes stand in for."""
    aside = [n for n in ("pitch", "roll") if acceleration == "felt" and n in columns]
    if not aside:
        return columns, ()
    note = f"The tilt is taken from the accelerometer: {' and '.join(aside)} are set aside."
    return {name: c for name, c in columns.items() if name not in aside}, (note,)


def _width(head: Head) -> int:
    """Fields in a row: the header's, and empty ones that all rows end with."""
    beyond = {len(row) for row in head.sample}
    width = len(head.fields)
    if len(beyond) == 1 and not any(any(row[width:]) for row in head.sample):
        return max(width, beyond.pop())
    return width


def _usual_step(sample: dict[str, Array], speed: float | None) -> float | None:
    """Median of the times from row to row, where it moves on [s]."""
    time = sample["time"] if "time" in sample else sample["distance"] / (speed or 1.0)
    steps = np.diff(time)
    going = steps[steps > 0.0]  # rows may share a time that was rounded
    return float(np.median(going)) if len(going) else None
