"""Cells of attitudes in any of the usual pairs of angles, and the polytopes that hold them.

A chart is a way to say an attitude by two angles; a cell is a rectangle ``a0, a1, b0, b1`` [rad]
of one chart. For every cell there are at most twelve points whose convex hull holds all its up
vectors; the slack of a margin is convex, so its greatest value over the cell is at most
the greatest over these points. docs/theory/envelope.md

How far a margin known at one attitude reaches: let ``u0`` be an attitude, ``u1`` another, q a point of an
opening. With q as origin,

    {x·u1 < s}  lies inside  {x·u0 < s + max over x in the tank of (x - q)·(u0 - u1)}

so a pickup whose margin at u0 is at least that maximum is covered at u1 too, whatever the free surface
does in between (split, level faces, no area at all). For a port that must stay dry the same holds with
(u1 - u0). Over the tank the maximum is bounded by that of the enclosing box.

Two facts make the hulls:

* Let the cell lie in the cone of vectors m_j, and let c be a direction with c·m_j > 0. A unit
  vector v of the cone is a sum of the m_j / |m_j| with weights that add up to at least 1, and of
  the m_j / (c·m_j) with weights that add up to c·v <= 1. So v lies between the hull of the first
  and the hull of the second, on a ray from the origin, and the hull of both holds it.
* Over a rectangle of (u_x, u_y) the sphere is a concave graph: above the hull of its corners,
  below its tangent plane.

An arc lies in the triangle of its ends and the meeting of its end tangents. docs/theory/marks.md

Slopes and headings may be counted from an attitude other than level ground: a shift is added to the
two projected slopes, x/z and y/z. That shears up vectors, which keeps cones cones.
"""

import math
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.attitude import direction
from tanksolve.kernel.attitude.tangent import on_tangent
from tanksolve.kernel.compiled import compiled, compiled_inner
from tanksolve.kernel.threads import WORTH_SHARING, in_threads

Array = NDArray[np.float64]
Codes = NDArray[np.int8]

__all__ = [
    "INCLINOMETER",
    "PROJECTED",
    "ROTATIONS",
    "SLOPE_HEADING",
    "Cells",
    "angles",
    "centres",
    "corners",
    "half_spaces",
    "halves",
    "hull_slack",
    "hulls",
    "ups",
]

SLOPE_HEADING = 0
INCLINOMETER = 1
ROTATIONS = 2
PROJECTED = 3
_MAPS = (
    direction.up_from_slope_heading,
    direction.up_from_inclinometer,
    direction.up_from_pitch_roll,
    direction.up_from_projected,
)
_HULL_POINTS = 12
_NO_SHIFT = np.zeros((1, 2))


class Cells(NamedTuple):
    """C cells: their chart (C,) int8, and a0, a1, b0, b1 (C, 4) [rad].

    shift : (C, 2), or (1, 2) for all   what is added to the projected slopes of slope and heading
    cells; it counts for no other chart.
    """

    chart: Codes
    box: Array
    shift: Array = _NO_SHIFT

    def at(self, rows: NDArray[np.bool_] | NDArray[np.intp]) -> "Cells":
        """Take some of the cells."""
        return Cells(self.chart[rows], self.box[rows], self._shifts()[rows])

    def _shifts(self) -> Array:
        return np.broadcast_to(self.shift, (len(self.box), 2))


def ups(chart: Codes, a: Array, b: Array, shift: Array = _NO_SHIFT) -> Array:
    """Up vectors (C, 3) of angle pairs (C,), (C,) [rad], each in its own chart (C,).

    shift : (C, 2) or (1, 2), see :class:`Cells`.
    """
    out = np.empty((len(chart), 3))
    for code, to_up in enumerate(_MAPS):
        rows = chart == code
        if rows.any():
            out[rows] = to_up(a[rows], b[rows])
    if shift.any():
        moved = np.where((chart == SLOPE_HEADING)[:, None], shift, 0.0)
        out = _sheared(out, moved)
        out /= np.linalg.norm(out, axis=1, keepdims=True)
    return out


def _sheared(up: Array, shift: Array) -> Array:
    """``up`` (..., 3) with its projected slopes moved by ``shift`` (..., 2); not of unit length."""
    out = up.copy()
    out[..., :2] += shift * up[..., 2:]
    return out


def angles(chart: int, up: Array, shift: tuple[float, float] = (0.0, 0.0)) -> tuple[Array, Array]:
    """The two angles (D,), (D,) [rad] of ``up`` (D, 3) in one chart; headings from 0 to 2 pi."""
    if any(shift):
        up = _sheared(up, -np.array(shift))
    back = (
        direction.slope_heading_from_up,
        direction.inclinometer_from_up,
        direction.pitch_roll_from_up,
        direction.projected_from_up,
    )
    return back[chart](up)


