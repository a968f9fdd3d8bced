"""Pools in a cut through the tank: each to its own level, with a hatch, a colour and a name."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.capacity.section import section_loops
from tanksolve.model.tank import Tank
from tanksolve.present.style import INK, closed_path, dashed, place_label, pool_look
from tanksolve.questions.level.pool_shapes import pool_shapes
from tanksolve.questions.level.pools import PoolsAt
from tanksolve.units import volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.path import Path
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["draw_pools"]


def draw_pools(
    axes: "Axes",
    tank: Tank,
    settled: PoolsAt,
    turn: Array,
    cut: tuple[Array, float],
    taken: "list[Text]",
    unit: str | None = None,
    clear_of: Array | None = None,
) -> None:
    """Draw each pool of ``settled`` where a plane cuts it, named beside its number.

    turn : (2, 3)   rows that are right and up on the sheet, tank frame.
    cut : the plane's unit normal (3,) and its height [m].
    clear_of : points (M, 2) on the sheet that names should not stand on, such as ports.
    """
    from matplotlib.patches import PathPatch

    for k, (pool, shape) in enumerate(zip(settled.pools, pool_shapes(tank, settled), strict=True)):
        look = pool_look(k)
        for loop in shape.surface:
            dashed(axes, loop @ turn.T)
        loops = section_loops(shape.vertices, shape.faces, *cut)
        if not loops:
            continue
        path = closed_path([loop @ turn.T for loop in loops])
        axes.add_patch(
            PathPatch(
                path, facecolor=look.wash, edgecolor=look.ink, hatch=look.hatch, lw=0, zorder=2
            )
        )
        for start, end in _surface_in_cut(shape.surface, cut, turn[0]):
            axes.plot(*(np.array([start, end]) @ turn.T).T, color=INK, lw=1.4, zorder=2.5)
        words = f"pool {k + 1}: {volume_words(pool.volume_m3, unit)}"
        look_of = {"size": 8.5, "frame": look.ink, "wash": look.wash}
        places = _places_in(path, axes)
        if place_label(axes, words, places, taken, clear_of=clear_of, **look_of) is None:  # type: ignore[arg-type]
            place_label(axes, words, places, taken, **look_of)  # type: ignore[arg-type]


def _surface_in_cut(
    surface: Sequence[Array], cut: tuple[Array, float], right: Array
) -> list[tuple[Array, Array]]:
    """Straight pieces (3,), (3,) of a level surface, given by its loops, where a plane cuts it.

    right : (3,)   along which the pieces are put in order.
    """
    normal, height = cut
    points = []
    for loop in surface:
        over = loop @ normal - height
        following, next_over = np.roll(loop, -1, axis=0), np.roll(over, -1)
        for at in np.flatnonzero((over > 0.0) != (next_over > 0.0)):
            share = over[at] / (over[at] - next_over[at])
            points.append(loop[at] + share * (following[at] - loop[at]))
    if not points:
        return []
    row = np.array(points)
    along = row[np.argsort(row @ right)]  # outlines are crossed in and out in turn
    return list(zip(along[::2], along[1::2], strict=False))


def _places_in(path: "Path", axes: "Axes") -> list[tuple[float, float]]:
    """Where a pool's name may stand: inside it, the middle first; beside it where it is shallow."""
    low, high = path.get_extents().get_points()
    middle = 0.5 * (low + high)
    x, y = np.meshgrid(np.linspace(low[0], high[0], 15), np.linspace(low[1], high[1], 9))
    spots = np.column_stack([x.ravel(), y.ravel()])
    spots = spots[path.contains_points(spots)]
    spots = spots[np.argsort(np.hypot(*(spots - middle).T))]
    step = 0.04 * (axes.get_ylim()[1] - axes.get_ylim()[0])
    beside = [(middle[0], low[1] - step), (middle[0], high[1] + step)]
    first, second = (beside, spots) if high[1] - low[1] < 2.0 * step else (spots, beside)
    return [(float(a), float(b)) for a, b in (*first, *second)]
