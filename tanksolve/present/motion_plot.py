"""The pitch-roll map with manoeuvres on it as the attitudes that the liquid feels."""

import math
from collections.abc import Sequence
from typing import TYPE_CHECKING

import numpy as np

from tanksolve.present.pitch_roll_map import map_figure
from tanksolve.present.style import INK, MUTED, halo, mark
from tanksolve.pump.motion import Manoeuvre
from tanksolve.questions.envelope.envelope import Envelope

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["motion_figure"]

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
    figure = map_figure(limits, unit=unit)
    figure.texts[0].set_text(f"Manoeuvres on the pitch-roll map: {limits.tank}")
    axes = figure.axes[0]
    for k, manoeuvre in enumerate(manoeuvres):
        pitch, roll = np.degrees(manoeuvre.effective.inclinometer)
        _point(axes, k, float(roll), float(pitch), manoeuvre.name)
    if in_g:
        _scales_in_g(axes)
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.06), ncols=2, fontsize=8, frameon=False)
    return figure


def _point(axes: "Axes", k: int, roll: float, pitch: float, name: str) -> None:
    """One manoeuvre; past the edge of the map it stands on the edge, and says so."""
    to_deg = float(axes.get_xlim()[1])
    scale = min(1.0, 0.97 * to_deg / max(abs(roll), abs(pitch), 1e-9))
    words = f"{k + 1}: {name}" + (" (off the map)" if scale < 1.0 else "")
    look = mark(k)
    axes.plot(
        [roll * scale], [pitch * scale], ls="", marker=look.point, ms=10, mfc=look.colour, mec=INK,
        zorder=9, label=words,
    )  # fmt: skip
    text = axes.annotate(
        f"{k + 1}", (roll * scale, pitch * scale), (8, 6), textcoords="offset points", size=10,
        weight="bold", color=INK, zorder=10,
    )  # fmt: skip
    text.set_path_effects(halo())


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
