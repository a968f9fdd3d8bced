"""The pitch-roll map with manoeuvres on it as the attitudes that the liquid feels."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tanksolve.present.pitch_roll_map import map_figure
from tanksolve.present.style import INK, MUTED, mark, place_label
from tanksolve.pump.motion import Manoeuvre
from tanksolve.questions.envelope.envelope import Envelope
from tanksolve.unit_systems import in_force

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

__all__ = ["motion_figure"]

_AROUND = ((1, 1), (1, -1), (-1, 1), (-1, -1), (1, 0), (-1, 0), (0, 1), (0, -1))
_ROOM = 2.0 * np.array([(a, b) for a in (-1, 0, 1) for b in (-1, 0, 1)])  # degrees round a mark
_TICKS_G = (0.1, 0.25, 0.5, 0.75, 1.0, 1.5)


def motion_figure(
    limits: Envelope,
    manoeuvres: Sequence[Manoeuvre],
    *,
    in_g: bool = False,
    unit: str | None = None,
) -> "Figure":
    """Draw the map with each manoeuvre as a numbered point and its name in the key.

    in_g : label the second scales in g: along each axis, the push on level ground that tilts the
        surface as far.
    """
    at = np.degrees([m.effective.inclinometer[::-1] for m in manoeuvres]).reshape(-1, 2)
    cell = ("MANOEUVRES", f"{len(manoeuvres)} shown, by number in the key")
    room = (at[:, None] + _ROOM).reshape(-1, 2)
    figure = map_figure(limits, unit=unit, clear_of=room, cell=cell)
    figure.texts[0].set_text(f"Manoeuvres on the pitch-roll map: {limits.tank}")
    axes = figure.axes[0]
    taken = list(axes.texts)
    for k, manoeuvre in enumerate(manoeuvres):
        pitch, roll = np.degrees(manoeuvre.effective.inclinometer)
        _point(axes, k, float(roll), float(pitch), in_force(manoeuvre.name), taken)
    if in_g:
        _scales_in_g(axes)
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.06), ncols=2, fontsize=8, frameon=False)
    return figure


def _point(axes: "Axes", k: int, roll: float, pitch: float, name: str, taken: "list[Text]") -> None:
    """One manoeuvre, its number clear of the ports' names; off the map it stands on the edge."""
    to_deg = float(axes.get_xlim()[1])
    scale = min(1.0, 0.97 * to_deg / max(abs(roll), abs(pitch), 1e-9))
    words = f"{k + 1}: {name}" + (" (off the map)" if scale < 1.0 else "")
    look = mark(k)
    axes.plot(
        [roll * scale], [pitch * scale], ls="", marker=look.point, ms=10, mfc=look.colour, mec=INK,
        zorder=9, label=words,
    )  # fmt: skip
    x, y, off = roll * scale, pitch * scale, 0.035 * to_deg
    places = [
        (x + far * off * a, y + far * off * b) for far in (1, 1.6, 2.4, 4, 6) for a, b in _AROUND
    ]
    number = place_label(axes, f"{k + 1}", places, taken, size=10, weight="bold")
    if number is not None and math.dist(number.get_position(), (x, y)) > 2.0 * off:
        axes.plot(*zip((x, y), number.get_position(), strict=True), color=INK, lw=0.7, zorder=8)


def _scales_in_g(axes: "Axes") -> None:
    to_deg = float(axes.get_xlim()[1])
    shown = [g for g in _TICKS_G if math.degrees(math.atan(g)) <= to_deg]
    ticks = [math.degrees(math.atan(g)) for g in shown]
    places = [*(-tick for tick in reversed(ticks)), 0.0, *ticks]
    labels = [f"{g:g} g" for g in (*reversed(shown), 0, *shown)]
    across, upright = axes.child_axes  # in the order in which the map makes its second scales
    across.set_xticks(places, labels=labels)
    upright.set_yticks(places, labels=labels)
    for scale in (across, upright):
        scale.tick_params(labelsize=7.5, colors=MUTED)
