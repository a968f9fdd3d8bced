"""Ways from level ground to an attitude, and where the first port gives out along each.

Straight tilt; pitch then roll and roll then pitch; a full turn on the slope, each way, after
climbing it nose first. Liquid is settled along each (``kernel.settle``) and each port is judged by
the level of the pool that it stands in.
"""

import numpy as np
from numpy.typing import NDArray

from tanksolve.analysis.conditions import Conditions
from tanksolve.kernel.direction import pitch_roll_from_up, up_from_pitch_roll, up_from_slope_heading
from tanksolve.kernel.settle import settle
from tanksolve.model.ports import PortKind

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = ["PITCH_FIRST", "ROLL_FIRST", "STRAIGHT", "TURNS", "WAYS", "Settling"]

STRAIGHT = "straight tilt"
PITCH_FIRST = "pitch then roll"
ROLL_FIRST = "roll then pitch"
TURNS = ("turn on the slope, left", "turn on the slope, right")
WAYS = (STRAIGHT, PITCH_FIRST, ROLL_FIRST, *TURNS)

_LEVEL = np.array([0.0, 0.0, 1.0])
_PARTS = 8  # into which a bracket is cut, three times over


class Settling:
    """Margins of the ports along ways, counting the attitudes that liquid was carried through."""

    def __init__(self, conditions: Conditions, paths: tuple[str, ...] = WAYS) -> None:
        unknown = [path for path in paths if path not in WAYS]
        if unknown:
            raise ValueError(f"path '{unknown[0]}' is not one of {WAYS}")
        self.conditions = conditions
        self.paths = paths
        self.attitudes = 0
        fillers = [p for p in conditions.tank_ports if p.kind is PortKind.FILLER]
        self.poured_at = [fillers[0].position] if fillers else []
        self.filled = (
            f"poured in at '{fillers[0].name}'"
            if fillers
            else "all bays at one level, standing level"
        )

    def margins(self, paths: Array, *, poured: bool) -> tuple[Array, Ints]:
        """Margin of the whole tank [m] along paths (H, P, 3), and the port that sets it: (H, P).

        ``poured`` starts from how the tank was filled; else all bays stand at one level at each
        path's first attitude, which is right where one surface is certain.
        """
        c = self.conditions
        out = np.empty((*paths.shape[:2], len(c.ports)))
        flat = paths.reshape(-1, 3)
        for wet, volume in ((True, c.least), (False, c.most)):
            columns = c.columns(wet=wet)
            if not columns:
                continue
            places = [c.ports[i].position for i in columns]
            start = self.poured_at if poured else []
            found = settle(c.tank.graph, paths, volume, places, poured_at=start)
            self.attitudes += int(found.attitudes.sum())
            for q, i in enumerate(columns):
                edge = c.edge(i, flat).reshape(paths.shape[:2])
                gap = found.port_level[..., q] - edge
                out[..., i] = gap if wet else -gap
        margin, port = c.group_margins(out)
        return margin, port.astype(np.int64)

    def margin_at_level(self) -> float:
        """Margin [m] on level ground, as filled."""
        return float(self.margins(_LEVEL[None, None, :], poured=True)[0][0, 0])

    def first_losses(
        self, headings: Array, certain: Array, limit: float, step_deg: float
    ) -> tuple[Array, Ints, Ints]:
        """Last slope [rad] before the first loss at each heading on any way, its port and way.

        headings (K,) [rad]; certain (K,) [rad], up to which one surface is known to be right and
        held, so that nothing is looked for below. Slopes are sampled every ``step_deg``; NaN
        where nothing gives out up to ``limit``.
        """
        slope, port = np.full(len(headings), np.nan), np.zeros(len(headings), np.int64)
        way = np.zeros(len(headings), np.int64)
        for w, name in enumerate(self.paths):
            cap = np.where(np.isnan(slope), limit, slope)
            if name in TURNS:
                sense = 1.0 if name == TURNS[0] else -1.0
                found = self._turn(headings, certain, cap, step_deg, sense)
            else:
                found = self._tilt(name, headings, certain, cap, step_deg)
            nearer = found[0] < np.where(np.isnan(slope), np.inf, slope)
            slope[nearer], port[nearer], way[nearer] = found[0][nearer], found[1][nearer], w
        return slope, port, way

    def _tilt(
        self, name: str, headings: Array, certain: Array, cap: Array, step_deg: float
    ) -> tuple[Array, Ints]:
        """First losses on a way that ends at its own slope; samples lie in (certain, cap]."""
        count = max(2, int(np.ceil(np.degrees((cap - certain).max()) / step_deg)))
        if name != STRAIGHT:  # each sample is a way of its own: take fewer
            count = max(2, count // 6)
        low, high = certain.copy(), cap
        lost = np.full(len(headings), True)
        port = np.zeros(len(headings), np.int64)
        for parts in (count, _PARTS, _PARTS, _PARTS):
            k = np.flatnonzero(lost)
            if not len(k):
                break
            slopes = low[k, None] + (high - low)[k, None] * np.linspace(0.0, 1.0, parts + 1)
            margin, which = self._tilted(name, headings[k], certain[k], slopes)
            broken = margin < 0.0
            lost[k] = broken.any(axis=1)
            first = np.argmax(broken, axis=1)
            row = np.arange(len(k))
            port[k] = which[row, first]
            low[k] = slopes[row, np.maximum(first - 1, 0)]
            high[k] = slopes[row, first]
        return np.where(lost, low, np.nan), port

    def _tilted(
        self, name: str, headings: Array, certain: Array, slopes: Array
    ) -> tuple[Array, Ints]:
        """Margins and ports at slopes (K, S) on the way ``name`` at each heading."""
        poured = not np.all(certain > 0.0)
        up = up_from_slope_heading(slopes, headings[:, None])
        if name == STRAIGHT:
            begin = certain if not poured else np.zeros(len(headings))
            start = up_from_slope_heading(begin, headings)[:, None, :]
            margin, port = self.margins(np.concatenate([start, up], axis=1), poured=poured)
            return margin[:, 1:], port[:, 1:]
        ends = up.reshape(-1, 3)
        pitch, roll = pitch_roll_from_up(ends)
        zero = np.zeros_like(pitch)
        middle = up_from_pitch_roll(*((pitch, zero) if name == PITCH_FIRST else (zero, roll)))
        ways = np.stack([np.broadcast_to(_LEVEL, ends.shape), middle, ends], axis=1)
        margin, port = self.margins(ways, poured=poured)
        return margin[:, -1].reshape(slopes.shape), port[:, -1].reshape(slopes.shape)

    def _turn(
        self, headings: Array, certain: Array, cap: Array, step_deg: float, sense: float
    ) -> tuple[Array, Ints]:
        """First losses while turning a full circle on slopes climbed nose first.

        Only slopes between the least that is not certain and the greatest cap are tried; a loss
        at or beyond a heading's own cap is none, since another way has found it already.
        """
        low, high = np.degrees(certain.min()), np.degrees(cap.max())
        slopes = np.radians(np.arange(np.floor(low / step_deg) + 1, np.floor(high / step_deg) + 1))
        slopes *= step_deg
        if not len(slopes):
            return np.full(len(headings), np.nan), np.zeros(len(headings), np.int64)
        circle = np.radians(np.arange(0.0, 360.0, 5.0))
        way = np.unique(np.concatenate([circle, np.mod(sense * headings, 2.0 * np.pi)]))
        up = up_from_slope_heading(slopes[:, None], sense * way[None, :])
        start = np.broadcast_to(_LEVEL, (len(slopes), 1, 3))
        poured = not np.all(certain > 0.0)
        margin, port = self.margins(np.concatenate([start, up, up[:, :1]], axis=1), poured=poured)
        place = 1 + np.searchsorted(way, np.mod(sense * headings, 2.0 * np.pi))
        margin, port = margin[:, place], port[:, place]
        broken = (margin < 0.0) & (slopes[:, None] < cap) & (slopes[:, None] > certain)
        first = np.argmax(broken, axis=0)
        before = np.maximum(np.concatenate([[0.0], slopes])[first], certain)
        return np.where(broken.any(axis=0), before, np.nan), port[first, np.arange(len(headings))]
