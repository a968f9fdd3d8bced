"""What a recorded day would have done to this tank: margins against time, and each excursion.

Still liquid at every row: the level is that of the attitude (and acceleration) of the moment.
Real liquid lags and sloshes; a low-pass filter with a stated time constant stands in for the lag,
and is off unless asked for.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from pathlib import Path

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import FileFormatError
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, PortKind, Rule
from tanksolve.model.tank import Tank
from tanksolve.questions.replay.excursions import Excursion, Moment, PortFollower
from tanksolve.questions.replay.log_attitudes import (
    EMPTY,
    FAULTS,
    OVERFULL,
    OVERTURNED,
    Follower,
    Samples,
)
from tanksolve.questions.replay.log_columns import Column
from tanksolve.questions.replay.log_file import (
    BLOCK_BYTES,
    Problem,
    Problems,
    raw_blocks,
)
from tanksolve.questions.replay.log_meaning import LogOptions, Understood, understand
from tanksolve.questions.replay.log_route import RouteFollower
from tanksolve.questions.replay.log_rows import has_arrow
from tanksolve.questions.replay.outcome import (
    BROKEN,
    KEPT,
    NOT_KNOWN,
    Outcome,
    OutcomeBuilder,
    Verdict,
)
from tanksolve.questions.replay.trace import Trace, TraceBuilder
from tanksolve.state.conditions import Conditions
from tanksolve.state.margin_table import MarginTable, solved_margins
from tanksolve.state.one_surface import CertainAttitudes

Array = NDArray[np.float64]

__all__ = ["LogOptions", "PortReplay", "Replay", "replay"]

CAUTIONS = (
    "Still liquid at each row: slosh, foam and the time that liquid takes to follow are not in it.",
    "A tilt sensor that works by acceleration already feels braking and cornering: do not give it"
    " acceleration columns as well, or they count twice.",
)
_LONG = 20 << 20  # bytes of a log that is worth a faster reader


@dataclass(frozen=True)
class PortReplay:
    """One port over the whole log; excursions are all counted, the deepest 500 kept."""

    port: str
    rule: str
    outcome: Outcome
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
    rows : all of the log's; problem_count : remarks on lines, the first 200 of them listed.
    outcome : what the log did to all rules together; ``verdict`` is its verdict. A tank that is empty or
        overfull, or a machine on its side, breaks it as well.
    columns : what each column was read as; first_rows : the first rows as they were understood, in SI
        with this project's signs, a value for each column.
    step_s : usual time between rows.
    why_not_known : each reason that keeps a stretch from being known, in words.
    solved_rows, solved_nodes : how many rows and table nodes were solved one by one.
    """

    log: str
    tank: str
    rows: int
    start_s: float
    end_s: float
    step_s: float | None
    gap_s: float | None
    gaps: int
    problem_count: int
    problems: tuple[Problem, ...]
    columns: tuple[Column, ...]
    first_rows: tuple[tuple[float | None, ...], ...]
    ports: tuple[PortReplay, ...]
    verdict: Verdict
    outcome: Outcome
    why_not_known: tuple[str, ...]
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

    Raises FileFormatError for a log that cannot be read, can be read in two ways, or has no row that can
    be judged; PortError, FillError.
    """
    options = options or LogOptions()
    conditions = Conditions.of(tank, ports, fill)
    known = understand(Path(log), options)
    problems = Problems()
    follower = Follower(
        *(problems, known.gap, options.reading, options.acceleration, options.time_constant),
        capacity=tank.capacity,
    )
    blocks = raw_blocks(known.head, known.plan, problems, progress, block_bytes)
    if known.is_route:
        route = RouteFollower(problems, known.sample, options.speed)
        blocks = map(route.follow, blocks)
    run = _Run(conditions, hold)
    for block in blocks:
        run.take(follower.follow(block))
    pushes = follower.pushes.items()
    known.check_accelerations({n: s / k for n, (s, k) in pushes if k}, options.acceleration)
    return run.result(known, options, follower)


def _cautions(known: Understood) -> tuple[str, ...]:
    found = list(known.notes)
    if known.is_route:
        found.append(
            "A route tells neither cross slope nor speeding up and braking:"
            f" {'its roll column is taken' if 'roll' in known.columns else 'roll is taken as 0'}."
        )
    if not has_arrow() and known.head.path.stat().st_size > _LONG:
        found.append("pip install 'tanksolve[logs]' reads long logs about ten times as fast.")
    return (*found, *CAUTIONS)


class _Run:
    """The state of one replay."""

    def __init__(self, conditions: Conditions, hold: float | None) -> None:
        self.conditions = conditions
        self.hold = hold
        self.table = MarginTable(conditions)
        self.certain = CertainAttitudes(conditions.tank, conditions.least)
        self.ports = [
            PortFollower(port.name, hold if port.kind is PortKind.PICKUP else None)
            for port in conditions.ports
        ]
        self.whole = OutcomeBuilder()
        self.trace = TraceBuilder(len(conditions.ports))
        self.rows = 0
        self.parted = 0  # rows at which one surface is not certain
        self.untimed = 0
        self.unread = 0
        self.first_time = float("nan")
        # what breaks a port whatever its margin
        wet = np.array([port.effective_rule is Rule.WET for port in conditions.ports])
        self.faulty = np.zeros((len(FAULTS), len(wet)), bool)
        self.faulty[EMPTY], self.faulty[OVERFULL], self.faulty[OVERTURNED] = wet, ~wet, True

    def take(self, samples: Samples) -> None:
        """Take in a block."""
        if self.rows == 0:
            self.first_time = float(samples.time[0])
        self.rows += len(samples.time)
        margins, certain = self._margins(samples)
        known = samples.known & certain
        whole = np.zeros(len(known), np.int8)
        states = []
        for k in range(len(self.ports)):
            with np.errstate(invalid="ignore"):
                broken = (margins[:, k] < 0.0) & known
            state = broken.astype(np.int8)
            if samples.fault.any():
                state[self.faulty[samples.fault, k]] = BROKEN
            states.append(state)
            whole |= state
        if not known.all():
            for state in (*states, whole):
                state[~known & (state == KEPT)] = NOT_KNOWN
        if samples.fault.any():
            whole[samples.fault > 0] = BROKEN
        self.whole.take(whole, samples)
        for k, port in enumerate(self.ports):
            port.follow(samples, margins[:, k], states[k])
        self.trace.take(samples.time, margins)
        self.parted += int(np.count_nonzero(~certain & samples.known))
        self.unread += int(np.count_nonzero(~samples.known))
        self.untimed += int(np.count_nonzero(~samples.timed))

    def _margins(self, samples: Samples) -> tuple[Array, NDArray[np.bool_]]:
        """Margins (N, ports) [m], NaN where not known, and where (N,) one surface is certain."""
        rows = np.arange(len(samples.time))
        if not samples.known.all():
            rows = np.flatnonzero(samples.known)
        whole = len(rows) == len(samples.time)
        up = samples.up if whole else samples.up[rows]
        volume = None if samples.volume is None else samples.volume[rows]
        certain = self.certain.at(up, volume)
        if volume is None:
            margins = self.table.margins(up)
        else:
            margins = solved_margins(self.conditions, up, volume)
            self.table.solved_rows += len(margins)
        if whole:
            return margins, certain
        out, sure = (
            np.full((len(samples.time), len(self.ports)), np.nan),
            np.zeros(len(samples.time), bool),
        )
        out[rows], sure[rows] = margins, certain
        return out, sure

    def result(self, known: Understood, options: LogOptions, follower: Follower) -> Replay:
        """Close what is open and give the whole."""
        if any(port.worst is None for port in self.ports):
            first = follower.problems.first
            raise FileFormatError(
                "has no row that can be used",
                where=str(known.head.path),
                allowed="at least one row whose attitude can be told",
                next_step=f"line {first[0].line}: {first[0].words}" if first else "",
            )
        for port in self.ports:
            port.finish()
        outcome = self.whole.result()
        return Replay(
            log=str(known.head.path),
            tank=self.conditions.tank.name,
            rows=self.rows,
            start_s=self.first_time,
            end_s=follower.end,
            step_s=known.step,
            gap_s=known.gap,
            gaps=follower.gaps,
            problem_count=follower.problems.count,
            problems=tuple(follower.problems.first),
            columns=known.plan.columns,
            first_rows=known.first_rows,
            ports=tuple(self._port(k) for k in range(len(self.ports))),
            verdict=outcome.verdict,
            outcome=outcome,
            why_not_known=self._reasons(follower, outcome),
            time_constant_s=options.time_constant,
            seconds_held_by_line=self.hold,
            solved_rows=self.table.solved_rows,
            solved_nodes=self.table.solved_nodes,
            cautions=_cautions(known),
            trace=self.trace.result(tuple(port.name for port in self.conditions.ports)),
        )

    def _reasons(self, follower: Follower, outcome: Outcome) -> tuple[str, ...]:
        passed = outcome.kept_s + outcome.broken_s + outcome.not_known_s
        found = (
            (self.unread, f"{self.unread} rows tell no attitude, or no fill, that can be"),
            (
                self.untimed,
                f"{self.untimed} rows have no time, or one before a time already passed: one false time"
                " far ahead makes every row after it doubtful",
            ),
            (follower.gaps, f"{follower.gaps} gaps in the log"),
            (
                self.parted,
                f"at {self.parted} rows walls may part the liquid, and where it then stands rests on"
                " the route before",
            ),
            (passed == 0.0, "no time passes in the log"),
        )
        return tuple(words for count, words in found if count)

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
            outcome=follower.outcome,
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
