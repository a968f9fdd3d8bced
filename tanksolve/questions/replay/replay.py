"""What a recorded day would have done to this tank: margins against time, and each excursion.

Still liquid at every row: the level is that of the attitude (and acceleration) of the moment.
Real liquid lags and sloshes; a low-pass filter with a stated time constant stands in for the lag,
and is off unless asked for.
"""

from collections.abc import Callable, Iterator, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.questions.replay.excursions import Excursion, Moment, PortFollower
from tanksolve.questions.replay.log_attitudes import Follower, Reading, Samples, route_block
from tanksolve.questions.replay.log_columns import Column, find_columns
from tanksolve.questions.replay.log_file import (
    BLOCK_BYTES,
    Problem,
    Problems,
    RawBlock,
    raw_blocks,
    read_header,
)
from tanksolve.questions.replay.trace import Trace, TraceBuilder
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import MarginTable, solved_margins

Array = NDArray[np.float64]

__all__ = ["LogOptions", "PortReplay", "Replay", "replay"]

CAUTIONS = (
    "Still liquid at each row: slosh, foam and the time that liquid takes to follow are not in it.",
    "A tilt sensor that works by acceleration already feels braking and cornering: do not give it"
    " acceleration columns as well, or they count twice.",
)


@dataclass(frozen=True)
class LogOptions:
    """How the log is to be read.

    Attributes
    ----------
    names, units : quantity to header and to unit, where the header does not say.
    reversed_signs : quantities signed against pitch nose up +, roll right side down +.
    reading : what pitch and roll are: ``inclinometer``, ``rotations`` or ``projected``.
    gap : seconds between rows that count as a gap; None is ten times the usual step.
    time_constant : of the filter for slosh [s]; None is off.
    speed : constant speed [m/s] along a route without times; None is not given.
    """

    names: dict[str, str] = field(default_factory=dict)
    units: dict[str, str] = field(default_factory=dict)
    reversed_signs: frozenset[str] = frozenset()
    reading: Reading = "inclinometer"
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


@dataclass(frozen=True)
class PortReplay:
    """One port over the whole log; excursions are all counted, the deepest 500 kept."""

    port: str
    rule: str
    worst: Moment
    excursion_count: int
    seconds_out: float
    longest_s: float
    excursions: tuple[Excursion, ...]


@dataclass(frozen=True)
class Replay:
    """A whole log against a tank.

    Attributes
    ----------
    rows : used; problem_count : lines left out or remarked on, the first 200 of them listed.
    holds : whether every port kept its rule at every row used.
    columns : what each column was read as.
    solved_rows, solved_nodes : how many rows and table nodes were solved one by one.
    """

    log: str
    tank: str
    rows: int
    start_s: float
    end_s: float
    gap_s: float | None
    gaps: int
    problem_count: int
    problems: tuple[Problem, ...]
    columns: tuple[Column, ...]
    ports: tuple[PortReplay, ...]
    holds: bool
    time_constant_s: float | None
    seconds_held_by_line: float | None
    solved_rows: int
    solved_nodes: int
    cautions: tuple[str, ...]
    trace: Trace = field(repr=False, metadata={"json": False})


def replay(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    log: str | Path,
    options: LogOptions | None = None,
    *,
    hold: float | None = None,
    progress: Callable[[int, int], None] | None = None,
    block_bytes: int = BLOCK_BYTES,
) -> Replay:
    """Run a log through a tank.

    Parameters
    ----------
    fill : [m³]; pickups are judged at the least, breathers at the most. A fill column, where the
        log has one, takes its place.
    hold : seconds until air reaches the pump once a pickup is bare, see ``running_left``.
    progress : called with bytes done and bytes in all.

    Raises FileFormatError for a log that cannot be read or has no usable row, PortError, FillError.
    """
    options = options or LogOptions()
    conditions = Conditions.of(tank, ports, fill)
    path = Path(log)
    header = read_header(path)
    where = f"{path}, line {header.line - 1}"
    columns = find_columns(
        *(header.fields, header.first_row, where),
        *(options.names, options.units, options.reversed_signs),
    )
    is_route = "pitch" not in columns and {"distance", "elevation"} & set(columns) != set()
    Follower.check_columns(columns, where, route=is_route)
    if is_route and "time" not in columns and options.speed is None:
        raise FileFormatError(
            "a route without times needs a speed", where=where, next_step="give a constant speed"
        )
    problems = Problems()
    follower = Follower(
        *(problems, options.reading, options.gap, options.time_constant, tank.capacity)
    )
    blocks = raw_blocks(path, header, columns, problems, progress, block_bytes)
    if is_route:
        blocks = _route(blocks, options.speed)
    run = _Run(conditions, hold)
    for block in blocks:
        run.take(follower.follow(block))
    return run.result(path, options, follower, columns)


