"""Ten one-pool tanks with a port to place, and an attack on zones and best places.

The attack shares no half-space and no bound with what it attacks: attitudes are sampled half a
degree apart, rim and corners included; for places that are near the edge of what holds the worst
sample is followed down by ever smaller steps; the verdict is the plain kernel's, by volume.
"""

import math
from collections.abc import Callable
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.geometry.parts import box, cylinder, extrusion
from tanksolve.geometry.zone import Region
from tanksolve.kernel.attitude.cells import ups
from tanksolve.kernel.attitude.support import support_high, support_low
from tanksolve.kernel.capacity.level import levels
from tanksolve.kernel.capacity.volumes_plain import volumes_plain
from tanksolve.model.ports import Port, breather, pickup, strainer
from tanksolve.model.requirement import Meaning, Requirement
from tanksolve.model.tank import Tank
from tanksolve.questions.place.points import Opening, best_place, zone_half_spaces

Array = NDArray[np.float64]

DEG = math.radians(1.0)
CONE, BOX = Requirement.every_heading(20 * DEG), Requirement.box(20 * DEG, 10 * DEG)
TILTED = Requirement.sides(25 * DEG, 5 * DEG, 0.0, 15 * DEG, Meaning.ROTATIONS)
PICKUP = pickup("p", (0, 0, 0), bore=0.03, facing="down", cover=0.01)
SIDEWAYS = pickup("p", (0, 0, 0), bore=0.05, facing="left", cover=0.0)
STRAINER = strainer("s", (0, 0, 0), bore=0.04, length=0.05, facing="forward", cover=0.0)
CAP = breather("b", (0, 0, 0), bore=0.02, facing="up", cover=0.005)
_STEP = 0.5 * DEG
_BATCH = 4_000_000  # margins at once


def wedge() -> Tank:
    return extrusion([(0, 0), (0.9, 0), (0.9, 0.4), (0.2, 0.4)], 0.5, "across")


def ell() -> Tank:
    return extrusion([(0, 0), (0.5, 0), (0.5, 0.15), (0.3, 0.15), (0.3, 0.35), (0, 0.35)], 0.6)


class ZoneCase(NamedTuple):
    """A tank, the share of it that is full, the port to be placed and what it must meet."""

    tank: Tank
    share: float
    port: Port
    need: Requirement

    @property
    def opening(self) -> Opening:
        return Opening.of(self.tank, self.port, self.share * self.tank.capacity)


TEN = {
    "box, cone": ZoneCase(box(0.9, 0.3, 0.3), 0.5, PICKUP, CONE),
    "box, breather": ZoneCase(box(0.9, 0.3, 0.3), 0.6, CAP, BOX),
    "flat box": ZoneCase(box(1.2, 0.8, 0.15), 0.7, PICKUP, Requirement.every_heading(4 * DEG)),
    "tall box": ZoneCase(box(0.2, 0.3, 0.8), 0.3, SIDEWAYS, BOX),
    "lying": ZoneCase(cylinder(0.5, 1.0), 0.5, PICKUP, BOX),
    "across": ZoneCase(cylinder(0.4, 0.7, "across"), 0.4, STRAINER, CONE),
    "upright": ZoneCase(cylinder(0.4, 0.7, "upright"), 0.5, CAP, CONE),
    "wedge": ZoneCase(wedge(), 0.5, PICKUP, TILTED),
    "ell": ZoneCase(ell(), 0.6, PICKUP, CONE),
    "braking": ZoneCase(
        box(0.6, 0.5, 0.4), 0.5, SIDEWAYS, Requirement.accelerations(4.0, 2.0, 3.0)
    ),
}


def points_in(
    tank: Tank,
    count: int,
    rng: np.random.Generator,
    wanted: Callable[[Array], NDArray[np.bool_]] = lambda points: np.ones(len(points), bool),
) -> Array:
    """Random points (count, 3) inside a tank, by its winding number, that are ``wanted``."""
    found = np.empty((0, 3))
    while len(found) < count:
        points = rng.uniform(tank.lower, tank.upper, (20 * count, 3))
        points = points[wanted(points)][: 2 * (count - len(found))]
        found = np.vstack([found, points[np.abs(tank.winding(points)) > 0.5]])
    return found[:count]


def inside(zone: Region, points: Array) -> NDArray[np.bool_]:
    """Whether points (P, 3) are in a zone, by its winding number: (P,)."""
    return np.abs(Tank("zone", zone.vertices, zone.faces).winding(points)) > 0.5


