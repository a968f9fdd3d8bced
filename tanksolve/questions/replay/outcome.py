"""Three answers about a log: kept, broken, not known, in seconds and as shares of it.

What lies between two rows is kept or broken as the earlier row is, if nothing is missing between
them and both can be judged; else it is not known. Seconds of a log are those from row to row; where
its time goes back none pass.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Literal

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.replay.log_attitudes import Samples

States = NDArray[np.int8]
Verdict = Literal["kept", "broken", "not known"]

__all__ = ["BROKEN", "KEPT", "NOT_KNOWN", "Outcome", "OutcomeBuilder", "States", "Verdict"]

KEPT, BROKEN, NOT_KNOWN = 0, 1, 2  # of one row


@dataclass(frozen=True)
class Outcome:
    """What a log did to a rule.

    Attributes
    ----------
    verdict : broken if any row is; else not known if any row or stretch is, or no time passes; else kept.
    kept_s, broken_s, not_known_s : seconds of the log.
    kept_share, ... : of its seconds, 0 to 1; of its rows where no time passes.
    kept_rows, ... : rows; one whose time is doubtful is kept for nothing.
    """

    verdict: Verdict
    kept_s: float
    broken_s: float
    not_known_s: float
    kept_share: float
    broken_share: float
    not_known_share: float
    kept_rows: int
    broken_rows: int
    not_known_rows: int

    @classmethod
    def of(cls, seconds: Sequence[float], rows: Sequence[int], doubts: int = 0) -> "Outcome":
        """From seconds and rows kept, broken and not known; doubts : further stretches that are not known."""
        total, count = sum(seconds), sum(rows)
        nothing = 1e-9 * total
        verdict: Verdict = "kept"
        if rows[BROKEN]:
            verdict = "broken"
        elif rows[NOT_KNOWN] or doubts or seconds[NOT_KNOWN] > nothing or not total > 0.0:
            verdict = "not known"
        shares = [s / total for s in seconds] if total > 0.0 else [r / max(count, 1) for r in rows]
        return cls(verdict, *seconds, *shares, *rows)  # type: ignore[arg-type]


class OutcomeBuilder:
    """Adds up one answer block by block."""

    def __init__(self) -> None:
        self.seconds = np.zeros(3)
        self.rows = np.zeros(3, np.int64)
        self.doubts = 0  # stretches that are not known, though no time may pass in them
        self._last = KEPT

    def take(self, state: States, samples: Samples) -> None:
        """Take in the states (N,) of a block's rows."""
        before = np.concatenate([np.array([self._last], np.int8), state[:-1]])
        counted = state
        if not samples.sure.all() or self._last == NOT_KNOWN or (state == NOT_KNOWN).any():
            unsure = ~samples.sure | (state == NOT_KNOWN) | (before == NOT_KNOWN)
            before = np.where(unsure, np.int8(NOT_KNOWN), before)
            counted = np.where(~samples.timed & (state == KEPT), np.int8(NOT_KNOWN), state)
            self.doubts += int(np.count_nonzero(unsure))
        for kind in (KEPT, BROKEN, NOT_KNOWN):
            self.rows[kind] += np.count_nonzero(counted == kind)
            self.seconds[kind] += samples.length[before == kind].sum()
        self._last = int(state[-1])

    def result(self) -> Outcome:
        """The outcome as it stands."""
        return Outcome.of(self.seconds.tolist(), self.rows.tolist(), doubts=self.doubts)
