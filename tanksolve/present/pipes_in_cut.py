"""Balance pipes beside a cut through the tank: where they run, at their true width."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.link import Link
from tanksolve.model.tank import Tank
from tanksolve.present.style import MUTED, STEEL, place_label

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["draw_pipes"]

_END_ON = 1e-6  # m on the sheet: a pipe that runs towards the viewer has no length there


def draw_pipes(axes: "Axes", tank: Tank, turn: Array, taken: "list[Text]") -> None:
    """Outline each balance pipe, in the cut or not, and name it.

    turn : (2, 3)   rows that are right and up on the sheet, tank frame.
    """
    for link in tank.links:
        if link.kind != "balance pipe":
            continue
        outline = _outline(link, turn)
        axes.fill(*outline.T, facecolor=STEEL, alpha=0.35, lw=0.0, zorder=1.5)
        axes.plot(
            *np.vstack([outline, outline[:1]]).T,
            color=MUTED,
            lw=1.2,
            ls=(0, (5, 2)),
            zorder=3.2,
            gid="pipe",
        )
        low, high = outline.min(axis=0), outline.max(axis=0)
        x, step = float(0.5 * (low[0] + high[0])), 0.04 * float(np.ptp(axes.get_ylim()))
        places = [(x, float(high[1]) + step), (x, float(low[1]) - step)]
        place_label(axes, link.name, places, taken, size=8.0, colour=MUTED)


def _outline(link: Link, turn: Array) -> Array:
    """Once round the pipe on the sheet (M, 2) [m]: along one side of it and back along the other."""
    rows = np.array([station[0] for station in link.stations])
    middle = rows[:, :3] @ turn.T
    bore = float(np.linalg.norm(rows[:, 3:6], axis=1).max())
    way = np.gradient(middle, axis=0)
    length = np.linalg.norm(way, axis=1, keepdims=True)
    if float(length.max()) < _END_ON:
        around = np.linspace(0.0, 2.0 * np.pi, 48)
        return np.asarray(middle[0] + bore * np.column_stack([np.cos(around), np.sin(around)]))
    along = way / np.maximum(length, _END_ON)
    aside = bore * np.column_stack([-along[:, 1], along[:, 0]])
    return np.vstack([middle + aside, (middle - aside)[::-1]])
