"""Several envelopes on one plan: pickup positions, tanks or fills side by side.

Contenders differ in colour and marker.
"""

import math
import textwrap
from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

import numpy as np

from tanksolve.present.plan_edge import limit_line
from tanksolve.present.plan_frame import PLAN_WORDS, plan_axes, plan_points, rim_of
from tanksolve.present.style import INK, PAPER, fill_words, mark, place_label, sheet, wrapped
from tanksolve.questions.compare import Comparison, Contender
from tanksolve.questions.envelope.rows import SURE
from tanksolve.units import limit_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

__all__ = ["comparison_figure"]

_SIZE = (8.5, 10.0)
_LOOKS = 7  # marks before they repeat
_TITLE, _COLUMN, _LINE = 56, 50, 98  # letters: of a title, of a key in two columns, of a key's line


def comparison_figure(
    comparison: Comparison, *, unit: str | None = None, note: str = ""
) -> "Figure":
    """Draw the limit lines of all contenders over each other, best first in the key.

    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture, such as a pickup without cover.
    """
    ranked = comparison.contenders
    results = [contender.envelope for contender in ranked]
    tanks = list(dict.fromkeys(f"{r.tank}, {volume_words(r.capacity_m3, unit)}" for r in results))
    fills = list(dict.fromkeys(fill_words(result.fill, unit) for result in results))
    best = ranked[0]
    figure = sheet(
        _title([contender.name for contender in ranked]),
        PLAN_WORDS,
        [
            ("TANK", "\n".join(tanks[:4])),
            ("FILL", "\n".join(fills[:4])),
            ("RANKED FIRST", f"{_worst_words(best)}\n{best.name}"),
            ("LINES", f"bounds, {SURE}"),
        ],
        _SIZE,
        note,
    )
    rim = rim_of(results)
    lines = np.vstack([limit_line(result) for result in results])
    names = [_key_words(contender) for contender in ranked]
    columns = 2 if max(map(len, names)) <= _COLUMN else 1
    rows = sum(w.count("\n") + 1 for w in names) if columns == 1 else len(names) / 2
    bottom = 0.165 + 0.018 * math.ceil(rows)  # room for the key
    axes, taken = plan_axes(figure, rim, (0.03, bottom, 0.94, 0.895 - bottom), lines)
    for k, contender in enumerate(ranked):
        _line(axes, k, contender)
    for k, contender in enumerate(ranked):
        _name(axes, k, contender, taken)
    _key(axes, ranked, columns)
    return figure


def _title(names: Sequence[str]) -> str:
    """As many whole names as a title holds, and how many more there are."""
    shown = list(names)
    while shown and len(", ".join(shown)) > _TITLE:
        shown.pop()
    if not shown:
        return f"Compared: {len(names)} contenders"
    more = len(names) - len(shown)
    return f"Compared: {', '.join(shown)}{f' and {more} more' if more else ''}"


def _key_words(contender: Contender) -> str:
    """Rank, name and worst heading; a long name is broken into lines of the sheet's width."""
    words = f"{contender.rank}. {contender.name}: {_worst_words(contender)}"
    lines = wrapped(words, _LINE, max_lines=2, placeholder=" …")
    if lines[-1].endswith("…"):  # the figure is what counts: it is kept and the name is cut
        room = 2 * _LINE - len(words) + len(contender.name) - 14
        name = textwrap.shorten(contender.name, room, placeholder=" …")
        words = f"{contender.rank}. {name}: {_worst_words(contender)}"
        lines = wrapped(words, _LINE)
    return "\n".join(lines)


def _worst_words(contender: Contender) -> str:
    worst = contender.envelope.worst
    if not contender.envelope.ok_at_level:
        return "not held on level ground"
    if not worst.limited:
        end = slope_words(math.radians(contender.envelope.searched_to_deg))
        return f"nothing gives out up to {end}"
    return limit_words(worst.held_to_deg)


def _line(axes: "Axes", k: int, contender: Contender) -> None:
    """The limit line, with the contender's markers along it."""
    line = limit_line(contender.envelope)
    look = mark(k)
    axes.plot(*line.T, color=PAPER, lw=4.0, zorder=5)
    axes.plot(*line.T, color=look.colour, lw=2.2, zorder=6)
    axes.plot(*line[12 * k :: max(1, len(line) // 8)].T, ls="", zorder=6.5, **_marker(k))


def _marker(k: int) -> dict[str, Any]:
    """The marker of a contender; looks repeat after seven, hollow then."""
    look = mark(k)
    face = look.colour if k < _LOOKS else PAPER
    edge = {"mec": INK, "mew": 0.6} if k < _LOOKS else {"mec": look.colour, "mew": 1.4}
    return {"marker": look.point, "ms": 6, "mfc": face, **edge}


def _key(axes: "Axes", ranked: Sequence[Contender], columns: int) -> None:
    """Every contender with its worst heading."""
    from matplotlib.lines import Line2D

    handles = [
        Line2D([], [], color=mark(k).colour, lw=2.2, label=_key_words(contender), **_marker(k))
        for k, contender in enumerate(ranked)
    ]
    axes.legend(
        handles=handles,
        loc="upper center",
        bbox_to_anchor=(0.5, 0.0),
        ncols=columns,
        fontsize=8.5,
        frameon=False,
        handlelength=4.0,
        borderaxespad=0.0,
    )


def _name(axes: "Axes", k: int, contender: Contender, taken: "list[Text]") -> None:
    """Write the name beside its own line, starting from a heading of its own."""
    limits = contender.envelope.edge.rows
    if not contender.envelope.ok_at_level:
        return
    headings = np.array([limit.heading_deg for limit in limits])
    slopes = contender.envelope.edge.held_deg
    spread = [(7 * j + len(limits) * k // 5) % len(limits) for j in range(len(limits))]
    order = sorted(spread, key=lambda j: not limits[j].limited)  # at the rim lines run together
    rim = float(axes.get_ylim()[1]) / 1.2
    places = []
    for j in order:
        for inward in (0.05, 0.08, 0.12):
            if slopes[j] > 0.15 * rim:
                x, y = plan_points(headings[j : j + 1], slopes[j : j + 1] - inward * rim)
                places.append((float(x[0]), float(y[0])))
    lines = np.vstack([line.get_xydata() for line in axes.lines if line.get_zorder() >= 6])
    words = "\n".join(wrapped(contender.name, 26, max_lines=3, placeholder=" …"))
    if place_label(axes, words, places, taken, clear_of=lines, weight="bold") is None:
        place_label(axes, f"{contender.rank}", places, taken, clear_of=lines, weight="bold")
