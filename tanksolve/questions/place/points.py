"""Where a port may be: half-spaces of allowed positions, the best of them, and heights at a spot.

For one attitude the positions that keep a port's rule are a half-space; for all required ones
their intersection, which is convex. Sampled half-spaces err on the unsafe side, so each cell of
attitudes gives half-spaces that hold all over it. Where walls may part the liquid the level is that
of the worst state of rest. See docs/theory/place.md.
"""

from dataclasses import dataclass, replace
from functools import cached_property
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import half_spaces
from tanksolve.kernel.attitude.halfspaces import Optimum, box_half_spaces, corners_of, on_faces
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.pools.pool_levels import highest_over, space_of, spaces_of
from tanksolve.kernel.pools.worst_state import least_rise
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.conditions import Conditions
from tanksolve.state.worst_case import Worst, worst_case

Array = NDArray[np.float64]

__all__ = [
    "HalfSpaces",
    "HeightLimit",
    "Opening",
    "best_place",
    "cut_depth",
    "heights_at",
    "samples",
    "zone_half_spaces",
]

_ZONE_SAMPLES = 6  # the same before the zone's: 2.5 degrees apart
_FIRST_SAMPLES = 3  # halvings of the requirement's cells before the first programme
_CLOSE = 2e-4  # m: the margin of the best place is bounded this closely
_CHUNK = 256
_NOUGHT = 1e-12  # m
_MOST_PARTED = 20_000  # attitudes valued in one search where walls part the liquid, which cost more


class HalfSpaces(NamedTuple):
    """Positions ``normal · p <= offset`` that keep the rule at every required attitude.

    gap : no position farther than this outside some half-space keeps it [m]; evaluations : cost.
    """

    normals: Array
    offsets: Array
    gap: float
    evaluations: int


