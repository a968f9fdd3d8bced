"""Ways from level ground to an attitude, and where the first port gives out along each.

Straight tilt; pitch then roll and roll then pitch; a full turn on the slope, each way, after
climbing it nose first. Liquid is settled along each (``kernel.settle``) and each port is judged by
the level of the pool that it stands in.
"""

from collections.abc import Sequence
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import (
    pitch_roll_from_up,
    up_from_pitch_roll,
    up_from_slope_heading,
)
from tanksolve.kernel.pools.settle import settle
from tanksolve.model.ports import Port, PortKind
from tanksolve.model.tank import Tank
from tanksolve.progress import tell
from tanksolve.state.conditions import Conditions

Array = NDArray[np.float64]
Ints = NDArray[np.int64]

__all__ = [
    "PITCH_FIRST",
    "ROLL_FIRST",
    "STRAIGHT",
    "TURNS",
    "WAYS",
    "Settling",
    "Start",
    "half_way",
]

STRAIGHT = "straight tilt"
PITCH_FIRST = "pitch then roll"
ROLL_FIRST = "roll then pitch"
TURNS = ("turn on the slope, left", "turn on the slope, right")
WAYS = (STRAIGHT, PITCH_FIRST, ROLL_FIRST, *TURNS)

_LEVEL = np.array([0.0, 0.0, 1.0])
_PARTS = 8  # into which a bracket is cut, three times over


def half_way(name: str, up: Array) -> Array:
    """The attitudes between level ground and ``up`` (..., 3) on a way that turns one angle first.

    An attitude is built from yaw, pitch and roll in turn, so either angle alone is half-way to it.
    """
    pitch, roll = pitch_roll_from_up(up)
    zero = np.zeros_like(pitch)
    return up_from_pitch_roll(*((pitch, zero) if name == PITCH_FIRST else (zero, roll)))


class Start(NamedTuple):
    """How a tank was filled: places (S, 3) [m] it was poured in at, none for all bays at one level."""

    poured_at: list[Array]
    words: str

    @classmethod
    def of(cls, tank: Tank, ports: Sequence[Port], *, without: str = "") -> "Start":
        """At the first filler; without one all bays stand at one level.

        without : name of a port that does not count, since its place is not known yet.
        """
        for port in ports:
            if port.kind is PortKind.FILLER and port.name != without:
                return cls([tank.seated(port.position)], f"poured in at '{port.name}'")
        return cls([], "all bays at one level, standing level")


