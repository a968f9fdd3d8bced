"""Where a port may be: half-spaces of allowed positions, the best of them, and heights at a spot.

For one attitude the positions that keep a port's rule are a half-space; for all required ones
their intersection, which is convex. Sampled half-spaces err on the unsafe side, so each cell of
attitudes gives half-spaces that hold all over it. See docs/theory/place.md.
"""

from dataclasses import dataclass
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import cells as attitude_cells
from tanksolve.kernel.attitude.cells import half_spaces
from tanksolve.kernel.attitude.halfspaces import Optimum, box_half_spaces, corners_of, on_faces
from tanksolve.kernel.capacity.level import levels
from tanksolve.model.liquid import Fill
from tanksolve.model.ports import Port, Rule
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.state.worst_case import Worst, worst_case

Array = NDArray[np.float64]

__all__ = ["HalfSpaces", "HeightLimit", "Opening", "best_place", "heights_at", "zone_half_spaces"]

_ZONE_SAMPLES = 6  # the same before the zone's: 2.5 degrees apart
_FIRST_SAMPLES = 3  # halvings of the requirement's cells before the first programme
_CLOSE = 2e-4  # m: the margin of the best place is bounded this closely
_CHUNK = 256
_NOUGHT = 1e-12  # m


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
    """A port's shape about its centre, its rule, and the liquid it must keep it against."""

    tank: Tank
    discs: Array
    cover: float
    dry: bool
    volume: float

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

    def rows(self, up: Array, hulls: Array | None = None) -> tuple[Array, Array]:
        """Half-spaces (D, J, 3), (D, J) of hulls (D, J, 3), or of the attitudes alone (J = 1)."""
        height = levels(self.tank.tree, up, self.volume, lowest=self.dry)[0]
        points = up[:, None] if hulls is None else hulls
        lower, upper = self.tank.lower, self.tank.upper
        return half_spaces(lower, upper, self.discs, self.cover, up, points, height, dry=self.dry)

    def shift(self, up: Array) -> Array:
        """How far (D,) [m] along z the limit for the port's centre is from the level."""
        level = levels(self.tank.tree, up, self.volume, lowest=self.dry)[0]
        sign = -1.0 if self.dry else 1.0
        return np.asarray((sign * self.rows(up)[1][:, 0] - level) / up[:, 2])

    def worst_margin(self, place: Array, requirement: Requirement, tolerance: float) -> Worst:
        """Least margin of the opening at ``place``, with its sign turned: a loss [m]."""

        def loss(up: Array, hulls: Array | None = None) -> Array:
            normal, offset = self.rows(up, hulls)
            return np.asarray((normal @ place - offset).max(axis=1))

        return worst_case(requirement, loss, loss, tolerance)


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
    normals, offsets = (a.reshape(-1, *a.shape[2:]) for a in opening.rows(_samples(cells)))
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


def _samples(cells: attitude_cells.Cells) -> Array:
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
    rows = _joined(rows, opening.rows(_samples(cells)), shrink)
    cells, spent = requirement.cells(), 0
    corners = corners_of(*rows)
    smallest = 0.5 * shrink / float(np.linalg.norm(opening.tank.upper - opening.tank.lower))
    while len(cells.box) and corners is not None:
        rows = _binding(rows, corners)
        up, hulls = attitude_cells.centres(cells), attitude_cells.hulls(cells)
        spent += len(up)
        normals, offsets = opening.rows(up, hulls)
        open_ = _cut_depth(normals, offsets, corners) > _NOUGHT
        small = np.linalg.norm(hulls - up[:, None], axis=2).max(axis=1) < smallest
        if (open_ & small).any():
            rows = _joined(rows, opening.rows(up[open_ & small]), shrink)
            corners = corners_of(*rows)
        else:
            cells = attitude_cells.halves(cells.at(open_))
    if corners is None:
        return None
    return HalfSpaces(*rows, shrink, spent)


def _joined(
    one: tuple[Array, Array], other: tuple[Array, Array], shrink: float
) -> tuple[Array, Array]:
    """Both sets of half-spaces, the second (D, 1, 3), (D, 1) moved in by ``shrink``."""
    return np.vstack([one[0], other[0][:, 0]]), np.append(one[1], other[1][:, 0] - shrink)


def _binding(rows: tuple[Array, Array], corners: Array) -> tuple[Array, Array]:
    """Leave out rows that touch no corner; those of the box stay."""
    normals, offsets = rows
    near = (offsets - corners @ normals.T).min(axis=0) < 1e-9
    near[:6] = True
    return normals[near], offsets[near]


def _cut_depth(normals: Array, offsets: Array, corners: Array) -> Array:
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

    found = worst_case(requirement, lost, lost, tolerance)
    return HeightLimit(-sign * found.value, -sign * found.bound, found.up)