@dataclass(frozen=True, eq=False)
class Opening:
    """A port's shape about its centre, its rule, and the liquid it must keep it against.

    Attributes
    ----------
    seen_from : (3,) [m] or None. Where walls may part the liquid, a place in the liquid space: a wet
        port is judged by the least level over it, right wherever the port hangs together with it
        below that level; a dry port by the highest level anywhere in the same space. None takes one
        surface, which must then be certain.
    """

    tank: Tank
    discs: Array
    cover: float
    dry: bool
    volume: float
    seen_from: Array | None = None

    @classmethod
    def of(cls, tank: Tank, port: Port, fill: Fill | float) -> "Opening":
        """Take a port's shape; wet ports are judged at the least fill, dry ones at the most.

        Raises ValueError for a port without a rule, FillError for a fill above the capacity.
        """
        if port.effective_rule is Rule.NONE:
            raise ValueError(f"port '{port.name}' has no rule to keep")
        fill = Fill.of(fill)
        fill.check(tank.capacity)
        discs = port.discs.copy()
        discs[:, :3] -= np.asarray(port.position)
        dry = port.effective_rule is Rule.DRY
        brim = tank.capacity * (1.0 - 1e-9)  # no plane marks the top of a brim-full tank
        volume = min(fill.most, tank.capacity) if dry else min(fill.least, brim)
        return cls(tank, discs, port.required_cover, dry, volume)

    @property
    def foot(self) -> Array:
        """The place (3,) that it is seen from. Raises ValueError where there is none."""
        if self.seen_from is None:
            raise ValueError("the opening is seen from no place")
        return self.seen_from

    def at(self, place: Array) -> "Opening":
        """The same, judged by the worst state of rest as seen from ``place`` (3,) in the liquid space."""
        return replace(self, seen_from=place)

    @property
    def most_cells(self) -> int | None:
        """How many attitudes a search may cost; None where each is cheap."""
        return None if self.seen_from is None else _MOST_PARTED

    def rows(self, up: Array, hulls: Array | None = None) -> tuple[Array, Array]:
        """Half-spaces (D, J, 3), (D, J) of hulls (D, J, 3), or of the attitudes alone (J = 1)."""
        points = up[:, None] if hulls is None else hulls
        return self.rows_below(self.level(up, hulls), up, points)

    def rows_below(self, level: Array, up: Array, points: Array) -> tuple[Array, Array]:
        """The half-spaces for liquid that stands at ``level`` (D,) [m] at ``up`` (D, 3)."""
        lower, upper = self.tank.lower, self.tank.upper
        return half_spaces(lower, upper, self.discs, self.cover, up, points, level, dry=self.dry)

    def level(self, up: Array, hulls: Array | None = None) -> Array:
        """Level (D,) [m] that the rule is kept against at ``up`` (D, 3), with its slack all over hulls."""
        tank = self.tank
        level: Array = levels(tank.tree, up, self.volume, lowest=self.dry)[0]
        if self.seen_from is None:
            return level
        k = np.flatnonzero(~self._liquid.one_surface(up, hulls))
        if not len(k):
            return level
        links = tank.link_stations
        if self.dry:
            points = up[k, None] if hulls is None else hulls[k]
            worst = highest_over(tank.graph, up[k], points, self.volume, self._space, links)
            level[k] = np.maximum(level[k], worst)
            return level
        volume = np.full(len(k), self.volume)
        if hulls is not None:
            volume -= self._liquid.newly_held(up[k], hulls[k])
        place, edge = self.foot[None], np.zeros((len(k), 1))
        worst = least_rise(tank.graph, up[k], place, edge, volume, level[k], links)
        level[k] = np.minimum(level[k], np.where(np.isnan(worst), -np.inf, worst))
        return level

    @cached_property
    def _liquid(self) -> Conditions:
        return Conditions(self.tank, Fill.of(self.volume), (), ())

    @cached_property
    def _space(self) -> NDArray[np.bool_]:
        """Vertices (N,) of the liquid space that the opening is seen from."""
        spaces = spaces_of(self.tank.graph)
        return np.asarray(spaces == space_of(self.tank.graph, spaces, self.foot))

    def shift(self, up: Array) -> Array:
        """How far (D,) [m] along z the limit for the port's centre is from the level."""
        level = self.level(up)
        sign = -1.0 if self.dry else 1.0
        return np.asarray((sign * self.rows(up)[1][:, 0] - level) / up[:, 2])

    def worst_margin(self, place: Array, requirement: Requirement, tolerance: float) -> Worst:
        """Least margin of the opening at ``place``, with its sign turned: a loss [m]."""

        def loss(up: Array, hulls: Array | None = None) -> Array:
            normal, offset = self.rows(up, hulls)
            return np.asarray((normal @ place - offset).max(axis=1))

        return worst_case(requirement, loss, loss, tolerance, most_cells=self.most_cells)


def best_place(
    opening: Opening, requirement: Requirement, corners: Array, tolerance: float = _CLOSE
) -> tuple[Optimum, Worst]:
    """The position with the greatest margin in a solid with faces ``corners`` (F, 3, 3).

    Every required up vector has a common downward direction, so the best position is on the
    surface. The programme on sampled attitudes is followed by the worst attitude for its answer,
    which joins the samples, until the two margins agree to ``tolerance`` [m].
    Returns the position with its bounded margin, and the worst case there.
    """
    cells = requirement.cells()
    for _ in range(_FIRST_SAMPLES):
        cells = attitude_cells.halves(cells)
    normals, offsets = (a.reshape(-1, *a.shape[2:]) for a in opening.rows(samples(cells)))
    hope, place = on_faces(normals, offsets, corners), Optimum(np.zeros(3), -np.inf)
    for _ in range(40):
        worst = opening.worst_margin(hope.place, requirement, 5.0 * tolerance)
        if -worst.value > place.margin:
            place = Optimum(hope.place, -worst.value)
        if hope.margin - place.margin <= 0.1 * tolerance:
            break
        normal, offset = opening.rows(np.array([worst.up]))
        normals, offsets = np.vstack([normals, normal[0]]), np.append(offsets, offset[0])
        hope = on_faces(normals, offsets, corners)
    worst = opening.worst_margin(place.place, requirement, tolerance)
    return Optimum(place.place, -worst.bound), worst