class Settling:
    """Margins of the ports along ways, counting the attitudes that liquid was carried through."""

    def __init__(self, conditions: Conditions, paths: tuple[str, ...] = WAYS) -> None:
        unknown = [path for path in paths if path not in WAYS]
        if unknown:
            raise ValueError(f"path '{unknown[0]}' is not one of {WAYS}")
        self.conditions = conditions
        self.paths = paths
        self.attitudes = 0
        self.start = Start.of(conditions.tank, conditions.tank_ports)
        self.places = [conditions.tank.seated(port.position) for port in conditions.ports]

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
            places = [self.places[i] for i in columns]
            start = self.start.poured_at if poured else []
            found = settle(
                c.tank.graph,
                paths,
                volume,
                places,
                links=c.tank.link_stations,
                poured_at=start,
            )
            self.attitudes += int(found.attitudes.sum())
            tell(f"carrying liquid from pool to pool, {self.attitudes:,} attitudes so far")
            for q, i in enumerate(columns):
                edge = c.edge(i, flat).reshape(paths.shape[:2])
                gap = found.port_level[..., q] - edge
                found_none = np.isnan(gap)  # over nothing: never to be read as held
                out[..., i] = np.where(found_none, -np.inf, gap if wet else -gap)
        margin, port = c.group_margins(out)
        return margin, port.astype(np.int64)

    def margin_at_level(self) -> float:
        """Margin [m] on level ground, as filled."""
        return float(self.margins(_LEVEL[None, None, :], poured=True)[0][0, 0])

    def first_losses(
        self, headings: Array, certain: Array, wanted: Ints, limit: float, step_deg: float
    ) -> tuple[Array, Ints, Ints]:
        """Last slope [rad] before the first loss at the wanted headings on any way, its port and way.

        headings (K,) [rad]; certain (K,) [rad], up to which one surface is known to be right and
        held, so that nothing is looked for below; wanted (W,) int, which headings to answer for.
        Slopes are sampled every ``step_deg``; NaN where nothing gives out up to ``limit``.
        """
        slope, port = np.full(len(wanted), np.nan), np.zeros(len(wanted), np.int64)
        way = np.zeros(len(wanted), np.int64)
        for w, name in enumerate(self.paths):
            cap = np.where(np.isnan(slope), limit, slope)
            if name in TURNS:
                sense = 1.0 if name == TURNS[0] else -1.0
                found = self._turn(headings, certain, wanted, cap, step_deg, sense)
            else:
                found = self._tilt(name, headings[wanted], certain[wanted], cap, step_deg)
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
        middle = half_way(name, ends)
        ways = np.stack([np.broadcast_to(_LEVEL, ends.shape), middle, ends], axis=1)
        margin, port = self.margins(ways, poured=poured)
        return margin[:, -1].reshape(slopes.shape), port[:, -1].reshape(slopes.shape)

    def _turn(
        self,
        headings: Array,
        certain: Array,
        wanted: Ints,
        cap: Array,
        step_deg: float,
        sense: float,
    ) -> tuple[Array, Ints]:
        """First losses while turning a full circle on slopes climbed nose first.

        Only slopes between the least that is not certain and the greatest cap are tried; a loss
        at or beyond a heading's own cap is none, since another way has found it already.
        """
        low, high = np.degrees(certain[wanted].min()), np.degrees(cap.max())
        slopes = np.radians(step_deg) * np.arange(
            np.floor(low / step_deg) + 1, np.floor(high / step_deg) + 1
        )
        broken = np.zeros((len(slopes), len(wanted)), bool)
        port = np.zeros(broken.shape, np.int64)
        order = np.argsort(np.mod(sense * headings, 2.0 * np.pi), kind="stable")
        for s, slope in enumerate(slopes):
            open_ = np.flatnonzero((slope < cap) & (slope > certain[wanted]))
            if len(open_):
                margin, port[s, open_] = self._turned(
                    headings[order], certain[order] >= slope, order, wanted[open_], slope
                )
                broken[s, open_] = margin < 0.0
        first = np.argmax(broken, axis=0) if len(slopes) else np.zeros(len(wanted), np.int64)
        before = np.maximum(np.concatenate([[0.0], slopes])[first], certain[wanted])
        lost = broken.any(axis=0)
        found = port[first, np.arange(len(wanted))] if len(slopes) else first
        return np.where(lost, before, np.nan), found

    def _turned(
        self, round_: Array, sure: NDArray[np.bool_], order: Ints, wanted: Ints, slope: float
    ) -> tuple[Array, Ints]:
        """Margins and ports at the wanted headings of one slope, met in the order of ``round_``.

        Where one surface is certain at some heading of the circle, what came before is forgotten
        there, so the way to a wanted heading begins at the last such heading before it. Where it
        is certain nowhere, the machine climbs nose first and turns once round.
        """
        count = len(round_)
        place = np.argsort(order)[wanted]
        back = np.arange(count)[None, :]  # steps back along the circle from each wanted heading
        seen = sure[(place[:, None] - back) % count]
        if not sure.any():
            circle = np.concatenate([round_, round_[:1]])
            up = np.concatenate([_LEVEL[None], up_from_slope_heading(slope, circle)])
            margin, port = self.margins(up[None], poured=True)
            return margin[0, 1 + place], port[0, 1 + place]
        steps = np.argmax(seen, axis=1)
        length = int(steps.max())
        at = (
            place[:, None] - np.minimum(steps[:, None], np.arange(length, -1, -1)[None, :])
        ) % count
        margin, port = self.margins(up_from_slope_heading(slope, round_[at]), poured=False)
        return margin[:, -1], port[:, -1]
