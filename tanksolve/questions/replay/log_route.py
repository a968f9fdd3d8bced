"""Rows of distance, elevation and heading as pitch, roll and the push of the bends."""

import numpy as np
from numpy.typing import NDArray

from tanksolve.questions.replay.log_file import Problems, RawBlock
from tanksolve.unit_systems import stated

Array = NDArray[np.float64]

__all__ = ["RouteFollower"]

_DRIFT = 0.02  # of the way: more change of height while it stood leaves the next slope open


class RouteFollower:
    """Turns a route into attitudes block by block.

    Pitch is that of the stretch since the row before, its distance measured along the road; while the
    machine stands it stays on the slope where it stopped, however its height wanders. Where the height
    wandered meanwhile by more than 2 % of the next stretch that stretch's slope is not known: it may be the
    sensor, or a distance that is counted in coarse steps. With time (or a constant ``speed`` [m/s]) a bend
    pushes by speed x turning rate; speeding up and braking are not in it. Roll is 0 unless the log has it.

    sample : the first rows by quantity, in SI: until the machine first moves it stands on the slope of its
        first stretch; if it does not move within the sample that slope is not known.
    """

    def __init__(self, problems: Problems, sample: dict[str, Array], speed: float | None) -> None:
        self.problems = problems
        self.speed = speed
        self._before: dict[str, float] = {}
        self._height = float(sample["elevation"][0])  # where the machine last came to stand
        along, pitch = _slopes(sample["distance"], sample["elevation"], self._height)[:2]
        moved = pitch[~(along == 0.0)]
        self._pitch = float(moved[0]) if len(moved) else np.nan

    def follow(self, block: RawBlock) -> RawBlock:
        """Attitudes of a block's rows; NaN where the slope is not known."""
        rows = {
            name: np.concatenate([[self._before.get(name, values[0])], values])
            for name, values in block.values.items()
            if name in ("distance", "elevation", "heading", "time")
        }
        self._before = {name: float(column[-1]) for name, column in rows.items()}
        along, pitch, self._height = _slopes(rows["distance"], rows["elevation"], self._height)
        rise = np.diff(rows["elevation"])
        wrong = np.flatnonzero(np.isnan(pitch) & np.isfinite(along + rise))
        self.problems.add_all(
            block.lines[wrong],
            lambda k: (
                f"no slope follows from {stated(along[wrong[k]], 'distance')} of way and the heights around it"
            ),
        )
        moved = ~(along == 0.0)
        at = np.maximum.accumulate(np.where(moved, np.arange(1, len(along) + 1), 0))
        pitch = np.concatenate([[self._pitch], pitch])[at]
        self._pitch = float(pitch[-1])
        way = rows["distance"][1:]
        values = {
            "pitch": pitch,
            "roll": block.values.get("roll", np.zeros(len(along))),
            "time": rows["time"][1:] if "time" in rows else way / (self.speed or 1.0),
        }
        if "heading" in rows:
            values["left"] = self._bend(rows, along)
        if "fill" in block.values:
            values["fill"] = block.values["fill"]
        return RawBlock(values, block.lines)

    def _bend(self, rows: dict[str, Array], along: Array) -> Array:
        """Acceleration to the left [m/s²]; a compass turns clockwise, to the right."""
        turn = np.diff(rows["heading"])
        turn = (turn + np.pi) % (2.0 * np.pi) - np.pi
        passed = np.diff(rows["time"]) if "time" in rows else along / (self.speed or 1.0)
        going = ~(passed <= 0.0)
        rate, pace = (
            np.divide(change, passed, out=np.zeros_like(passed), where=going)
            for change in (turn, along)
        )
        return np.asarray(-pace * rate)


def _slopes(distance: Array, elevation: Array, stood: float) -> tuple[Array, Array, float]:
    """Way [m] and pitch [rad] of the N stretches between N + 1 rows, and where the last row came to stand.

    stood : height [m] of the row at which the first row's distance was reached. Pitch is 0 where nothing
    moves (it is not looked at there) and NaN where it cannot be told.
    """
    along, rise = np.diff(distance), np.diff(elevation)
    moved = np.concatenate([[False], ~(along == 0.0)])
    start = np.maximum.accumulate(np.where(moved, np.arange(len(distance)), -1))
    reached = np.where(start < 0, stood, elevation[start])
    drift = np.abs(elevation[:-1] - reached[:-1])
    with np.errstate(invalid="ignore"):
        sure = (along > 0.0) & (np.abs(rise) <= along) & (drift <= _DRIFT * along)
    sine = np.divide(rise, along, out=np.full_like(along, np.nan), where=sure)
    sine[along == 0.0] = 0.0
    return along, np.asarray(np.arcsin(sine)), float(reached[-1])