def samples(cells: attitude_cells.Cells) -> Array:
    """Middles and corners of cells."""
    both = [attitude_cells.centres(cells), attitude_cells.corners(cells)]
    return np.unique(np.vstack(both), axis=0)


def zone_half_spaces(
    opening: Opening, requirement: Requirement, shrink: float
) -> HalfSpaces | None:
    """Half-spaces whose intersection keeps the rule all over the requirement; None if it is empty.

    Half-spaces of sampled attitudes, each moved in by ``shrink`` [m], make a candidate; then every
    cell of attitudes is proved to hold at all corners of the candidate, which by convexity is all
    of it. A small cell that is not proved adds the half-space of its middle, moved in as well.
    """
    rows = box_half_spaces(opening.tank.lower, opening.tank.upper)
    cells = requirement.cells()
    for _ in range(_ZONE_SAMPLES):
        cells = attitude_cells.halves(cells)
    rows = _joined(rows, opening.rows(samples(cells)), shrink)
    cells, spent = requirement.cells(), 0
    corners = corners_of(*rows)
    smallest = 0.5 * shrink / float(np.linalg.norm(opening.tank.upper - opening.tank.lower))
    while len(cells.box) and corners is not None:
        rows = _binding(rows, corners)
        up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
        spent += len(up)
        normals, offsets = opening.rows(up, hulls)
        open_ = cut_depth(normals, offsets, corners) > _NOUGHT
        small = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1) < smallest
        if (open_ & small).any():
            k = open_ & small
            rows = _joined(rows, opening.rows(up[k]), shrink)
            if opening.seen_from is not None:  # a level may jump within a cell, however small
                rows = _stacked(rows, normals[k], offsets[k])
            corners = corners_of(*rows)
        else:
            cells = attitude_cells.halves(cells.at(open_))
    if corners is None:
        return None
    return HalfSpaces(*rows, shrink, spent)


def _joined(
    one: tuple[Array, Array], other: tuple[Array, Array], shrink: float
) -> tuple[Array, Array]:
    """Both sets of half-spaces, the second (D, J, 3), (D, J) moved in by ``shrink``."""
    return _stacked(one, other[0], other[1] - shrink)


def _stacked(one: tuple[Array, Array], normals: Array, offsets: Array) -> tuple[Array, Array]:
    return np.vstack([one[0], normals.reshape(-1, 3)]), np.append(one[1], offsets)


def _binding(rows: tuple[Array, Array], corners: Array) -> tuple[Array, Array]:
    """Leave out rows that touch no corner; those of the box stay."""
    normals, offsets = rows
    near = (offsets - corners @ normals.T).min(axis=0) < 1e-9
    near[:6] = True
    return normals[near], offsets[near]


def cut_depth(normals: Array, offsets: Array, corners: Array) -> Array:
    """How deep (C,) [m] half-spaces of each cell (C, J, 3), (C, J) cut into the corners' hull."""
    depth = np.zeros(len(normals))
    for part in np.array_split(np.arange(len(normals)), 1 + len(normals) // _CHUNK):
        reach = (normals[part].reshape(-1, 3) @ corners.T).max(axis=1)
        depth[part] = (reach.reshape(len(part), -1) - offsets[part]).max(axis=1)
    return depth


class HeightLimit(NamedTuple):
    """A height [m] along z where a port's rule ends: solved, bounded, and the attitude that sets it."""

    root: float
    bound: float
    up: tuple[float, float, float]


def heights_at(
    opening: Opening, requirement: Requirement, x: float, y: float, tolerance: float
) -> HeightLimit:
    """Highest place of a wet port (lowest of a dry one) on the upright line through (x, y) [m].

    tolerance : of the bound [m].
    """
    foot = np.array([x, y, 0.0])
    sign = -1.0 if opening.dry else 1.0

    def lost(up: Array, hulls: Array | None = None) -> Array:
        normal, offset = opening.rows(up, hulls)
        height = (offset - normal @ foot) / (sign * normal[..., 2])
        return np.asarray(-height.min(axis=1))

    found = worst_case(requirement, lost, lost, tolerance, most_cells=opening.most_cells)
    return HeightLimit(-sign * found.value, -sign * found.bound, found.up)
