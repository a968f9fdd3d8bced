"""Which space round a metal wall is inside: what a ball that is rolled along the outside cannot reach.

The width of the ball is tried from the narrowest that the grid can tell upwards. The least width at
which the space shut off has all but reached its greatest volume is taken: then every opening is
sealed that is narrower than the ball, whatever its rim looks like and however thin the plates are.
Where no ball shuts anything off (an open tray) the convex hull stands for a ball without bounds.
"""

from dataclasses import dataclass, field, replace

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.topology.free_space import in_balls, near_surface, winding_numbers

Array = NDArray[np.float64]
Ints = NDArray[np.int64]
Bools = NDArray[np.bool_]

__all__ = ["Enclosed", "Space", "find_enclosed", "sealed_within", "survey"]

_CELLS = 600_000
_PAD = 0.45  # room round the mesh, in its middle size: balls up to twice that roll there
_NARROWEST = 3.0  # cells: the least width that the grid can tell
_TOLD = 6.0  # cells, where the width is stated
_STEP = 1.2  # from one width to the next
_OPEN_SHARE = 0.12  # of the border of an enclosed space, at most, that is opening
_OPEN_TRAY = 0.45
_MOST = 0.9  # of the greatest volume shut off: less is a part of the tank
_SMALL = 0.01  # of the greatest space: less is a fitting
_OPENED = 1.5  # times what balls shut off: then the wall has an opening wider than any ball tried
_WIDER = 1.8  # than the opening: balls that touch no more than the rims of what they seal
_FILLED = 0.3  # of a space, at least, the ball that rolls in it reaches
_OTHER = 1.15  # a wider ball that shuts off so much more is another reading, and told
_PART = 0.05  # of what is chosen: a narrower ball that shuts off less shuts off a crevice
_FINE = 8 * _CELLS  # cells where mouths are too narrow, or too much alike, for the grid
_APART = 3.0  # cells by which mouths differ that the coarse grid tells: it misses less of either
_NESTED = 4  # of its six sides, at least, a space within another stands clear by
_CLEAR = 3.0  # cells, more than a bay does of the walls that it shares


@dataclass(frozen=True)
class Space:
    """The grid round a mesh, in the file's frame and unit.

    Attributes
    ----------
    low : (3,) middle of the first cell; cell : width; pad : room left round the mesh.
    distance : (nx, ny, nz) from the surface; open : free, and no metal (see ``kernel...free_space``).
    face : nearest face near the surface, -1 elsewhere; square : its nearest point lies within it.
    outside : (nx, ny, nz) beyond the convex hull.
    """

    low: Array
    cell: float
    pad: float
    distance: Array = field(repr=False)
    open: Bools = field(repr=False)
    face: Ints = field(repr=False)
    square: Bools = field(repr=False)
    beyond_hull: Bools = field(repr=False)

    def index(self, points: Array) -> Ints:
        """Cells (N, 3) int of points (N, 3), kept within the grid."""
        at = np.rint((points - self.low) / self.cell).astype(np.int64)
        return np.clip(at, 0, np.asarray(self.open.shape) - 1)

    def volume(self, cells: float) -> float:
        """Volume of so many cells."""
        return float(cells) * self.cell**3


@dataclass(frozen=True)
class Enclosed:
    """What is inside, what is outside, and what was decided.

    Attributes
    ----------
    inside, outside : balls that roll there: the cells (nx, ny, nz) where their middles may be, and
        their width; of width 0 where the cells themselves are meant.
    width : of the ball that shut off the inside; infinite for the convex hull.
    others : widths at which clearly less or more would be shut off, with the volume of it: a tank in a
        cabinet, or a bay with small openings.
    nested : places (2, 3), in a space that stands clear within and whose mouth is narrow, and in the room
        round it; None where there is none.
    """

    inside: tuple[tuple[Bools, float], ...] = field(repr=False)
    outside: tuple[tuple[Bools, float], ...] = field(repr=False)
    width: float
    others: tuple[tuple[float, float], ...] = ()
    nested: Array | None = field(default=None, repr=False)


@dataclass(frozen=True)
class _Shut:
    """What a ball of one width shuts off: where its middle may be, the spaces that count, their cells."""

    width: float
    outside: Bools
    label: Ints
    spaces: Ints
    cells: Ints

    @property
    def total(self) -> int:
        return int(self.cells.sum())


