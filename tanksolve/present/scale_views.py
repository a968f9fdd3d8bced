"""Floor plan, side elevation and front view of a tank to one scale, with dimension lines.

The sheet is measured in inches of paper, so that words and gaps keep their size whatever the tank's.
"""

from dataclasses import dataclass
from typing import TYPE_CHECKING, NamedTuple

import numpy as np
from numpy.typing import NDArray

from tanksolve.model.tank import Tank
from tanksolve.present.style import INK, MUTED, halo

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

Array = NDArray[np.float64]

__all__ = ["View", "Views", "dimension", "extension", "paper_axes", "views_to_scale"]

_LEFT, _RIGHT, _BESIDE = 1.85, 0.6, 1.3  # inch: left of the views, right of them, between them
_OVER, _BETWEEN = 0.7, 0.95  # inch: above the floor plan, between it and the side elevation
_FINEST = 0.03  # inch: a shorter dimension is drawn as one tick


@dataclass(frozen=True, eq=False)
class View:
    """One view on the sheet.

    Attributes
    ----------
    name : of the view. axes : tank axes that point to the right and upwards on the sheet.
    lower : lower corner of the tank in these axes [m]. corner : where that is on the sheet [inch].
    size : of the tank on the sheet [inch]. scale : inch on the sheet per metre.
    """

    name: str
    axes: tuple[int, int]
    lower: Array
    corner: Array
    size: Array
    scale: float

    def on_sheet(self, points: Array) -> Array:
        """Points (..., 3) of the tank frame, or (..., 2) in the view's axes [m], on the sheet [inch]."""
        flat = points[..., list(self.axes)] if points.shape[-1] == 3 else points
        return np.asarray(self.corner + self.scale * (flat - self.lower))

    @property
    def far(self) -> Array:
        """The upper right corner of the tank on the sheet [inch]."""
        return np.asarray(self.corner + self.size)


class Views(NamedTuple):
    """The three views of a sheet; plan and side share left and right, side and front floor and roof."""

    plan: View
    side: View
    front: View


def paper_axes(figure: "Figure") -> "Axes":
    """Axes over the whole sheet, in inches from its lower left corner."""
    width, height = figure.get_size_inches()
    axes = figure.add_axes((0.0, 0.0, 1.0, 1.0))
    axes.set_xlim(0.0, width)
    axes.set_ylim(0.0, height)
    axes.set_axis_off()
    return axes


def views_to_scale(tank: Tank, width: float, bottom: float, top: float) -> Views:
    """Lay out the three views, as large as they fit, on a sheet of ``width`` between two heights [inch]."""
    size = tank.upper - tank.lower
    length, across, height = map(float, size)
    room = width - _LEFT - _RIGHT - _BESIDE, top - bottom - _OVER - _BETWEEN
    scale = min(room[0] / (length + across), room[1] / (across + height))
    spare = room - scale * np.array([length + across, across + height])
    x, y = _LEFT + 0.5 * spare[0], bottom + 0.5 * spare[1]
    beside, above = x + scale * length + _BESIDE, y + scale * height + _BETWEEN

    def view(name: str, right: int, up: int, *corner: float) -> View:
        axes = [right, up]
        return View(
            name, (right, up), tank.lower[axes], np.array(corner), scale * size[axes], scale
        )

    return Views(
        view("floor plan", 0, 1, x, above),
        view("side elevation", 0, 2, x, y),
        view("front view", 1, 2, beside, y),
    )


def dimension(axes: "Axes", start: Array, end: Array, words: str, taken: "list[Text]") -> None:
    """A dimension line with end ticks; level ones have their words below, upright ones to the left."""
    level = abs(float(start[1] - end[1])) < 1e-9
    marker = "|" if level else "_"
    line = np.array([start, end])
    if float(np.abs(end - start).sum()) < _FINEST:
        line = line[:1]
    axes.plot(*line.T, color=INK, lw=0.9, marker=marker, ms=7, mew=0.9, zorder=5)
    middle = line.mean(axis=0) - (np.array([0.0, 0.06]) if level else np.array([0.08, 0.0]))
    text = axes.text(
        middle[0], middle[1], words, size=9.0, weight="bold", color=INK, zorder=9,
        ha="center" if level else "right", va="top" if level else "center",
    )  # fmt: skip
    text.set_path_effects(halo(3))
    taken.append(text)


def extension(axes: "Axes", start: Array, end: Array, colour: str = MUTED) -> None:
    """A thin dotted line from a thing to the dimension that tells where it is."""
    axes.plot(*np.array([start, end]).T, color=colour, lw=0.7, ls=":", zorder=4)
