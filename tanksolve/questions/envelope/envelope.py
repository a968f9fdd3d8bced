"""The safe envelope: for each heading the greatest slope at which every port keeps its rule."""

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, field, replace
from functools import cached_property, partial
from typing import ClassVar

import numpy as np
from numpy.typing import NDArray

from tanksolve.errors import AttitudeError
from tanksolve.kernel.attitude.direction import up_from_slope_heading
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.progress import tell
from tanksolve.questions.envelope.edge import Edge, edge_of
from tanksolve.questions.envelope.map import MarginMap, margin_map
from tanksolve.questions.envelope.rows import Island, Limit, grade_of, lowered_to
from tanksolve.result import Result
from tanksolve.state.certify import close_in, held_out_to, worst_of_all_headings
from tanksolve.state.conditions import Conditions, Pickups
from tanksolve.state.margin_table import one_level_margins

Array = NDArray[np.float64]

__all__ = ["Envelope", "Island", "Limit", "envelope", "envelope_under"]


@dataclass(frozen=True, eq=False, repr=False)
class Envelope(Result):
    """Everything about where a tank's ports hold; see :func:`envelope`.

    Attributes
    ----------
    walls_may_part : whether liquid can stand in more than one pool: limits are then those of the worst
        state that any route can leave.
    walls_alone : whether only walls break a rule on level ground: with one level through the whole tank
        every rule would be kept there.
    """

    rows_of: ClassVar[str] = "limits"

    tank: str
    capacity_m3: float
    fill: Fill
    ok_at_level: bool
    limits: tuple[Limit, ...]
    worst: Limit
    nose_up: float | None
    nose_down: float | None
    left_down: float | None
    right_down: float | None
    islands: tuple[Island, ...]
    searched_to_deg: float
    tolerance_deg: float
    margin_at_level_m: float
    walls_may_part: bool
    make_map: Callable[[], MarginMap] = field(repr=False, metadata={"json": False})
    make_edge: Callable[[], Edge] = field(repr=False, metadata={"json": False})
    walls_alone: bool = False

    @property
    def headings_deg(self) -> Array:
        """Direction of uphill of each row of ``limits`` (H,) [°]."""
        return np.array([row.heading_deg for row in self.limits])

    @property
    def slopes_deg(self) -> Array:
        """Where the limit was solved on each heading (H,) [°]; NaN where nothing limits."""
        return np.array([row.slope_deg for row in self.limits], dtype=float)

    @property
    def held_to_deg(self) -> Array:
        """The bound on each heading (H,) [°]; as far as was searched where nothing limits."""
        return np.array([row.held_to_deg for row in self.limits])

    @cached_property
    def map(self) -> MarginMap:
        """Margins over the whole range searched, computed when first asked for."""
        return self.make_map()

    @cached_property
    def edge(self) -> Edge:
        """The limits as one line with what is proved between the headings, when first asked for."""
        return self.make_edge()


def envelope(
    tank: Tank,
    ports: Sequence[Port],
    fill: Fill | float,
    *,
    pickups: Pickups = "all",
    every_deg: float = 5.0,
    search_to_deg: float = 60.0,
    tolerance_deg: float = 0.05,
) -> Envelope:
    """Find the tank limit at every heading, whatever the machine did before.

    Limits are bounds that leave no gap between samples (still liquid, this mesh), in every tank: where
    walls part the liquid, each port is judged by the worst state that any route can leave.

    Parameters
    ----------
    tank : the wetted interior.
    ports : at least one with a rule; pickups must stay wet, breathers and fillers dry.
    fill : a volume [m³], or the least and the most.
    pickups : whether ``all`` must be covered, or ``any`` one suffices.
    every_deg : spacing of the headings listed [°]; the worst limit is bounded over all headings.
    search_to_deg : slope up to which to look [°], below 90.
    tolerance_deg : how far ``held_to_deg`` may lie below ``slope_deg`` [°].

    Raises PortError, FillError, AttitudeError.
    """
    conditions = Conditions.of(tank, ports, fill, pickups)
    return envelope_under(
        conditions, every_deg=every_deg, search_to_deg=search_to_deg, tolerance_deg=tolerance_deg
    )