def survey(corners: Array, seal: float | None = None) -> Space:
    """Lay a grid round a closed surface (F, 3, 3) that looks out of the metal, finer where ``seal`` is stated."""
    least = 1.0 if seal is None else _TOLD * _laid(corners, _CELLS)[2] / seal
    return _grid(corners, int(min(_CELLS * max(1.0, least) ** 3, _FINE)))


def _laid(corners: Array, most: int) -> tuple[Array, float, float, Ints]:
    """Middle of the first cell (3,), room left round, width and numbers (3,) of so many cells."""
    points = corners.reshape(-1, 3)
    low, high = points.min(axis=0), points.max(axis=0)
    pad = _PAD * float(np.sort(high - low)[1])
    cell = float(np.prod(high - low + 2.0 * pad) / most) ** (1.0 / 3.0)
    shape = np.ceil((high - low + 2.0 * pad) / cell).astype(np.int64) + 1
    # off any round number, so that no cell's middle lies in a plane of the drawing
    return low - pad - cell * np.array([0.317, 0.271, 0.353]), pad, cell, shape


def _grid(corners: Array, most: int) -> Space:
    from scipy import ndimage

    start, pad, cell, shape = _laid(corners, most)
    band = 1.75 * cell
    distance, face, inner, nearest = near_surface(corners, start, cell, shape, band)
    far = ~np.isfinite(distance)
    if far.any():
        at = ndimage.distance_transform_edt(far, return_distances=False, return_indices=True)
        axes = [start[k] + cell * np.arange(shape[k]) for k in range(3)]
        for i, away in enumerate(far):  # a sheet at a time: what fits the cache is quick
            j, m = np.nonzero(away)
            foot = nearest[tuple(index[i, j, m] for index in at)]
            way = np.stack(
                [axes[0][i] - foot[:, 0], axes[1][j] - foot[:, 1], axes[2][m] - foot[:, 2]]
            )
            distance[i, j, m] = np.sqrt((way * way).sum(axis=0))
    free = distance > 0.505 * cell
    label, count = ndimage.label(free)
    cells = np.bincount(label.ravel(), minlength=count + 1)
    seen = [k for k in range(1, count + 1) if cells[k] > 1]
    boxes = ndimage.find_objects(label)
    deepest = [_deepest(distance, label, boxes[k - 1], k) for k in seen]
    places = start + cell * np.asarray(deepest, float).reshape(-1, 3)
    metal = np.abs(winding_numbers(corners, places)) > 0.5
    keep = np.zeros(count + 1, bool)
    keep[[k for k, solid in zip(seen, metal, strict=True) if not solid]] = True
    beyond = _beyond_hull(
        corners.reshape(-1, 3), [start[k] + cell * np.arange(shape[k]) for k in range(3)]
    )
    return Space(start, cell, pad, distance, keep[label], face, inner, beyond)


def _deepest(distance: Array, label: Ints, box: tuple[slice, ...], name: int) -> list[int]:
    """Cell (3,) of a component, in its box, that is farthest from the surface."""
    own = np.where(label[box] == name, distance[box], -1.0)
    at = np.unravel_index(int(own.argmax()), own.shape)
    return [part.start + int(k) for part, k in zip(box, at, strict=True)]


def _beyond_hull(points: Array, axes: list[Array]) -> Bools:
    """Cells (nx, ny, nz), their middles along three axes, outside the convex hull of points (N, 3).

    A column of cells is within from the highest plane below it to the lowest above: rounds have many planes.
    """
    from scipy.spatial import ConvexHull

    x, y = axes[0][:, None], axes[1][None, :]
    low = np.full((len(axes[0]), len(axes[1])), -np.inf)
    high = -low
    for a, b, c, d in np.unique(np.round(ConvexHull(points).equations, 9), axis=0):
        side = a * x + b * y + d
        if c > 0.0:
            np.minimum(high, -side / c, out=high)
        elif c < 0.0:
            np.maximum(low, -side / c, out=low)
        else:
            high[side > 0.0] = -np.inf
    z = axes[2][None, None, :]
    return np.asarray((z > high[..., None]) | (z < low[..., None]))


