"""Limits with tolerances: for each side the nominal and the adverse limit, and each share between."""

import math
from typing import TYPE_CHECKING

from tanksolve.present.style import INK, MUTED, PAPER, halo, mark, sheet
from tanksolve.questions.tolerance.tolerance import SHARES, Toleranced, ToleranceTable
from tanksolve.units import floor_to

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["tolerance_figure"]

_SIZE = (10.0, 6.6)
_GRADES = (5, 10, 15, 20, 30, 40, 50, 75, 100, 150)  # percent, on the second scale
_ROOM = 1.3  # of the steepest figure, for the words beside it


def tolerance_figure(
    result: ToleranceTable, *, unit: str | None = None, note: str = ""
) -> "Figure":
    """Draw a row for each side: shares stacked from the nominal limit down to the adverse one.

    unit : of volumes. note : what must be seen before the picture.
    """
    cells = [
        ("TANK", result.tank),
        ("OFF BY, EITHER WAY", "\n".join(result.tolerances.words(unit)) or "nothing"),
        (
            "BARS",
            "what each tolerance takes by itself, by derivative; where they do not end at the "
            "adverse limit it is not linear there",
        ),
    ]
    figure = sheet(
        f"Tank limits with tolerances: {result.tank}",
        "Nominal, and solved again with everything off the bad way at once. Solved between samples.",
        cells,
        _SIZE,
        note,
    )
    axes = figure.add_axes((0.17, 0.335, 0.79, 0.46))
    steepest = max(limit.nominal_deg or limit.adverse_deg or 0.0 for limit in result.limits)
    to_deg = _ROOM * max(steepest, 1.0)
    _scales(axes, [limit.side for limit in result.limits], to_deg)
    names = [name for name in SHARES if _taken(result, name)]
    for row, limit in enumerate(result.limits):
        _row(axes, row, limit, names, result.searched_to_deg)
    _key(axes, names)
    return figure


def _taken(result: ToleranceTable, name: str) -> bool:
    return any(name in limit.shares_deg for limit in result.limits)


def _scales(axes: "Axes", sides: list[str], to_deg: float) -> None:
    """Degrees below, grade percent above, a side a row with the first at the top."""
    axes.set_xlim(0.0, to_deg)
    axes.set_ylim(len(sides) - 0.4, -0.6)
    axes.set_yticks(range(len(sides)), labels=sides)
    axes.set_xlabel("slope: degrees here, grade percent above", color=INK, size=10)
    axes.tick_params(labelsize=9.5, colors=INK)
    axes.tick_params(axis="y", length=0)
    shown = [grade for grade in _GRADES if math.degrees(math.atan(grade / 100)) <= to_deg]
    top = axes.secondary_xaxis("top")
    ticks = [math.degrees(math.atan(grade / 100)) for grade in shown]
    top.set_ticks(ticks, labels=[f"{grade} %" for grade in shown])
    top.tick_params(labelsize=8, colors=MUTED)
    axes.grid(axis="x", color=MUTED, lw=0.4, alpha=0.5)
    axes.set_axisbelow(True)
    for edge in axes.spines.values():
        edge.set_color(INK)


def _row(axes: "Axes", row: int, limit: Toleranced, names: list[str], searched: float) -> None:
    if limit.nominal_deg is None:
        words = f"  nothing gives out up to {_slope(searched)}"
        if limit.adverse_deg is not None:
            words = (
                f"  nominal: nothing up to {_slope(searched)}; adverse {_slope(limit.adverse_deg)}"
            )
        label = axes.text(0.0, row, words, size=9, color=INK, va="center", zorder=6)
        label.set_path_effects(halo())
    end = limit.nominal_deg
    for k, name in enumerate(names):
        share = limit.shares_deg.get(name)
        if end is None or share is None or share <= 0.0:
            continue
        look = mark(k)
        axes.barh(
            row, -share, left=end, height=0.5,
            facecolor=look.tint, edgecolor=look.colour, hatch=look.hatch, lw=1.0,
        )  # fmt: skip
        end -= share
    for value, width in ((limit.nominal_deg, 1.8), (limit.adverse_deg, 3.2)):
        if value is not None:
            axes.plot([value, value], [row - 0.34, row + 0.34], color=PAPER, lw=width + 2, zorder=4)
            axes.plot([value, value], [row - 0.34, row + 0.34], color=INK, lw=width, zorder=5)
    if limit.nominal_deg is None or limit.adverse_deg is None:
        return
    words = f" adverse {_slope(limit.adverse_deg)},\n nominal {_slope(limit.nominal_deg)}"
    label = axes.text(limit.nominal_deg, row, words, size=9, color=INK, va="center", zorder=6)
    label.set_path_effects(halo())


def _slope(degrees: float) -> str:
    told = floor_to(degrees, 0.1)
    return f"{told:.1f}° ({floor_to(100.0 * math.tan(math.radians(told)), 0.1):.1f} %)"


def _key(axes: "Axes", names: list[str]) -> None:
    from matplotlib.lines import Line2D
    from matplotlib.patches import Patch

    handles: list[Patch | Line2D] = [
        Patch(
            facecolor=mark(k).tint,
            edgecolor=mark(k).colour,
            hatch=mark(k).hatch,
            label=SHARES[name],
        )
        for k, name in enumerate(names)
    ]
    handles += [
        Line2D([], [], color=INK, lw=3.2, label="adverse limit"),
        Line2D([], [], color=INK, lw=1.8, label="nominal limit"),
    ]
    axes.legend(
        handles=handles, loc="upper center", bbox_to_anchor=(0.45, -0.16), ncols=len(handles),
        fontsize=8.5, frameon=False, handlelength=2.0, columnspacing=1.2,
    )  # fmt: skip
