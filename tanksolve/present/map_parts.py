"""Which port sets the margin in each part of a map over pitch and roll: names, and the lines between."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.present.style import INK, PAPER, halo, mark, place_label
from tanksolve.questions.envelope.map import MarginMap

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

Array = NDArray[np.float64]
Bools = NDArray[np.bool_]

__all__ = ["HAND_OVER", "hand_overs", "name_parts", "without_gaps"]

HAND_OVER = "one port hands over to another"
_DOTS = (0, (1.0, 1.3))


def name_parts(axes: "Axes", grid: MarginMap, taken: "list[Text]", keep_clear: Array) -> None:
    """Name the port that sets each part, inside it, and draw where one hands over to another.

    A part too small for its name is named from outside, by a line that ends in it.

    keep_clear : points (M, 2) of lines that must not be written over, data coordinates.
    """
    lines = hand_overs(axes, grid)
    label = HAND_OVER
    for line in lines:
        axes.plot(*line.T, color=PAPER, lw=3.6, zorder=3.0)
        axes.plot(*line.T, color=INK, lw=2.0, ls=_DOTS, zorder=3.1, label=label)
        label = "_nolegend_"
    roll, pitch = np.meshgrid(grid.roll_deg, grid.pitch_deg)
    covered = np.column_stack([roll[grid.port_index < 0], pitch[grid.port_index < 0]])
    real = np.column_stack([roll[grid.port_index >= 0], pitch[grid.port_index >= 0]])
    for k, name in enumerate(grid.ports):
        mine = grid.port_index == k
        if not mine.any():
            continue
        others = np.column_stack([roll[~mine], pitch[~mine]])
        inside = np.vstack([others, *lines, keep_clear])
        places = _deepest_first(grid, mine)
        look = {"size": 10.0, "weight": "bold", "frame": mark(k).colour}
        if place_label(axes, name, places, taken, clear_of=inside, **look) is not None:  # type: ignore[arg-type]
            continue
        x, y = places[0]
        away = sorted(
            map(tuple, np.vstack([covered, real])), key=lambda p: np.hypot(p[0] - x, p[1] - y)
        )
        for clear in (np.vstack([real, keep_clear]), np.vstack([[places[0]], *lines, keep_clear])):
            told = place_label(axes, name, away, taken, clear_of=clear, **look)  # type: ignore[arg-type]
            if told is not None:
                _pointer(axes, (x, y), told)
                break


def _pointer(axes: "Axes", place: tuple[float, float], label: "Text") -> None:
    x, y = label.get_position()
    axes.plot(*place, marker="o", ms=4.5, mfc=INK, mec=PAPER, mew=0.8, zorder=8)
    line = axes.plot([place[0], x], [place[1], y], color=INK, lw=1.0, zorder=7.5)[0]
    line.set_path_effects(halo(2.4))


def hand_overs(axes: "Axes", grid: MarginMap) -> list[Array]:
    """Lines (M, 2) of roll and pitch [°] on which two ports set the margin alike, each once."""
    leads = np.stack([without_gaps(lead) for lead in np.clip(grid.lead_m, -1e3, 1e3)])
    found: list[Array] = []
    for k in range(len(leads) - 1):
        made = axes.contour(grid.roll_deg, grid.pitch_deg, leads[k], [0.0])
        made.remove()  # only its places are wanted
        for line in made.allsegs[0]:
            rivals = np.stack([_read(grid, lead, np.asarray(line)) for lead in leads])
            rivals[k] = -np.inf
            later = rivals.argmax(axis=0) > k  # what it shares with an earlier port is drawn
            found += _runs(np.asarray(line), later)
    return found


def _read(grid: MarginMap, values: Array, at: Array) -> Array:
    """Values (P, R) of the grid, linear between its places, at points (M, 2) of roll and pitch."""
    column = np.interp(at[:, 0], grid.roll_deg, np.arange(len(grid.roll_deg)))
    row = np.interp(at[:, 1], grid.pitch_deg, np.arange(len(grid.pitch_deg)))
    j = np.minimum(column.astype(int), len(grid.roll_deg) - 2)
    i = np.minimum(row.astype(int), len(grid.pitch_deg) - 2)
    u, v = column - j, row - i
    low = (1.0 - u) * values[i, j] + u * values[i, j + 1]
    high = (1.0 - u) * values[i + 1, j] + u * values[i + 1, j + 1]
    return np.asarray((1.0 - v) * low + v * high)


def _runs(line: Array, wanted: Bools) -> list[Array]:
    """The stretches of a line (M, 2) that are wanted (M,), of two points or more."""
    turns = np.flatnonzero(np.diff(wanted.astype(int))) + 1
    parts = zip(np.split(line, turns), np.split(wanted, turns), strict=True)
    return [part for part, keep in parts if len(part) > 1 and keep[0]]


def _deepest_first(grid: MarginMap, mine: Bools) -> list[tuple[float, float]]:
    """Places of a part (P, R), those furthest from its edge first, then those nearest to level."""
    rows, columns = np.nonzero(mine)
    roll, pitch = grid.roll_deg[columns], grid.pitch_deg[rows]
    order = np.lexsort((np.hypot(roll, pitch), -_depth(mine)[mine]))
    return [(float(roll[k]), float(pitch[k])) for k in order]


def _depth(inside: Bools) -> Array:
    """How many grid steps each place is from the nearest one outside, the border included."""
    padded = np.pad(inside, 1)
    depth = np.zeros(inside.shape)
    while padded.any():
        depth += padded[1:-1, 1:-1]
        core = padded[1:-1, 1:-1] & padded[:-2, 1:-1] & padded[2:, 1:-1] & padded[1:-1, :-2]
        padded = np.pad(core & padded[1:-1, 2:], 1)
    return depth


def without_gaps(values: Array) -> Array:
    """Run values (P, R) on under the covered corners, from the two places further in.

    Half as steep as between those two: they flatten towards the edge of what is possible.
    """
    filled = values.copy()
    middle_row, middle_column = (0.5 * (size - 1) for size in filled.shape)
    gaps = np.argwhere(np.isnan(filled))
    offset = gaps - (middle_row, middle_column)
    for (i, j), (up, right) in sorted(
        zip(gaps.tolist(), offset.tolist(), strict=True),
        key=lambda gap: abs(gap[1][0]) + abs(gap[1][1]),
    ):
        di, dj = int(np.sign(up)), int(np.sign(right))
        filled[i, j] = 1.5 * filled[i - di, j - dj] - 0.5 * filled[i - 2 * di, j - 2 * dj]
    return filled
