"""The merge tree as a small diagram: where liquid gathers, over which saddles it joins, how much.

Each basin is an upright line from its lowest point, or from the saddle it was made at, to the
saddle where it joins its neighbour; heights are true. The thick part is under liquid.
"""

from typing import TYPE_CHECKING

import numpy as np

from tanksolve.errors import OutputError
from tanksolve.model.attitude import Attitude, heading_words
from tanksolve.model.tank import Tank
from tanksolve.present.style import GRID, INK, MUTED, halo, pool_look, sheet
from tanksolve.questions.level.pool_shapes import MergeRecord, merge_record
from tanksolve.questions.level.pools import PoolsAt
from tanksolve.unit_systems import current
from tanksolve.units import length_words, slope_words, volume_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure
    from matplotlib.text import Text

__all__ = ["tree_figure"]

_MOST_PITS = 12


def tree_figure(
    tank: Tank, settled: PoolsAt, *, unit: str | None = None, note: str = ""
) -> "Figure":
    """Draw the merge tree at the attitude of ``settled`` with its pools filled in.

    unit : of volumes, ``L``, ``gal`` or ``imperial_gallon``.
    note : what must be seen before the picture.

    Raises OutputError for a tank of one basin, which the side view shows better.
    """
    record = merge_record(tank, settled)
    pits = [k for k, basin in enumerate(record.basins) if not basin.made_of]
    if len(pits) == 1:
        raise OutputError(
            "this tank is one basin at this attitude: there is no tree to draw",
            where="--view tree",
            next_step="write --view side, or another --attitude",
        )
    wet = sum(_pool_over(record, k) is not None for k in pits)
    figure = sheet(
        f"Where liquid gathers: {tank.name}",
        "Upright lines: basins, from their lowest point to the saddle where two join. "
        "Thick: under liquid.",
        _cells(tank, settled, len(pits), wet, unit),
        (8.5, 6.6),
        note,
    )
    axes = figure.add_axes((0.12, 0.33, 0.83, 0.5))
    axes.set_facecolor("none")
    for side in ("top", "right", "bottom"):
        axes.spines[side].set_visible(False)
    axes.tick_params(labelsize=8, colors=MUTED)
    axes.set_xticks([])
    symbol = current().units["length"].symbol
    axes.set_ylabel(f"height above the lowest point, along up [{symbol}]", size=8.5, color=MUTED)
    place = _places(record)
    base = min(basin.from_height_m for basin in record.basins)
    for k in range(len(record.basins)):
        _basin(axes, record, settled, place, base, k, unit)
    top = _scaled(max(basin.to_height_m for basin in record.basins) - base)
    axes.set_ylim(-0.2 * top, 1.1 * top)
    axes.set_xlim(-0.7, len(pits) - 0.3)
    if len(pits) <= _MOST_PITS:
        _name_pits(axes, tank, record, pits, place, base)
    return figure


def _cells(
    tank: Tank, settled: PoolsAt, pits: int, wet: int, unit: str | None
) -> list[tuple[str, str]]:
    attitude = Attitude(settled.up)
    steep = attitude.slope > np.radians(0.05)
    side = f"\n{heading_words(attitude.heading)}" if steep else ""
    pools = len(settled.pools)
    count = f"{pits} basin{'s' * (pits > 1)}, {wet} with liquid in {pools} pool{'s' * (pools > 1)}"
    return [
        ("TANK", f"{tank.name}\nholds {volume_words(tank.capacity, unit)}"),
        ("FILL", volume_words(settled.volume_m3, unit)),
        ("SLOPE", f"{slope_words(attitude.slope)}{side}"),
        ("BASINS", count),
    ]


def _places(record: MergeRecord) -> list[float]:
    """Where each basin stands across the sheet: parts side by side, a whole in their middle."""
    place = [np.nan] * len(record.basins)
    put = 0

    def lay(k: int) -> float:
        nonlocal put
        parts = record.basins[k].made_of
        if parts:
            place[k] = 0.5 * sum(lay(part) for part in parts)
        else:
            place[k] = put
            put += 1
        return place[k]

    for k, basin in enumerate(record.basins):
        if basin.joins is None:
            lay(k)
    return place


