"""The envelope of a tank whose liquid can part into pools.

Near level ground one free surface is usually certain, whatever happened before
(``kernel.one_plane``), and there the one-level envelope and its bounds stand. Beyond, the limit
depends on how the machine got there: liquid is settled along several ways to each attitude, and
the worst of them counts. That part is sampled, not bounded, and says so.
"""

import math
from collections.abc import Sequence
from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.kernel.attitude.slack import cell_centres, cell_chords, cell_slack
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.topology.one_surface import one_plane_over
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.progress import tell
from tanksolve.questions.envelope.envelope import Envelope, Limit, envelope
from tanksolve.questions.envelope.rows import grade_of, lowered_to
from tanksolve.state.certify import held_out_to, worst_of_all_headings
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.ways import WAYS, Settling

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["PooledEnvelope", "PooledLimit", "pooled_envelope"]

EXACT_TOLERANCE = math.radians(1.0)  # how closely the end of one certain surface is looked for
SAMPLES_DEG = 1.0
_HAIR = 1e-5  # rad


@dataclass(frozen=True)
class PooledLimit(Limit):
    """The limit at one heading, with pools.

    Attributes
    ----------
    path : the way to the attitude that sets ``slope_deg``; None where one surface is certain or
        nothing gives out.
    one_level_deg : where one surface through the whole tank would put the limit.
    one_surface_to_deg : bound up to which one free surface is certain on any way.
    bounded : whether ``held_to_deg`` reaches the limit; if not, the limit is from samples.
    sampled_to_deg : how far was looked; a limit from samples is told no higher.
    """

    path: str | None = None
    one_level_deg: float | None = None
    one_surface_to_deg: float = 0.0
    bounded: bool = True
    sampled_to_deg: float = 0.0

    @property
    def told_deg(self) -> float:
        """The bound where it reaches the limit, else the last slope that was held in the samples."""
        if self.bounded:
            return self.held_to_deg
        found = self.sampled_to_deg if self.slope_deg is None else self.slope_deg
        return min(found, self.sampled_to_deg)

    @property
    def is_bound(self) -> bool:
        """Whether the figure told is a bound, and not from samples alone."""
        return self.bounded

    @property
    def sure_words(self) -> str:
        """How sure the figure is, in words."""
        if self.bounded:
            return super().sure_words
        way = f", {self.path}" if self.path else ""
        return f"pools, sampled{way}, no bound"


@dataclass(frozen=True, eq=False)
class PooledEnvelope(Envelope):
    """An envelope with pools: ``limits`` and ``worst`` are :class:`PooledLimit`.

    Attributes
    ----------
    paths : the ways tried; the worst counts.
    too_hopeful_deg : by how much the one-level limit is above the pooled one, at most.
    too_careful_deg : by how much it is below, at most.
    attitudes_settled : how many attitudes liquid was carried through.
    filled : how the tank was filled, in words.
    """

    paths: tuple[str, ...] = ()
    too_hopeful_deg: float = 0.0
    too_careful_deg: float = 0.0
    attitudes_settled: int = 0
    filled: str = ""

    @property
    def line_words(self) -> str:
        """What the limits told are, in words."""
        return f"full: bound, one surface certain; dashed: pools, worst of {len(self.paths)} ways, sampled"


def pooled_envelope(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    *,
    pickups: Pickups = "all",
    every_deg: float = 5.0,
    search_to_deg: float = 60.0,
    tolerance_deg: float = 0.05,
    paths: Sequence[str] = WAYS,
) -> Envelope:
    """Find the tank limit at every heading where liquid can be cut off by walls.

    Parameters as for :func:`tanksolve.questions.envelope.envelope.envelope`; ``paths`` are the ways to an
    attitude to be tried, of ``ways.WAYS``. Where one surface is certain up to every limit the
    result is the plain envelope, of the same class and figures.

    Raises as ``envelope``.
    """
    plain = envelope(
        tank,
        ports,
        fill,
        pickups=pickups,
        every_deg=every_deg,
        search_to_deg=search_to_deg,
        tolerance_deg=tolerance_deg,
    )
    tell("seeing how the surface hangs together")
    if tank.is_convex:
        return plain
    conditions = Conditions.of(tank, ports, fill, pickups)
    certain = _Certain(conditions)
    tell("proving where the liquid has one surface")
    headings: Array = np.radians([limit.heading_deg for limit in plain.limits])
    ends = np.radians([_end(limit, search_to_deg) for limit in plain.limits])
    to = held_out_to(certain, headings, np.zeros(len(headings)), ends, EXACT_TOLERANCE)
    # below the plain bound the ports' rules are proved: what is left to prove is the one surface
    top = math.radians(plain.worst.held_to_deg)
    bound = math.degrees(worst_of_all_headings(certain, top, EXACT_TOLERANCE)[0])
    if np.all(to >= ends) and plain.worst.held_to_deg <= bound + 1e-9:
        return replace(plain, provers=(conditions, certain))
    settling = Settling(conditions, tuple(paths))
    return _Merger(plain, conditions, settling, headings, ends, to, bound).result()


def _end(limit: Limit, search_to_deg: float) -> float:
    """Slope up to which a heading has to be certain for its one-level limit to stand [°]."""
    return search_to_deg if limit.slope_deg is None else min(limit.slope_deg + 1e-6, search_to_deg)