def centres(cells: Cells) -> Array:
    """Up vectors (C, 3) of the middles of both angles."""
    box = cells.box
    return ups(cells.chart, box[:, :2].mean(axis=1), box[:, 2:].mean(axis=1), cells.shift)


def corners(cells: Cells) -> Array:
    """Up vectors (4 C, 3) of the corners of cells."""
    box = cells.box
    return np.vstack(
        [ups(cells.chart, box[:, i], box[:, j], cells.shift) for i in (0, 1) for j in (2, 3)]
    )


def halves(cells: Cells) -> Cells:
    """Cut each cell in two, across the angle along which it is longer on the sphere."""
    box, chart, shift = cells.box, cells.chart, cells._shifts()
    a, b = box[:, :2].mean(axis=1), box[:, 2:].mean(axis=1)

    def apart(one: tuple[Array, Array], other: tuple[Array, Array]) -> Array:
        away = ups(chart, *one, shift) - ups(chart, *other, shift)
        return np.asarray(np.linalg.norm(away, axis=1))

    long_a = apart((box[:, 1], b), (box[:, 0], b))
    long_b = apart((a, box[:, 3]), (a, box[:, 2]))
    column = np.where(long_a >= long_b, 0, 2)
    rows = np.arange(len(box))
    middle = 0.5 * (box[rows, column] + box[rows, column + 1])
    low, high = box.copy(), box.copy()
    low[rows, column + 1] = middle
    high[rows, column] = middle
    return Cells(
        np.concatenate([chart, chart]), np.concatenate([low, high]), np.concatenate([shift, shift])
    )


def hulls(cells: Cells) -> Array:
    """Points (C, 12, 3) whose convex hull holds every up vector of each cell.

    Cells must be less than 90 degrees wide, slopes from 0 to 90 degrees, and an inclinometer cell must
    have its four corners.
    """
    out = np.empty((len(cells.box), _HULL_POINTS, 3))
    middle = centres(cells)
    makers = (_slope_heading_hull, _inclinometer_hull, _rotations_hull, _projected_hull)
    for code, make in enumerate(makers):
        rows = cells.chart == code
        if rows.any():
            points = make(cells.box[rows], middle[rows], cells._shifts()[rows])
            out[rows, : points.shape[1]] = points
            out[rows, points.shape[1] :] = points[:, :1]
    return out


def _arc(a0: Array, a1: Array) -> tuple[Array, Array]:
    """Cosine and sine (C, 3) of the ends of an arc, and of the meeting of its end tangents."""
    half = 0.5 * (a1 - a0)
    angle = np.stack([a0, a0 + half, a1], axis=-1)
    stretch = np.stack([np.ones_like(half), 1.0 / np.cos(half), np.ones_like(half)], axis=-1)
    return np.cos(angle) * stretch, np.sin(angle) * stretch


def _between(generators: Array, middle: Array) -> Array:
    """Hull points (C, 2 J, 3) of the cone of ``generators`` (C, J, 3) about ``middle`` (C, 3)."""
    unit = generators / np.linalg.norm(generators, axis=-1, keepdims=True)
    return np.concatenate([unit, on_tangent(middle, generators)], axis=1)


def _slope_heading_hull(box: Array, middle: Array, shift: Array) -> Array:
    cos_k, sin_k = _arc(box[:, 2], box[:, 3])
    rings = []
    for b, which in ((box[:, :1], [0, 2]), (box[:, 1:2], [0, 1, 2])):
        c, s = cos_k[:, which], sin_k[:, which]
        up = np.broadcast_to(np.cos(b), c.shape)
        rings.append(np.stack([np.sin(b) * c, np.sin(b) * s, up], axis=-1))
    return _between(_sheared(np.concatenate(rings, axis=1), shift[:, None]), middle)


def _rotations_hull(box: Array, middle: Array, _: Array) -> Array:
    cos_r, sin_r = _arc(box[:, 2], box[:, 3])
    rings = []
    for p in (box[:, :1], box[:, 1:2]):
        x = np.broadcast_to(np.sin(p), cos_r.shape)
        rings.append(np.stack([x, np.cos(p) * sin_r, np.cos(p) * cos_r], axis=-1))
    return _between(np.concatenate(rings, axis=1), middle)