def _scaled(metres: float) -> float:
    """A height [m] in the unit of the axis."""
    return current().units["length"].of(metres)


def _basin(
    axes: "Axes",
    record: MergeRecord,
    settled: PoolsAt,
    place: list[float],
    base: float,
    k: int,
    unit: str | None,
) -> None:
    """Draw one basin, what it holds up to its saddle, and the way to the one that it joins."""
    basin = record.basins[k]
    x, low, high = (
        place[k],
        *(_scaled(z - base) for z in (basin.from_height_m, basin.to_height_m)),
    )
    axes.plot([x, x], [low, high], color=INK, lw=1.4, zorder=3)
    for part in basin.made_of:
        axes.plot([place[part], x], [low, low], color=INK, lw=1.4, zorder=3)
        axes.plot(x, low, marker="D", ms=5, mfc="white", mec=INK, zorder=4)
    pool = _pool_over(record, k)
    if pool is not None:
        level = _scaled(settled.pools[pool].level_height_m - base)
        look = pool_look(pool)
        wet = min(level, high)
        axes.bar(
            x, wet - low, 0.22, bottom=low,
            facecolor=look.wash, edgecolor=look.ink, hatch=look.hatch, lw=0.8, zorder=2,
        )  # fmt: skip
        if low <= level <= high:
            axes.plot([x - 0.18, x + 0.18], [level, level], color=look.ink, lw=2.0, zorder=3.5)
            held = volume_words(settled.pools[pool].volume_m3, unit)
            words = f"pool {pool + 1}\n{held}"
            said = axes.annotate(
                words, (x - 0.18, level), (0, -3), textcoords="offset points", size=8
            )
            said.set(color=look.ink, ha="right", va="top", zorder=6)
            said.set_path_effects(halo())
    holds = volume_words(basin.holds_m3, unit)
    full = _scaled(max(one.to_height_m for one in record.basins) - base)
    whole = basin.joins is None
    words = f"the whole: {holds}" if whole else f"holds {holds}\nto the saddle"
    if not whole and high - low < 0.12 * full:  # too low for words beside it: they stand over it
        told: Text = axes.annotate(words, (x, high), (0, 5), textcoords="offset points", size=8)
        told.set(ha="center", va="bottom")
    else:
        told = axes.text(x + 0.21, high if whole else 0.5 * (low + high), words, size=8)
        told.set_verticalalignment("center")
    told.set(color=INK, zorder=6)
    told.set_path_effects(halo())


def _pool_over(record: MergeRecord, k: int) -> int | None:
    """The pool that the basin is part of, its own or that of a basin it has joined."""
    at: int | None = k
    while at is not None:
        if record.basins[at].pools:
            return record.basins[at].pools[0]
        at = record.basins[at].joins
    return None


def _name_pits(
    axes: "Axes", tank: Tank, record: MergeRecord, pits: list[int], place: list[float], base: float
) -> None:
    """Say under each pit where in the tank it lies."""
    for k in pits:
        basin = record.basins[k]
        x, y, z = (length_words(abs(c)) for c in tank.from_walls(basin.pit_m))
        side = "above" if tank.from_walls(basin.pit_m)[2] > -0.5e-4 else "below"
        low = _scaled(basin.from_height_m - base)
        axes.plot(place[k], low, marker="v", ms=7, mfc=INK, mec=INK, zorder=4)
        words = f"lowest point\n{x} from the rear,\n{y} from the right,\n{z} {side} the floor"
        if len(pits) > 6:
            words = f"{x},\n{y},\n{z} {side}"
        axes.annotate(
            words, (place[k] - 0.12, low), (0, -9), textcoords="offset points",
            size=7, color=MUTED, ha="left", va="top",
        )  # fmt: skip
    axes.grid(axis="y", color=GRID, lw=0.5)
    axes.set_axisbelow(True)
