"""The sizes solved for, each drawn over the tank as it is."""

from collections.abc import Sequence
from typing import TYPE_CHECKING, Any

from tanksolve.bound_words import safe_length_words
from tanksolve.design.size import DIMENSIONS, Smallest
from tanksolve.model.requirement import Requirement
from tanksolve.model.tank import Tank
from tanksolve.report.style import INK, MUTED, mark, sheet
from tanksolve.units import length_words

if TYPE_CHECKING:
    from matplotlib.axes import Axes
    from matplotlib.figure import Figure

__all__ = ["size_figure"]


def size_figure(tank: Tank, sizes: Sequence[Smallest], requirement: Requirement) -> "Figure":
    """Draw a side elevation, a floor plan and the enclosing box of each smallest tank in them."""
    cells = [
        ("REQUIREMENT", "\n".join(requirement.words)),
        (
            "SMALLEST, PROVED",
            "\n".join(_words(one) for one in sizes),
        ),
    ]
    figure = sheet(
        f"Smallest sizes: {tank.name}",
        "Enclosing boxes: solid as it is, dashed the smallest in one dimension, the others kept.",
        cells,
        (11.0, 7.5),
    )
    axes = figure.add_axes((0.04, 0.22, 0.92, 0.64))
    axes.set_aspect("equal")
    axes.set_axis_off()
    length, width, height = (1000.0 * float(s) for s in tank.upper - tank.lower)
    most = max([1.0, *(one.factor or 1.0 for one in sizes)])
    apart = 0.2 * most * (height + width)
    for across, shift, size, title in (
        (2, 0.0, height, "side elevation"),
        (1, most * height + apart, width, "floor plan"),
    ):
        _box(axes, (length, size), shift, color=INK, lw=2.2)
        axes.text(0.0, shift - 0.02 * length, title, va="top", size=9, color=MUTED)
        for k, one in enumerate(sizes):
            axis = DIMENSIONS[one.dimension]
            factor = one.factor
            if factor is None or (len(axis) == 1 and axis[0] not in (0, across)):
                continue
            drawn = tuple(
                s * (factor if a in axis else 1.0) for s, a in ((length, 0), (size, across))
            )
            look = mark(k)
            label = _words(one) if across == 2 or one.dimension == "width" else "_nolegend_"
            _box(axes, drawn, shift, color=look.colour, lw=1.8, ls=look.line, label=label)
    axes.set_xlim(-0.05 * length, 1.05 * most * length)
    axes.set_ylim(-0.16 * length, most * (height + width) + apart + 0.05 * length)
    if axes.get_legend_handles_labels()[0]:
        axes.legend(
            loc="lower left", bbox_to_anchor=(0.0, 0.0), ncols=2, frameon=False, fontsize=9,
            handlelength=4,
        )  # fmt: skip
    return figure


def _box(axes: "Axes", size: tuple[float, ...], shift: float, **style: Any) -> None:
    x, y = size
    axes.plot([0, x, x, 0, 0], [shift, shift, shift + y, shift + y, shift], **style)


def _words(one: Smallest) -> str:
    if one.held_m is None:
        return f"{one.dimension}: none found"
    name = "scaled: length" if one.dimension == "scale" else one.dimension
    return f"{name} {safe_length_words(one.held_m, up=True)}, now {length_words(one.now_m)}"
