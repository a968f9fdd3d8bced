"""The tank as it was understood from a mesh: three views of its sharp edges, openings numbered."""

from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.kernel.topology.edges import edges_of
from tanksolve.model.ports import Port
from tanksolve.model.tank import Tank
from tanksolve.present.style import INK, MUTED, halo, mark, sheet
from tanksolve.units import length_words, volume_words

if TYPE_CHECKING:
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

__all__ = ["understood_figure"]

_SHARP = np.cos(np.radians(25.0))  # edges that bend by more are drawn
# what is seen, the tank axes right and up on the sheet, and whether the first runs to the left
_VIEWS = (
    ("from the right: nose to the right", 0, 2, False),
    ("from behind: left side to the left", 1, 2, True),
    ("from above: nose to the right, left side up", 0, 1, False),
)


def understood_figure(tank: Tank, ports: Sequence[Port]) -> "Figure":
    """Draw a tank in three views with its ports numbered in their order, to be looked at and confirmed."""
    from matplotlib.collections import LineCollection

    edges = _sharp_edges(tank)
    cells = [
        ("HOLDS", volume_words(tank.capacity)),
        (
            "OPENINGS",
            "; ".join(
                f"{k} {port.kind.value}, {'across' if port.rim else 'bore'} {length_words(port.bore)}"
                for k, port in enumerate(ports, 1)
                if port.bore
            )
            or "none",
        ),
    ]
    figure = sheet(tank.name, "as it was understood: is this the tank?", cells, (11.0, 8.0))
    for n, (title, across, above, mirrored) in enumerate(_VIEWS):
        axes = figure.add_subplot(2, 2, n + 1)
        axes.set_position((0.06 + 0.48 * (n % 2), 0.56 - 0.35 * (n // 2), 0.42, 0.28))
        axes.add_collection(
            LineCollection(list(edges[:, :, [across, above]]), colors=MUTED, linewidths=0.8)
        )
        shown: dict[tuple[float, float], list[str]] = {}
        for k, port in enumerate(ports, 1):
            place = port.position[across], port.position[above]
            axes.plot(*place, marker="o", ms=15, mfc="white", mec=mark(k - 1).colour, mew=1.6)
            shown.setdefault((round(place[0], 3), round(place[1], 3)), []).append(str(k))
        for at, numbers in shown.items():
            axes.text(*at, ",".join(numbers), ha="center", va="center", size=9, color=INK)
        low, high = tank.lower, tank.upper
        span = 0.06 * float(np.max(high - low))
        ends = (low[across] - span, high[across] + span)
        axes.set_xlim(ends[::-1] if mirrored else ends)
        axes.set_ylim(low[above] - span, high[above] + span)
        axes.set_aspect("equal")
        axes.set_axis_off()
        sides = (
            length_words(float(high[across] - low[across])),
            length_words(float(high[above] - low[above])),
        )
        words = axes.set_title(
            f"{title}\n{sides[0]} across, {sides[1]} up the sheet", size=9, color=INK
        )
        words.set_path_effects(halo())
    return figure


def _sharp_edges(tank: Tank) -> Array:
    """Ends (E, 2, 3) [m] of the edges at which the surface bends."""
    corners = tank.vertices[tank.faces]
    normal = np.cross(corners[:, 1] - corners[:, 0], corners[:, 2] - corners[:, 0])
    normal /= np.maximum(np.linalg.norm(normal, axis=1), 1e-300)[:, None]
    twin = edges_of(tank.faces).twin
    half = np.flatnonzero(twin > np.arange(len(twin)))
    bent = half[np.einsum("ij,ij->i", normal[half // 3], normal[twin[half] // 3]) < _SHARP]
    start = tank.faces[bent // 3, bent % 3]
    end = tank.faces[bent // 3, (bent + 1) % 3]
    return np.stack([tank.vertices[start], tank.vertices[end]], axis=1)
