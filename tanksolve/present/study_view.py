"""Trade-off plots of a study: one aim against another, what none betters drawn through."""

import math
from typing import TYPE_CHECKING

import numpy as np
from numpy.typing import NDArray

from tanksolve.present.document import Quantity
from tanksolve.present.style import GRID, INK, MUTED, STEEL, mark, sheet
from tanksolve.present.wording import quantity_words
from tanksolve.study.measures import KINDS, MEASURES
from tanksolve.study.run import Outcome
from tanksolve.study.study import Want
from tanksolve.unit_systems import current

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

Array = NDArray[np.float64]
Places = NDArray[np.intp]

__all__ = ["trade_off_figure"]

_SIZE = (9.0, 7.4)
_BETTER = {"least": "less", "most": "more"}
_DRAWN = 20_000  # points of one sort; evenly picked ones of more


def trade_off_figure(outcome: Outcome, first: int, second: int) -> "Figure":
    """One aim against another, as places in the list of what is wanted.

    Shown are all variants that have both figures: those that meet the limits, those that do not, and the
    Pareto set, which with more than two aims is no single line here.
    """
    study, found = outcome.study, outcome.found
    wants = study.wants[first], study.wants[second]
    cells = [
        ("STUDY", f"{study.name}\n{study.tank_source.name}"),
        ("VARIANTS", f"{study.count:,}, of which {found.counts['ok']:,} could be computed"),
        ("INPUTS", f"sha256 {study.identity[:16]}"),
    ]
    figure = sheet(
        f"{_title(wants[0])} against {_title(wants[1])}",
        f"of {int(found.meets.sum()):,} variants that meet all limits "
        f"{int(found.pareto.sum()):,} to choose from: no other is as good in all aims and better in one",
        cells,
        _SIZE,
        note=_note(outcome, wants),
    )
    width, height = _SIZE
    axes = figure.add_axes((0.95 / width, 2.15 / height, 1 - 1.9 / width, 1 - 4.0 / height))
    x, y = (
        _in_units(want, found.values[:, k]) for want, k in zip(wants, (first, second), strict=True)
    )
    known = ~(np.isnan(x) | np.isnan(y))
    sorts = (
        (known & ~found.meets, "x", STEEL, "breaks a limit", 14.0),
        (known & found.meets & ~found.pareto, "o", mark(1).colour, "meets all limits", 12.0),
        (known & found.pareto, "D", mark(0).colour, "none betters it", 42.0),
    )
    for chosen, shape, colour, label, size in sorts:
        k = _some(np.flatnonzero(chosen))
        if len(k):
            drawn = axes.scatter(
                x[k], y[k], s=size, c=colour, marker=shape, label=label, alpha=0.85
            )
            if shape == "D":
                drawn.set_edgecolor(INK)
    _limits(axes, wants)
    texts = [
        f"{_title(want)} [{_unit(want)}], {_BETTER[want.aim or 'least']} is better"
        for want in wants
    ]
    axes.set_xlabel(texts[0], color=INK)
    axes.set_ylabel(texts[1], color=INK)
    axes.grid(color=GRID, lw=0.6)
    axes.set_axisbelow(True)
    axes.tick_params(colors=MUTED)
    _grades(axes, wants)
    axes.legend(loc="lower center", bbox_to_anchor=(0.5, 1.12), ncols=3, frameon=False)
    return figure


def _note(outcome: Outcome, wants: tuple[Want, Want]) -> str:
    """That slopes were looked for no further, where a figure stands there."""
    if not any(MEASURES[want.measure].kind == "slope" for want in wants):
        return ""
    farthest = quantity_words(
        Quantity(math.radians(outcome.study.settings.search_to_deg), "slope", "down")
    )
    return f"slopes were looked for up to {farthest} and no further: a variant drawn there may hold more"


def _grades(axes: "Axes", wants: tuple[Want, Want]) -> None:
    """A slope in grade percent along the other side."""
    functions = (
        lambda degrees: 100.0 * np.tan(np.radians(degrees)),
        lambda grade: np.degrees(np.arctan(np.asarray(grade) / 100.0)),
    )
    for want, along in zip(wants, ("x", "y"), strict=True):
        if MEASURES[want.measure].kind == "slope":
            if along == "x":
                axes.secondary_xaxis("top", functions=functions).set_xlabel(
                    "[% grade]", color=MUTED
                )
            else:
                axes.secondary_yaxis("right", functions=functions).set_ylabel(
                    "[% grade]", color=MUTED
                )


def _some(chosen: Places) -> Places:
    if len(chosen) <= _DRAWN:
        return chosen
    return np.asarray(chosen[np.linspace(0, len(chosen) - 1, _DRAWN).astype(int)])


def _title(want: Want) -> str:
    return want.measure.replace("_", " ").capitalize()


def _unit(want: Want) -> str:
    told = KINDS[MEASURES[want.measure].kind].told
    return "°" if told == "slope" else current().units[told].symbol or "square degrees"


def _in_units(want: Want, values: Array) -> Array:
    kind = KINDS[MEASURES[want.measure].kind]
    return values if kind.told == "slope" else current().units[kind.told].of(values * kind.to_si)


def _limits(axes: "Axes", wants: tuple[Want, Want]) -> None:
    """Lines at the limits of both."""
    for want, draw in zip(wants, (axes.axvline, axes.axhline), strict=True):
        for limit in (want.at_least, want.at_most):
            if limit is not None:
                at = float(_in_units(want, np.array([limit]))[0])
                draw(at, color=INK, lw=1.1, ls=(0, (6, 3)))
