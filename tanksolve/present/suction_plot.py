"""Inlet pressure at the pump against temperature, with the limit that it must stay above."""

from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import ArrayLike, NDArray

from tanksolve.bound_words import safe_temperature_words
from tanksolve.model.suction_line import SEA_LEVEL
from tanksolve.present.style import GRID, INK, LIQUID, MUTED, mark, sheet
from tanksolve.pump.suction import Duty, InletState
from tanksolve.pump.suction_limits import SuctionAnswer, SuctionCurve
from tanksolve.unit_systems import current, told
from tanksolve.units import length_words, temperature_words, vacuum_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]

__all__ = ["suction_figure"]

_CAUTION = (
    "Steady flow in the line as described. Air dissolved in the liquid comes out above its vapour"
    " pressure: the pump maker's figure is what counts."
)


def suction_figure(answer: SuctionAnswer, curve: SuctionCurve, duty: Duty) -> "Figure":
    """Draw the curve with its limit, the stretch that fails hatched, and the steps marked."""
    worst = answer.worst
    figure = sheet(
        f"Inlet pressure at the pump: {duty.liquid.name}",
        f"{told(duty.flow, 'flow')}, surface {_level_words(duty.level_over_pump)} the pump,"
        f" {told(duty.altitude, 'distance')} above the sea. Steady flow.",
        [
            ("PASSES", "yes, over the whole range" if answer.passes else "NO"),
            ("WORST", f"{temperature_words(worst.temperature_k)}\n{_vacuum(worst)}"),
            ("BETWEEN", _between(answer)),
            ("LIMIT", f"vapour pressure, and the pump's ({answer.pump.source})"),
        ],
        (8.5, 7.2),
        caution=_CAUTION,
    )
    axes = figure.add_axes((0.1, 0.31, 0.79, 0.54))
    _curves(axes, curve)
    for step in answer.steps_k:
        celsius = current().units["temperature"].of(step)
        if axes.get_xlim()[0] < celsius < axes.get_xlim()[1]:
            axes.axvline(celsius, color=MUTED, lw=0.9, ls=(0, (2, 2)), zorder=1)
            axes.annotate(
                "flow stops being laminar",
                (celsius, 0.02),
                xycoords=("data", "axes fraction"),
                rotation=90,
                size=8,
                color=MUTED,
                ha="right",
                va="bottom",
            )
    axes.legend(loc="upper center", bbox_to_anchor=(0.5, -0.13), ncols=4, fontsize=9, frameon=False)
    return figure


def _vacuum(state: InletState) -> str:
    return vacuum_words(state.vacuum_pa) if state.carries_flow else "cannot carry this flow"


def _level_words(level: float) -> str:
    return f"{length_words(abs(level))} {'over' if level >= 0.0 else 'below'}"


def _between(answer: SuctionAnswer) -> str:
    if answer.coldest_k is None or answer.hottest_k is None:
        return "no temperature passes"
    coldest = safe_temperature_words(answer.coldest_k, up=True)
    return f"{coldest}\nto {safe_temperature_words(answer.hottest_k, up=False)}"


def _curves(axes: "Axes", curve: SuctionCurve) -> None:
    units = current().units
    celsius = units["temperature"].of(np.asarray(curve.temperature_k))
    inlet, limit, vapour = (
        units["pressure"].of(np.asarray(pressure))
        for pressure in (curve.inlet_pressure_pa, curve.limit_pa, curve.vapour_pressure_pa)
    )
    axes.set_xlim(float(celsius[0]), float(celsius[-1]))
    shown = np.nan_to_num(inlet, nan=0.0)  # NaN where the line cannot carry the flow
    axes.set_ylim(0.0, 1.08 * max(float(shown.max()), float(limit.max())))
    axes.fill_between(
        celsius, shown, limit, where=shown < limit, facecolor="none", edgecolor=mark(0).colour,
        hatch="////", lw=0.0, label="fails", zorder=2,
    )  # fmt: skip
    axes.plot(celsius, inlet, color=mark(1).colour, lw=2.4, label="inlet pressure", zorder=4)
    axes.plot(
        celsius,
        limit,
        color=mark(0).colour,
        lw=1.8,
        ls=(0, (6, 2)),
        label="least allowed",
        zorder=3,
    )
    if (
        float(vapour.max()) > 0.01 * axes.get_ylim()[1]
    ):  # else there is nothing to see that a key could name
        axes.fill_between(
            celsius, 0.0, vapour, color=LIQUID, lw=0.0, label="vapour pressure", zorder=1
        )
    axes.grid(color=GRID, lw=0.6)
    axes.set_xlabel(
        f"temperature of the liquid [{units['temperature'].symbol}]", color=INK, size=10
    )
    axes.set_ylabel(f"pressure [{units['pressure'].symbol} absolute]", color=INK, size=10)
    axes.tick_params(labelsize=9, colors=INK)
    scale = axes.secondary_yaxis(
        "right",
        functions=(_below_sea_level, _over_nothing),
    )
    if units["vacuum"].symbol == "inHg":
        scale.set_ticks(range(0, 30, 5))
    scale.set_ylabel(f"below sea-level pressure [{units['vacuum'].symbol}]", color=MUTED, size=9)
    scale.tick_params(labelsize=8, colors=MUTED)


def _below_sea_level(pressure: ArrayLike) -> Array:
    """Vacuum in its unit, of an absolute pressure in its own."""
    units = current().units
    return (SEA_LEVEL - units["pressure"].size * np.asarray(pressure, float)) / units["vacuum"].size


def _over_nothing(vacuum: ArrayLike) -> Array:
    """The reverse of it."""
    units = current().units
    return (SEA_LEVEL - units["vacuum"].size * np.asarray(vacuum, float)) / units["pressure"].size