def _corners(box: Array) -> tuple[Array, Array]:
    return box[:, [0, 0, 1, 1]], box[:, [2, 3, 2, 3]]


def _inclinometer_hull(box: Array, middle: Array, _: Array) -> Array:
    low = direction.up_from_inclinometer(*_corners(box))
    high = low.copy()
    flat = np.einsum("cjk,ck->cj", low[..., :2], middle[:, :2])
    high[..., 2] = (1.0 - flat) / middle[:, 2:]
    return np.concatenate([low, high], axis=1)


def _projected_hull(box: Array, middle: Array, _: Array) -> Array:
    return _between(direction.up_from_projected(*_corners(box)), middle)


def hull_slack(
    lower: Array, upper: Array, discs: Array, up: Array, points: Array, *, dry: bool
) -> Array:
    """Margin [m] that a port needs at ``up`` to hold its rule for every up vector of the hulls.

    lower, upper : (3,) [m]   the tank's enclosing box; discs : (K, 8), see ``kernel.support``;
    up : (C, 3); points : (C, J, 3) from :func:`hulls`. Returns (C,) [m], at least 0.
    """
    middle, half = 0.5 * (lower + upper), 0.5 * (upper - lower)
    slack = np.zeros(len(up))
    sign = -1.0 if dry else 1.0
    in_threads(
        _hull_slack, len(up), middle, half, discs, up, points, sign, slack, least=4 * WORTH_SHARING
    )
    return slack


@compiled_inner
def _slack_towards(middle: Array, half: Array, discs: Array, d: Array) -> float:
    """Greatest (x - q)·d over x in the box and q in the opening."""
    size = math.sqrt(d[0] * d[0] + d[1] * d[1] + d[2] * d[2])
    box = 0.0
    for k in range(3):
        box += middle[k] * d[k] + half[k] * abs(d[k])
    port = -np.inf
    for row in discs:
        along = row[0] * d[0] + row[1] * d[1] + row[2] * d[2]
        cx = d[1] * row[5] - d[2] * row[4]
        cy = d[2] * row[3] - d[0] * row[5]
        cz = d[0] * row[4] - d[1] * row[3]
        spread = row[6] * math.sqrt(cx * cx + cy * cy + cz * cz) + row[7] * size
        port = max(port, spread - along)
    return box + port


@compiled
def _hull_slack(
    first: int,
    last: int,
    middle: Array,
    half: Array,
    discs: Array,
    up: Array,
    points: Array,
    sign: float,
    slack: Array,
) -> None:
    for c in range(first, last):
        d = np.empty(3)
        worst = 0.0
        for j in range(points.shape[1]):
            for k in range(3):
                d[k] = sign * (up[c, k] - points[c, j, k])
            worst = max(worst, _slack_towards(middle, half, discs, d))
        slack[c] = worst


def half_spaces(
    lower: Array, upper: Array, discs: Array, cover: float, up: Array, points: Array, height: Array,
    *, dry: bool,
) -> tuple[Array, Array]:  # fmt: skip
    """Half-spaces ``normal · p <= offset`` of port positions that hold the rule all over a hull.

    The slack that a port at p needs is linear in p for each hull point q, with d = u - q:

        u·p + support + cover + max over the box of x·d + max over the opening of -(p + o)·d <= h

    which is ``q·p <= h - support - cover - ...``. Dry ports mirrored.

    discs : (K, 8)   the opening with its centre at the origin; cover : liquid over a wet port,
    clearance under a dry one [m]; up : (C, 3); points : (C, J, 3); height : (C,) [m] of the level.
    Returns normals (C, J, 3), offsets (C, J) [m]. With ``points = up[:, None]`` they are those of
    the sampled attitudes alone.
    """
    sign = -1.0 if dry else 1.0
    middle, half = 0.5 * (lower + upper), 0.5 * (upper - lower)
    d = sign * (up[:, None] - points)
    box = d @ middle + np.abs(d) @ half
    own = _own_support(discs, sign * up)
    need = _own_support(discs, -d)
    offset = sign * height[:, None] - own[:, None] - cover - box - need
    return sign * points, offset


def _own_support(discs: Array, direction_: Array) -> Array:
    """Greatest q·d over the opening for each direction (..., 3), not necessarily of unit length."""
    best = np.full(direction_.shape[:-1], -math.inf)
    size = np.linalg.norm(direction_, axis=-1)
    for row in discs:
        spread = np.linalg.norm(np.cross(direction_, row[3:6]), axis=-1) * row[6] + row[7] * size
        best = np.maximum(best, direction_ @ row[:3] + spread)
    return best