def _route(blocks: Iterator[RawBlock], speed: float | None) -> Iterator[RawBlock]:
    previous: dict[str, float] = {}
    for block in blocks:
        if len(block.lines):
            yield route_block(block, previous, speed)


def _cautions(rows: int, problems: int) -> tuple[str, ...]:
    if problems <= 0.001 * rows:
        return CAUTIONS
    left_out = (
        f"{problems} lines were left out or remarked on beside {rows} rows used: the answer is for"
        " the rows used. One false time far ahead makes every row after it go back in time."
    )
    return (left_out, *CAUTIONS)


class _Run:
    """The state of one replay."""

    def __init__(self, conditions: Conditions, hold: float | None) -> None:
        self.conditions = conditions
        self.hold = hold
        self.table = MarginTable(conditions)
        self.ports = [
            PortFollower(port.name, hold if port.kind is PortKind.PICKUP else None)
            for port in conditions.ports
        ]
        self.trace = TraceBuilder(len(conditions.ports))
        self.rows = 0
        self.first_time = float("nan")

    def take(self, samples: Samples) -> None:
        """Take in a block."""
        if len(samples.time) == 0:
            return
        if self.rows == 0:
            self.first_time = float(samples.time[0])
        self.rows += len(samples.time)
        if samples.volume is None:
            margins = self.table.margins(samples.up)
        else:
            margins = solved_margins(self.conditions, samples.up, samples.volume)
            self.table.solved_rows += len(margins)
        for k, port in enumerate(self.ports):
            port.follow(samples, margins[:, k])
        self.trace.take(samples.time, margins)

    def result(
        self, path: Path, options: LogOptions, follower: Follower, columns: dict[str, Column]
    ) -> Replay:
        """Close what is open and give the whole."""
        if self.rows == 0:
            raise FileFormatError(
                "has no row that can be used",
                where=str(path),
                next_step=follower.problems.first[0].words if follower.problems.first else "",
            )
        for port in self.ports:
            port.finish()
        found = tuple(self._port(k) for k in range(len(self.ports)))
        return Replay(
            *(str(path), self.conditions.tank.name, self.rows, self.first_time),
            *(follower.last_time, follower.gap, follower.gaps, follower.problems.count),
            *(tuple(follower.problems.first), tuple(columns.values()), found),
            holds=all(port.excursion_count == 0 for port in found),
            time_constant_s=options.time_constant,
            seconds_held_by_line=self.hold,
            solved_rows=self.table.solved_rows,
            solved_nodes=self.table.solved_nodes,
            cautions=_cautions(self.rows, follower.problems.count),
            trace=self.trace.result(tuple(port.name for port in self.conditions.ports)),
        )

    def _port(self, k: int) -> PortReplay:
        """One port's result, with the margins of the moments named in it solved."""
        follower, port = self.ports[k], self.conditions.ports[k]
        kept = follower.kept
        worst = follower.worst
        if worst is None:
            raise ValueError("no row was followed")
        moments = self._solved([worst, *(e.worst for e in kept)], k)
        excursions = tuple(replace(e, worst=m) for e, m in zip(kept, moments[1:], strict=True))
        return PortReplay(
            port=port.name,
            rule=str(port.effective_rule),
            worst=moments[0],
            excursion_count=follower.count,
            seconds_out=follower.seconds_out,
            longest_s=follower.longest_s,
            excursions=excursions,
        )

    def _solved(self, moments: list[Moment], k: int) -> list[Moment]:
        up = np.array([m.up for m in moments])
        volumes = [m.volume_m3 for m in moments]
        volume = None if volumes[0] is None else np.array(volumes, float)
        margin = solved_margins(self.conditions, up, volume)[:, k]
        return [replace(m, margin_m=float(x)) for m, x in zip(moments, margin, strict=True)]