def clear_of(zone: Region, points: Array, away: float) -> NDArray[np.bool_]:
    """Whether points (P, 3) are outside a zone, and so is all that is ``away`` [m] from them: (P,).

    Asked at the corners, edges and faces of a cube about each.
    """
    steps = np.stack(np.meshgrid(*3 * [[-away, 0.0, away]]), axis=-1).reshape(-1, 3)
    around = points[:, None] + steps
    return ~inside(zone, around.reshape(-1, 3)).reshape(len(points), -1).any(axis=1)


class Attitudes(NamedTuple):
    """Attitudes (M,) of patches, as angles of a chart within the patch's limits."""

    chart: NDArray[np.int8]
    place: Array  # (M, 2)
    low: Array
    high: Array
    shift: Array

    @property
    def up(self) -> Array:
        return ups(self.chart, self.place[:, 0], self.place[:, 1], self.shift)

    def at(self, rows: NDArray[np.intp]) -> "Attitudes":
        return Attitudes(*(part[rows] for part in self))


def attitudes(need: Requirement, step: float = _STEP) -> Attitudes:
    """A grid over each patch, its rim and corners included, at most ``step`` apart in its angles."""
    parts = []
    for patch in need.patches:
        ends = (patch.a, patch.b)
        counts = [2 + math.ceil((high - low) / step) for low, high in ends]
        a, b = (np.linspace(*end, n) for end, n in zip(ends, counts, strict=True))
        place = np.stack(np.meshgrid(a, b, indexing="ij"), axis=-1).reshape(-1, 2)
        low, high = np.array(ends).T
        chart = np.full(len(place), patch.chart, np.int8)
        limits = (np.broadcast_to(end, place.shape) for end in (low, high, patch.shift))
        parts.append(Attitudes(chart, place, *limits))
    return Attitudes(*(np.concatenate(column) for column in zip(*parts, strict=True)))


def reaches(opening: Opening, up: Array) -> Array:
    """Greatest (wet) or least (dry) height (M,) [m] that the port's centre may have along ``up``."""
    height = levels(opening.tank.tree, up, opening.volume, lowest=opening.dry)[0]
    if opening.dry:
        return height - (support_low(opening.discs, up) - opening.cover)
    return height - (support_high(opening.discs, up) + opening.cover)