def envelope_under(
    conditions: Conditions,
    *,
    every_deg: float,
    search_to_deg: float,
    tolerance_deg: float,
    islands: bool = True,
) -> Envelope:
    """The envelope of conditions already put together; see :func:`envelope`. Raises AttitudeError.

    islands : whether to look beyond the limits for where the ports hold again.
    """
    if not 0.0 < search_to_deg < 90.0:
        raise AttitudeError(
            f"a search to {search_to_deg:g}° is at or past 90°"
            if search_to_deg >= 90.0
            else f"a search to {search_to_deg:g}° is no search",
            allowed="more than 0° and less than 90°",
        )
    if not 0.1 - 1e-9 <= every_deg <= 90.0 or not 1e-6 <= tolerance_deg <= 5.0:
        raise AttitudeError(
            f"headings every {every_deg:g}° with a tolerance of {tolerance_deg:g}° cannot be used",
            allowed="headings every 0.1° to 90°, tolerance 0.000001° to 5°",
        )
    tell("searching the limits")
    count = max(4, round(360.0 / every_deg))
    headings: Array = np.radians(np.arange(count) * (360.0 / count))
    sides = np.radians([0.0, 180.0, 270.0, 90.0])
    everything = np.concatenate([headings, sides])
    search = _Search(conditions, math.radians(search_to_deg), math.radians(tolerance_deg))
    found = search.limits(everything)
    tell("proving the worst limit at all headings")
    worst = search.worst(headings, found[:count])
    named = [limit.slope_deg for limit in found[count:]]
    level = conditions.group_margins(conditions.margins(np.array([[[0.0, 0.0, 1.0]]])))[0]
    limits = lowered_to(worst, found[:count])
    return Envelope(
        tank=conditions.tank.name,
        capacity_m3=conditions.tank.capacity,
        fill=conditions.fill,
        ok_at_level=search.level_held,
        limits=limits,
        worst=worst,
        nose_up=named[0],
        nose_down=named[1],
        right_down=named[3],
        left_down=named[2],
        islands=search.islands(headings, found[:count]) if islands else (),
        searched_to_deg=search_to_deg,
        tolerance_deg=tolerance_deg,
        margin_at_level_m=float(level[0, 0]),
        walls_may_part=conditions.walls_may_part,
        make_map=partial(margin_map, conditions, search_to_deg),  # partials pickle
        make_edge=partial(edge_of, limits, worst, conditions, search.limits),
        walls_alone=not search.level_held and _kept_by_one_level(conditions),
    )


def _kept_by_one_level(conditions: Conditions) -> bool:
    """Whether every rule is kept on level ground where liquid stands at one level in all bays."""
    up = np.array([[0.0, 0.0, 1.0]])
    margins = one_level_margins(conditions, up)
    return bool(conditions.group_margins(margins)[0][0] >= 0.0)