def find_enclosed(
    space: Space, seal: float | None = None, inside: Array | None = None
) -> Enclosed | None:
    """Tell inside from outside; None where nothing is shut off.

    ``seal`` the width of the ball, in the file's unit, instead of the one proposed; ``inside`` (3,) a
    point of the space that is meant.
    """
    widths, widest = [_NARROWEST * space.cell], 2.0 * (space.pad - 2.0 * space.cell)
    while _STEP * widths[-1] < widest:
        widths.append(_STEP * widths[-1])
    if seal is not None:
        widths = [seal, *(w for w in widths if w > seal)]
    tried = [s for w in widths if (s := _shut_off(space, w, inside)) is not None]
    if seal is not None and (not tried or tried[0].width > seal):
        return None
    most_open = _OPEN_SHARE if tried else _OPEN_TRAY
    tray = _count(space, np.inf, space.open & space.beyond_hull, most_open, inside)
    most = max((one.total for one in tried), default=0)
    if tray is not None and seal is None and tray.total > _OPENED * most:
        return _certain(space, tray, tray)
    if not tried:
        return None
    if seal is not None:
        most = tried[0].total
    first = next(k for k, one in enumerate(tried) if one.total >= _MOST * most)
    chosen = tried[first]
    wide = [
        one
        for one in tried[first:]
        if one.width <= _WIDER * chosen.width and 0.9 <= one.total / chosen.total <= 1.1
    ]
    others, last = [], _PART * chosen.total
    for one in tried[:first]:
        cells = _within_larger(one, chosen)
        if cells > last:
            others.append((one.width, space.volume(cells)))
            last = _OTHER * cells
    last = chosen.total
    for one in tried[first:]:
        if one.total > _OTHER * last:
            others.append((one.width, space.volume(one.total)))
            last = one.total
    found = _certain(space, chosen, wide[-1], tuple(others))
    return found if seal is not None else replace(found, nested=_nested(space, chosen))


def _nested(space: Space, chosen: _Shut) -> Array | None:
    """Places (2, 3) in the greatest space that stands clear within, behind a narrow mouth, and round it."""
    from scipy import ndimage

    room = np.isin(chosen.label, chosen.spaces)
    for width in (_NARROWEST * space.cell, chosen.width, _STEP * chosen.width):
        label, _ = ndimage.label(room & (space.distance >= 0.5 * width))
        cells = np.bincount(label.ravel())
        cells[0] = 0
        order = [int(k) for k in np.argsort(-cells) if cells[k] > _PART * cells.sum()]
        if len(order) < 2:
            continue
        whole = np.argwhere(label)
        low, high = whole.min(axis=0), whole.max(axis=0)
        for k in order:
            own = np.argwhere(label == k)
            clear = np.append(own.min(axis=0) - low, high - own.max(axis=0)) >= _CLEAR
            if clear.sum() >= _NESTED:
                both = [k, order[1] if k == order[0] else order[0]]
                at = np.asarray(ndimage.maximum_position(space.distance, label, both))
                return np.asarray(space.low + space.cell * at)
    return None


def sealed_within(corners: Array, enclosed: Enclosed, space: Space) -> tuple[float, float] | None:
    """Width of a ball that comes round the space told by ``nested`` and not into it, and that space's volume.

    ``space`` the grid that told it; a finer one is laid only where the mouths are too much alike for that.
    None where there is no such space, or such a width is among the others; a width of 0 where the mouths outwards
    are no wider than its own, as far as the finer grid can tell.
    """
    if enclosed.nested is None or any(width < enclosed.width for width, _ in enclosed.others):
        return None
    found = _parted(corners, enclosed, space, space, _APART)
    return found or _parted(corners, enclosed, space, _grid(corners, _FINE), 0.5) or (0.0, 0.0)


def _parted(
    corners: Array, enclosed: Enclosed, coarse: Space, space: Space, apart: float
) -> tuple[float, float] | None:
    """What ``sealed_within`` tells where two mouths differ by so many cells of a grid; None where they do not."""
    assert enclosed.nested is not None
    most = min(2.0 * enclosed.width, 2.0 * (space.pad - 2.0 * space.cell))
    inner, outer = (_widest(space, place, most) for place in enclosed.nested)
    if outer < inner + apart * space.cell:
        return None
    # middles of cells miss that of a mouth by half a cell; as wide as the coarse grid can tell, where
    # that comes round with some room, and shut off on the grid that is laid where this width is stated
    width = max(
        0.5 * (inner + outer + space.cell), min(outer - 0.5 * space.cell, _TOLD * coarse.cell)
    )
    stated = coarse if width >= _TOLD * coarse.cell else survey(corners, width)
    one = _shut_off(stated, width, enclosed.nested[0])
    return None if one is None else (width, stated.volume(one.total))


