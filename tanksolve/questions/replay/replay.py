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
from tanksolve.geometry.findings import counted
from tanksolve.kernel.attitude.stops import OPEN, SURE, UNKNOWN
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
    NOT_KNOWN,
    Outcome,
    OutcomeBuilder,
    States,
    Verdict,
)
from tanksolve.questions.replay.trace import Trace, TraceBuilder
from tanksolve.state.carried_route import Carried, Carrier, RouteRows
from tanksolve.state.conditions import Conditions
from tanksolve.state.row_margins import RowMargins

Array = NDArray[np.float64]

__all__ = ["LogOptions", "PortReplay", "Replay", "replay"]

CAUTIONS = (
    "Still liquid at each row: no slosh, no foam, no time to follow.",
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
    verdict : broken if ``outcome`` or ``this_route`` is; else that of ``outcome``.
    outcome : of all rules together, whatever the machine did before each row. A tank that is empty or
        overfull, or a machine on its side, breaks them as well.
    this_route : the same with the liquid carried along the log's own route, which is a sample and no bound
        (``carried``); None where nothing rests on the route, or the fill changes along it.
    columns : what each column was read as; first_rows : the first rows as they were understood, in SI
        with this project's signs, a value for each column.
    step_s : usual time between rows.
    why_not_known : each reason that keeps a stretch from being known, in words.
    solved_rows, solved_nodes, solved_cells : rows, table nodes, and cells of attitudes at which walls may
        part the liquid, that were solved one by one.
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
    this_route: Outcome | None
    carried: Carried | None
    why_not_known: tuple[str, ...]
    time_constant_s: float | None
    seconds_held_by_line: float | None
    solved_rows: int
    solved_nodes: int
    solved_cells: int
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
        self.rows_at = RowMargins(conditions)
        self.carrier = Carrier(conditions) if conditions.walls_may_part else None
        self.ports = [
            PortFollower(port.name, hold if port.kind is PortKind.PICKUP else None)
            for port in conditions.ports
        ]
        self.whole = OutcomeBuilder()
        self.trace = TraceBuilder(len(conditions.ports))
        self.rows = 0
        self.resting = 0  # rows whose answer rests on the route
        self._known_before = True
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
        states = []
        whole = np.zeros(len(certain), np.int8)
        for k in range(len(self.ports)):
            with np.errstate(invalid="ignore"):
                state = (margins[:, k] < 0.0).astype(np.int8)
            states.append(state)
        if not certain.all():  # by some route only, or not at all
            for k, state in enumerate(states):
                state[~certain & ((state == BROKEN) | np.isnan(margins[:, k]))] = NOT_KNOWN
        if samples.fault.any():
            for k, state in enumerate(states):
                state[self.faulty[samples.fault, k]] = BROKEN
        for state in states:
            whole = np.maximum(whole, state)
        if not certain.all():
            whole[np.any([state == BROKEN for state in states], axis=0)] = BROKEN
        if samples.fault.any():
            whole[samples.fault > 0] = BROKEN
        self.whole.take(whole, samples)
        for k, port in enumerate(self.ports):
            port.follow(samples, margins[:, k], states[k])
        self._carry(samples, whole, certain)
        self.trace.take(samples.time, margins)
        self.resting += int(np.count_nonzero(samples.known & (whole == NOT_KNOWN)))
        self.unread += int(np.count_nonzero(~samples.known))
        self.untimed += int(np.count_nonzero(~samples.timed))

    def _margins(self, samples: Samples) -> tuple[Array, NDArray[np.bool_]]:
        """Margins (N, ports) [m], NaN where not known, and where (N,) one surface is certain."""
        if samples.known.all():
            return self.rows_at.at(samples.up, samples.volume)
        rows = np.flatnonzero(samples.known)
        found = self.rows_at.at(
            samples.up[rows], None if samples.volume is None else samples.volume[rows]
        )
        out = np.full((len(samples.time), len(self.ports)), np.nan)
        sure = np.zeros(len(out), bool)
        out[rows], sure[rows] = found
        return out, sure

    def _carry(self, samples: Samples, whole: States, certain: NDArray[np.bool_]) -> None:
        """Carry liquid that walls part along the log, where its amount is known."""
        if self.carrier is None or samples.volume is not None:
            return
        known = samples.known
        way = np.where(known, np.where(certain, np.int8(SURE), np.int8(OPEN)), np.int8(UNKNOWN))
        joined = samples.sure & known & np.concatenate([[self._known_before], known[:-1]])
        self.carrier.take(
            RouteRows(samples.up, way, joined, samples.length, whole, samples.line, samples.time)
        )
        self._known_before = bool(known[-1])

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
        carried = self.carrier.result() if self.carrier is not None and self.resting else None
        if carried is not None and not carried.stops:
            carried = None
        this_route = None if carried is None else _along(outcome, carried)
        broken = this_route is not None and this_route.verdict == "broken"
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
            verdict="broken" if broken else outcome.verdict,
            outcome=outcome,
            this_route=this_route,
            carried=carried,
            why_not_known=self._reasons(follower, outcome),
            time_constant_s=options.time_constant,
            seconds_held_by_line=self.hold,
            solved_rows=self.rows_at.table.solved_rows + self.rows_at.solved_rows,
            solved_nodes=self.rows_at.table.solved_nodes,
            solved_cells=self.rows_at.solved_cells,
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
            (follower.gaps, f"{counted(follower.gaps, 'gap', 'gaps')} in the log"),
            (
                self.resting,
                f"at {self.resting} rows walls part the liquid, and some route to the same attitude breaks"
                " a rule",
            ),
            (
                self.rows_at.left_out,
                f"{self.rows_at.left_out} of these rows were not solved: too many different attitudes",
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
        if volumes[0] is None:
            margin = self.conditions.margins(up[:, None, :])[:, 0, k]
        else:
            margin = self.conditions.margins_at_fill(up, np.array(volumes, float))[:, k]
        return [replace(m, margin_m=float(x)) for m, x in zip(moments, margin, strict=True)]


def _along(outcome: Outcome, carried: Carried) -> Outcome:
    """The outcome with what rests on the route judged by the liquid carried along it."""
    seconds = [
        outcome.kept_s + carried.kept_s,
        outcome.broken_s + carried.broken_s,
        outcome.not_known_s - carried.kept_s - carried.broken_s,
    ]
    rows = [
        outcome.kept_rows + carried.kept_rows,
        outcome.broken_rows + carried.broken_rows,
        outcome.not_known_rows - carried.kept_rows - carried.broken_rows,
    ]
    return Outcome.of(seconds, rows)