class _Search:
    """One search for limits: the conditions, how far, and how closely [rad]."""

    def __init__(self, conditions: Conditions, limit: float, tolerance: float) -> None:
        self.conditions = conditions
        self.limit = limit
        self.tolerance = tolerance
        self.level_held = bool(conditions.held(np.array([[0.0, 0.0, 1.0]])).all())

    def limits(self, headings: Array) -> list[Limit]:
        """Bound and root at each of ``headings`` (K,) [rad]."""
        count = len(headings)
        if not self.level_held:
            return self._rows(headings, np.zeros(count), np.zeros(count), np.zeros(count, bool))
        ends = np.full(count, self.limit)
        held = held_out_to(self.conditions, headings, np.zeros(count), ends, self.tolerance)
        root = np.full(count, np.nan)
        reached = held.copy()
        open_ = reached < self.limit
        grazing = np.zeros(count, bool)
        while open_.any():
            k = np.flatnonzero(open_)
            inside, outside = self._first_loss(headings[k], reached[k])
            lost = ~np.isnan(outside)
            if lost.any():
                hit = k[lost]
                root[hit] = close_in(self.conditions, headings[hit], inside[lost], outside[lost])[0]
            near = k[~lost]  # so close to zero that no cell is proved, and yet nothing gives out
            grazing[near] |= reached[near] < self.limit - self.tolerance
            past = np.minimum(reached[near] + self.tolerance, self.limit)
            reached[near] = held_out_to(
                self.conditions, headings[near], past, ends[near], self.tolerance
            )
            open_[k[lost]] = False
            open_[near] = reached[near] < self.limit
        return self._rows(headings, root, held, grazing)

    def _first_loss(self, headings: Array, start: Array) -> tuple[Array, Array]:
        """Bracket the first loss within one tolerance of ``start``; NaN where there is none."""
        inside, outside = start.copy(), np.full(len(start), np.nan)
        for part in np.linspace(0.0, 1.0, 17)[1:]:  # the loss is mostly in the first
            k = np.flatnonzero(np.isnan(outside))
            slope = np.minimum(start[k] + self.tolerance * part, self.limit)
            held = self.conditions.held(up_from_slope_heading(slope, headings[k])).all(axis=1)
            inside[k[held]], outside[k[~held]] = slope[held], slope[~held]
        return inside, outside

    def _rows(self, headings: Array, root: Array, held: Array, grazing: Array) -> list[Limit]:
        limited = ~np.isnan(root)
        beyond = np.where(limited, root + 1e-9, self.limit)
        up = up_from_slope_heading(beyond, headings)[:, None, :]
        port = self.conditions.group_margins(self.conditions.margins(up))[1][:, 0]
        rows = []
        for k, heading in enumerate(np.degrees(headings)):
            bound = math.degrees(min(held[k], root[k]) if limited[k] else held[k])
            rows.append(
                Limit(
                    heading_deg=round(float(heading), 9),
                    slope_deg=float(np.degrees(root[k])) if limited[k] else None,
                    held_to_deg=bound,
                    grade_percent=grade_of(bound),
                    port=self.conditions.ports[int(port[k])].name if limited[k] else None,
                    limited=bool(limited[k]),
                    grazing=bool(grazing[k]),
                )
            )
        return rows

    def worst(self, headings: Array, rows: list[Limit]) -> Limit:
        """The worst limit over all headings, between the listed ones too."""
        worst = min(rows, key=self._slope)
        if not self.level_held:
            return worst
        for _ in range(4):
            if worst.limited:
                worst = self._refined(worst, headings[1] - headings[0])
            short = 0.5 * self.tolerance if worst.limited else 0.0
            top = math.radians(self._slope(worst))
            held, where = worst_of_all_headings(self.conditions, top - short, self.tolerance)
            if np.isnan(where):
                break
            found = self.limits(np.array([where]))[0]  # a narrow dip between headings, or a graze
            if self._slope(found) >= self._slope(worst):
                break
            worst = found
        bound = math.degrees(held)
        return replace(
            worst,
            held_to_deg=bound,
            grade_percent=grade_of(bound),
            grazing=math.degrees(top) - bound > 1.01 * math.degrees(self.tolerance),
        )

    def _refined(self, worst: Limit, step: float) -> Limit:
        """Look for a lower limit near the worst heading, closing in by quarters."""
        heading, slope = math.radians(worst.heading_deg), math.radians(self._slope(worst))
        for _ in range(7):
            around = heading + step * np.linspace(-1.0, 1.0, 9)
            ends = np.full(len(around), slope)
            held = self.conditions.held(up_from_slope_heading(ends, around)).all(axis=1)
            lost = np.logical_not(held)
            if lost.any():
                near = around[lost]
                lower = close_in(self.conditions, near, np.zeros(len(near)), ends[lost])[0]
                heading, slope = float(near[np.argmin(lower)]), float(lower.min())
            step /= 4.0
        if slope == math.radians(self._slope(worst)):
            return worst
        return self._rows(np.array([heading]), *np.array([[slope], [slope], [0.0]]))[0]

    def _slope(self, row: Limit) -> float:
        return math.degrees(self.limit) if row.slope_deg is None else row.slope_deg

    def islands(self, headings: Array, rows: list[Limit]) -> tuple[Island, ...]:
        """Stretches further out where all rules are kept again, looked for in steps of 1°."""
        lost = [k for k, row in enumerate(rows) if row.slope_deg is not None]
        if not (lost and self.level_held):
            return ()
        nearest = math.radians(min(self._slope(row) for row in rows))
        slopes = np.append(np.arange(nearest, self.limit, math.radians(1.0)), self.limit)
        up = up_from_slope_heading(slopes[None, :], headings[lost, None])
        held = np.asarray(self.conditions.held(up.reshape(-1, 3)).all(axis=1)).reshape(up.shape[:2])
        found = []
        for k, beyond in zip(lost, held, strict=True):
            again = beyond & (slopes > math.radians(self._slope(rows[k])) + 1e-6)
            edges = np.flatnonzero(np.diff(np.concatenate([[False], again, [False]])))
            for first, last in edges.reshape(-1, 2):
                found.append(self._island(float(headings[k]), slopes, int(first), int(last) - 1))
        return tuple(found)

    def _island(self, heading: float, slopes: Array, first: int, last: int) -> Island:
        """Refine both ends of one island."""
        k = np.array([heading])
        start, end = slopes[first : first + 1], slopes[last : last + 1]
        if first > 0:
            start = close_in(self.conditions, k, start, slopes[first - 1 : first])[0]
        if last + 1 < len(slopes):
            end = close_in(self.conditions, k, end, slopes[last + 1 : last + 2])[0]
        degrees = (
            float(np.degrees(heading)),
            float(np.degrees(start[0])),
            float(np.degrees(end[0])),
        )
        return Island(*degrees)