class _Certain:
    """Proof for cells of attitudes that the liquid has one surface, at the least fill.

    More liquid then has one surface too: its level is higher, and no pit is above the lower one.
    """

    def __init__(self, conditions: Conditions) -> None:
        self.tank = conditions.tank
        self.volume = min(conditions.least, conditions.most)
        self.centre = np.array([[*self.tank.centre, 0.0, 0.0, 1.0, 0.0, 0.0]])

    def held(self, up: Array) -> Bools:
        """Nothing is lost at a single attitude: (D, 1)."""
        return np.ones((len(up), 1), bool)

    def held_over(self, cells: Array) -> Bools:
        """Whether one surface is certain all over each cell (C, 4): (C,).

        Cells are widened by a hair to one side: a tank is often symmetric about the headings that
        people list, and at its very symmetric attitudes two pits tie.
        """
        cells = cells + np.array([0.0, 0.0, -_HAIR, 2.0 * _HAIR])
        middle = cell_centres(cells)
        up = up_from_slope_heading(middle[:, 0], middle[:, 1])
        lower, upper = self.tank.span
        slack = cell_slack(lower, upper, self.centre, cells, dry=False)
        slack += cell_slack(lower, upper, self.centre, cells, dry=True)
        low = levels(self.tank.tree, up, self.volume)[0] - slack
        tank, chord = self.tank, cell_chords(cells)
        return one_plane_over(tank.graph, tank.pit_cones, up, chord, low, tank.pipe_stations)


class _Merger:
    """Puts the one-level envelope and what settling found together, the worst of each heading."""

    def __init__(
        self,
        plain: Envelope,
        conditions: Conditions,
        settling: Settling,
        headings: Array,
        ends: Array,
        to: Array,
        bound: float,
    ) -> None:
        self.plain, self.conditions, self.settling = plain, conditions, settling
        self.headings, self.ends, self.to, self.bound = headings, ends, to, bound

    def result(self) -> PooledEnvelope:
        """Settle where one surface is not certain, and merge."""
        limit = math.radians(self.plain.searched_to_deg)
        slope = np.full(len(self.headings), np.nan)
        port, way = np.zeros(len(slope), np.int64), np.zeros(len(slope), np.int64)
        open_ = np.flatnonzero(self.to < self.ends)
        tell(f"carrying liquid from pool to pool at {len(open_)} of {len(self.to)} headings")
        if len(open_):
            slope[open_], port[open_], way[open_] = self.settling.first_losses(
                self.headings, self.to, open_, limit, SAMPLES_DEG
            )
        rows = tuple(self._row(k, slope[k], port[k], way[k]) for k in range(len(slope)))
        level = self.settling.margin_at_level()
        worst = self._worst(rows)
        if worst.bounded:
            rows = lowered_to(worst, rows)
        gaps = [
            self._key(limit) - self._key(row)
            for limit, row in zip(self.plain.limits, rows, strict=True)
        ]
        sides = {row.heading_deg: row.slope_deg for row in rows}
        shared = {f: getattr(self.plain, f) for f in self.plain.__dataclass_fields__}
        shared |= {
            "limits": rows,
            "worst": worst,
            "ok_at_level": level >= 0.0,
            "margin_at_level_m": level,
            "nose_up": sides.get(0.0, self.plain.nose_up),
            "nose_down": sides.get(180.0, self.plain.nose_down),
            "left_down": sides.get(270.0, self.plain.left_down),
            "right_down": sides.get(90.0, self.plain.right_down),
            "islands": (),
            "provers": (self.conditions, _Certain(self.conditions)),
            "limits_at": None,
        }
        return PooledEnvelope(
            **shared,
            paths=self.settling.paths,
            too_hopeful_deg=max(0.0, *gaps),
            too_careful_deg=max(0.0, *(-gap for gap in gaps)),
            attitudes_settled=self.settling.attitudes,
            filled=self.settling.start.words,
        )

    def _worst(self, rows: Sequence[PooledLimit]) -> PooledLimit:
        """The worst row; bounded over all headings only where that is proved for them all."""
        worst = min(rows, key=self._key)
        held = min(self.bound, worst.held_to_deg)
        reaches = held >= self._key(worst) - 2.0 * self.plain.tolerance_deg
        told = worst.told_deg  # of its own heading: over all of them it is no higher
        worst = replace(worst, held_to_deg=held, bounded=worst.bounded and reaches)
        if not worst.bounded:
            worst = replace(worst, sampled_to_deg=min(told, worst.sampled_to_deg))
        return replace(worst, grade_percent=grade_of(worst.told_deg))

    def _key(self, row: Limit) -> float:
        return self.plain.searched_to_deg if row.slope_deg is None else row.slope_deg

    def _row(self, k: int, slope: float, port: int, way: int) -> PooledLimit:
        one = self.plain.limits[k]
        certain = math.degrees(self.to[k])
        found: tuple[float | None, str | None, str | None]
        if self.to[k] >= self.ends[k]:
            found = (one.slope_deg, one.port, None)
        elif math.isnan(slope):
            found = (None, None, None)
        else:
            name = self.conditions.ports[port].name
            found = (math.degrees(slope), name, self.settling.paths[way])
        held = max(min(one.held_to_deg, certain), self.bound)
        held = min(held, math.inf if found[0] is None else found[0])
        row = PooledLimit(
            heading_deg=one.heading_deg,
            slope_deg=found[0],
            held_to_deg=held,
            grade_percent=0.0,
            port=found[1],
            limited=found[0] is not None,
            grazing=one.grazing,
            path=found[2],
            one_level_deg=one.slope_deg,
            one_surface_to_deg=max(certain, self.bound),
            bounded=bool(self.to[k] >= self.ends[k]),
            sampled_to_deg=self.plain.searched_to_deg,
        )
        return replace(row, grade_percent=grade_of(row.told_deg))