def worst_attitudes(
    opening: Opening, need: Requirement, points: Array, below: float
) -> tuple[Array, Array]:
    """Least margin (P,) [m] of each point, and the attitude (P, 3) at which it is that.

    It is a margin at an attitude that is required, so never less than the true least one.
    below : points with a least sampled margin from 0 to this [m] are followed down.
    """
    grid = attitudes(need)
    up, sign = grid.up, -1.0 if opening.dry else 1.0
    reach = reaches(opening, up)
    rows = np.empty(len(points), np.intp)
    for part in np.array_split(np.arange(len(points)), 1 + len(points) * len(up) // _BATCH):
        rows[part] = (sign * (reach - points[part] @ up.T)).argmin(axis=1)
    margin = sign * (reach[rows] - (points * up[rows]).sum(axis=1))
    near = np.flatnonzero((margin >= 0.0) & (margin < below))
    margin[near], at = _followed_down(opening, grid.at(rows[near]), points[near], margin[near])
    worst = up[rows]
    worst[near] = at
    return margin, worst


def reach_of_samples(tank: Tank) -> float:
    """No margin changes by more than this [m] between an attitude and the nearest sample.

    It changes by at most the greatest distance in the tank times the chord, whatever the surface
    does; the nearest sample is half a step away in either angle.
    """
    return float(np.linalg.norm(tank.upper - tank.lower)) * math.sqrt(0.5) * _STEP


def _followed_down(
    opening: Opening, start: Attitudes, points: Array, margin: Array
) -> tuple[Array, Array]:
    """Descend from each start by eight neighbours, the step shrinking to 1e-8 rad."""
    sign = -1.0 if opening.dry else 1.0
    place, margin = start.place.copy(), margin.copy()
    step = np.full(len(points), _STEP)
    ways = np.array([(i, j) for i in (-1, 0, 1) for j in (-1, 0, 1) if i or j], float)
    while len(rows := np.flatnonzero(step > 1e-8)):
        tried = place[rows, None] + step[rows, None, None] * ways
        tried = np.clip(tried, start.low[rows, None], start.high[rows, None])
        chart, shift = (np.repeat(part[rows], 8, axis=0) for part in (start.chart, start.shift))
        up = ups(chart, *tried.reshape(-1, 2).T, shift)
        each = np.repeat(points[rows], 8, axis=0)
        found = (sign * (reaches(opening, up) - (each * up).sum(axis=1))).reshape(-1, 8)
        best = found.argmin(axis=1)
        better = found[np.arange(len(rows)), best] < margin[rows]
        won = rows[better]
        place[won] = tried[better, best[better]]
        margin[won] = found[better, best[better]]
        step[rows[~better]] *= 0.3
    return margin, ups(start.chart, *place.T, start.shift)


def kept(opening: Opening, points: Array, up: Array, hair: float) -> NDArray[np.bool_]:
    """Whether each point (P, 3) keeps the rule at its attitude (P, 3), by the plain kernel.

    A wet port keeps it where the liquid reaches its upper edge: the volume below that edge plus
    cover is at most the fill. hair : of the tank's volume, for rounding.
    """
    mesh = opening.tank
    along = (points * up).sum(axis=1)
    if opening.dry:
        edge = along + support_low(opening.discs, up) - opening.cover
    else:
        edge = along + support_high(opening.discs, up) + opening.cover
    below = np.empty(len(points))
    for part in np.array_split(
        np.arange(len(points)), 1 + len(points) * len(mesh.faces) // 400_000
    ):
        below[part] = volumes_plain(mesh.vertices, mesh.faces, up[part], edge[part])[0]
    if opening.dry:
        return np.asarray(below >= opening.volume - hair * mesh.capacity)
    return np.asarray(below <= opening.volume + hair * mesh.capacity)


class ZoneAttack(NamedTuple):
    """What an attack on one zone found; ``wrong_inside`` and ``wrong_outside`` must be 0."""

    inside: int
    wrong_inside: int
    least_inside: float
    outside: int
    wrong_outside: int
    greatest_outside: float


def attack_zone(case: ZoneCase, shrink: float, count: int, rng: np.random.Generator) -> ZoneAttack:
    """Judge ``count`` random points of the zone, and as many of the tank outside it by its gap.

    Half of each are drawn near the zone's faces, where mistakes would be.
    """
    opening, need = case.opening, case.need
    spaces = zone_half_spaces(opening, need, shrink)
    if spaces is None:
        raise ValueError("the zone is empty")
    normals = spaces.normals[6:] / np.linalg.norm(spaces.normals[6:], axis=1, keepdims=True)
    offsets = spaces.offsets[6:] / np.linalg.norm(spaces.normals[6:], axis=1)

    def out(points: Array) -> Array:
        return np.asarray((points @ normals.T - offsets).max(axis=1))

    def drawn(low: float, high: float) -> Array:
        return points_in(case.tank, count // 2, rng, lambda p: (out(p) > low) & (out(p) <= high))

    inside = np.vstack([drawn(-np.inf, 0.0), drawn(-10.0 * shrink, 0.0)])
    outside = np.vstack([drawn(spaces.gap, np.inf), drawn(spaces.gap, 10.0 * shrink)])
    margin_in, up_in = worst_attitudes(opening, need, inside, reach_of_samples(case.tank))
    margin_out, up_out = worst_attitudes(opening, need, outside, np.inf)
    return ZoneAttack(
        len(inside),
        int((~kept(opening, inside, up_in, 1e-12)).sum()),
        float(margin_in.min()),
        len(outside),
        int(kept(opening, outside, up_out, -1e-12).sum()),
        float(margin_out.max()),
    )


class BestAttack(NamedTuple):
    """Margins [m] of the best place and of the best of many random points; ``wrong`` must be 0."""

    margin: float
    bound: float
    rival: float
    wrong: int


def attack_best(
    case: ZoneCase, count: int, rng: np.random.Generator, tolerance: float = 1e-4
) -> BestAttack:
    """Compare the best place with ``count`` random points of the tank.

    A random point whose least sampled margin is below the best place's has lost; the others are
    followed down. The best place has the margin that it is bounded to have.
    """
    opening, need, tank = case.opening, case.need, case.tank
    best = best_place(opening, need, tank.vertices[tank.faces], tolerance)[0]
    own = float(worst_attitudes(opening, need, best.place[None], np.inf)[0][0])
    rivals = points_in(tank, count, rng)
    margin = worst_attitudes(opening, need, rivals, 0.0)[0]
    left = rivals[margin >= best.margin]
    if len(left):
        margin[margin >= best.margin] = worst_attitudes(opening, need, left, np.inf)[0]
    wrong = int((margin > best.margin).sum()) + int(own < best.margin - 1e-9)
    return BestAttack(own, best.margin, float(margin.max()), wrong)