def _widest(space: Space, place: Array, most: float) -> float:
    """Width of the widest ball that comes from the outside to a place (3,), to a quarter of a cell."""
    from scipy import ndimage

    at = space.index(place[None])[0]
    low, high = 0.0, most
    while high - low > 0.25 * space.cell:
        width = 0.5 * (low + high)
        label, _ = ndimage.label(space.open & (space.distance >= 0.5 * width))
        low, high = (
            (width, high)
            if label[tuple(at)] and label[tuple(at)] == label[0, 0, 0]
            else (low, width)
        )
    return low


def _within_larger(narrow: _Shut, wide: _Shut) -> int:
    """Cells of the spaces of a narrow ball that are parts of clearly larger ones of a wider ball."""
    size = dict(zip(wide.spaces.tolist(), wide.cells.tolist(), strict=True))
    found = 0
    for name, cells in zip(narrow.spaces, narrow.cells.tolist(), strict=True):
        around = int(np.argmax(np.bincount(wide.label[narrow.label == name])))
        found += cells if size.get(around, 0) > _OTHER * cells else 0
    return found


def _shut_off(space: Space, width: float, inside: Array | None) -> _Shut | None:
    from scipy import ndimage

    label, _ = ndimage.label(space.open & (space.distance >= 0.5 * width))
    border = np.unique(np.concatenate([label[s].ravel() for s in _sides()]))
    centres = np.isin(label, border[border > 0])
    if not centres.any():
        return None
    found = _count(space, width, _reached(space, centres), _OPEN_SHARE, inside)
    return found and replace(found, outside=centres)


def _sides() -> list[tuple[slice | int, ...]]:
    every = slice(None)
    return [(*[every] * k, end, *[every] * (2 - k)) for k in range(3) for end in (0, -1)]


def _reached(space: Space, centres: Bools) -> Bools:
    """Cells in the free balls about the centres; a hair less, as distances are from cells' middles."""
    radius = np.where(centres, space.distance / space.cell - 0.05, 0.0)
    return np.asarray(in_balls(radius) & space.open)


def _count(
    space: Space, width: float, covered: Bools, most_open: float, inside: Array | None
) -> _Shut | None:
    """Find the spaces left by what the outside covers, and keep those that are all but closed."""
    from scipy import ndimage

    left = space.open & ~covered
    label, count = ndimage.label(left)
    if count == 0:
        return None
    ajar, border = np.zeros(count + 1), np.zeros(count + 1)
    for axis in range(3):
        here, there = [slice(None)] * 3, [slice(None)] * 3
        here[axis], there[axis] = slice(None, -1), slice(1, None)
        for p, q in ((here, there), (there, here)):
            mine = label[tuple(p)]
            edge = (mine > 0) & (label[tuple(q)] != mine)
            border += np.bincount(mine[edge], minlength=count + 1)
            ajar += np.bincount(mine[edge & covered[tuple(q)]], minlength=count + 1)
    cells = np.bincount(label.ravel(), minlength=count + 1)
    cells[0] = 0
    good = (ajar <= most_open * border) & (cells >= 27)
    if inside is not None:
        at = space.index(inside[None])[0]
        near = tuple(slice(max(0, c - 2), c + 3) for c in at)
        good &= np.isin(np.arange(count + 1), np.unique(label[near]))
    good &= cells >= _SMALL * max(1, cells[good].max(initial=0))
    spaces = np.flatnonzero(good)
    if len(spaces) == 0:
        return None
    return _Shut(width, covered, label, spaces, cells[spaces])


def _certain(
    space: Space, chosen: _Shut, wide: _Shut, others: tuple[tuple[float, float], ...] = ()
) -> Enclosed:
    """Let balls wider than the openings roll on either side: what they touch is certain."""
    inside: list[tuple[Bools, float]] = []
    start = chosen.width if np.isfinite(chosen.width) else 2.0 * float(space.distance.max())
    for name, cells in zip(wide.spaces, wide.cells, strict=True):
        room = wide.label == name
        width = _WIDER * start
        while width > space.cell:
            centres = room & (space.distance >= 0.5 * width)
            if centres.any() and (_reached(space, centres) & room).sum() >= _FILLED * cells:
                inside.append((centres, width))
                break
            width /= _STEP
    outside = wide.outside, (wide.width if np.isfinite(wide.width) else 0.0)
    return Enclosed(tuple(inside), (outside,), chosen.width, others)
