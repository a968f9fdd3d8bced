"""Draw the frame and the signs of docs/conventions.md.

Run from anywhere: ``python docs/drawings/frame.py [FILE.svg]``; without a name it rewrites
``frame.svg`` beside this script.
"""

import math
import sys
from pathlib import Path

import matplotlib as mpl
import numpy as np
from matplotlib.axes import Axes
from matplotlib.backends.backend_svg import FigureCanvasSVG
from matplotlib.figure import Figure
from matplotlib.patches import Arc, Polygon

INK, STEEL, LIQUID = "#1b1b1b", "#d9d4c8", "#8fc1de"
FORWARD, LEFT, UP = "#b3480a", "#00694b", "#014f86"
TILT = 12.0  # degrees, in the two tilted views
WORDS = {"fontsize": 9, "color": INK}


def turned(points: list[tuple[float, float]], degrees: float) -> np.ndarray:
    """Turn points (N, 2) counter-clockwise about the origin."""
    c, s = math.cos(math.radians(degrees)), math.sin(math.radians(degrees))
    return np.asarray(points) @ np.array([[c, s], [-s, c]])


def arrow(ax: Axes, start: tuple[float, float], end: tuple[float, float], colour: str) -> None:
    """Draw an arrow from start to end."""
    style = {"arrowstyle": "-|>", "color": colour, "lw": 1.8, "shrinkA": 0, "shrinkB": 0}
    ax.annotate("", xy=end, xytext=start, arrowprops=style)


def tilted_view(ax: Axes, title: str, across: str, colour: str, signs: tuple[str, str]) -> None:
    """Draw a tank turned by TILT with level liquid, its two axes, and the angle's name."""
    box = turned([(-1.5, 0.0), (1.5, 0.0), (1.5, 1.3), (-1.5, 1.3)], TILT)
    ax.add_patch(Polygon(box, facecolor=STEEL, edgecolor=INK, lw=1.6))
    level = 0.62
    wet = turned([(-1.5, 0.0), (1.5, 0.0)], TILT).tolist()
    for x, outward in ((1.5, 1.0), (-1.5, -1.0)):
        height = (level - outward * 1.5 * math.sin(math.radians(TILT))) / math.cos(
            math.radians(TILT)
        )
        wet += turned([(x, height)], TILT).tolist()
    ax.add_patch(Polygon(wet, facecolor=LIQUID, edgecolor=INK, lw=1.0))
    for end, name, ink in (((2.5, 0.0), across, colour), ((-1.5, 2.1), "z up", UP)):
        start = turned([(-1.5, 0.0)], TILT)[0]
        tip = turned([end], TILT)[0]
        arrow(ax, tuple(start), tuple(tip), ink)
        away = turned([(0.1, 0.12) if name.startswith("z") else (0.1, -0.02)], TILT)[0]
        ax.text(*(tip + away), name, color=ink, fontsize=10, ha="left", va="center")
    corner = turned([(-1.5, 0.0)], TILT)[0]
    ax.plot([corner[0], corner[0] + 3.9], [corner[1]] * 2, color=INK, lw=1.0, ls=(0, (5, 3)))
    ax.text(corner[0] + 2.35, corner[1] - 0.22, "horizontal", ha="center", **WORDS)
    ax.add_patch(Arc(tuple(corner), 6.6, 6.6, theta1=0.0, theta2=TILT, color=INK, lw=1.4))
    ax.text(corner[0] + 3.42, corner[1] + 0.34, signs[0], ha="left", va="center", **WORDS)
    ax.text(0.55, -1.1, signs[1], ha="center", **WORDS)
    ax.set_title(title, fontsize=10.5, color=INK, fontweight="bold")
    ax.set_xlim(-2.5, 4.1)
    ax.set_ylim(-1.4, 2.6)


def plan_view(ax: Axes) -> None:
    """Draw the machine from above, nose at the top, with headings around it."""
    hull = [(-0.75, -1.2), (0.75, -1.2), (0.75, 0.7), (0.32, 1.3), (-0.32, 1.3), (-0.75, 0.7)]
    ax.add_patch(Polygon(hull, facecolor=STEEL, edgecolor=INK, lw=1.6))
    arrow(ax, (0.45, -0.9), (0.45, 0.35), FORWARD)
    arrow(ax, (0.45, -0.9), (-0.6, -0.9), LEFT)
    ax.plot([0.45], [-0.9], "o", color=INK, ms=5)
    ax.text(0.37, 0.3, "x forward", color=FORWARD, fontsize=10, ha="right", va="center")
    ax.text(-0.05, -0.72, "y left", color=LEFT, fontsize=10, ha="center")
    ax.add_patch(Arc((0, 0), 4.1, 4.1, theta1=112, theta2=160, color=INK, lw=1.2))
    tip = (2.05 * math.cos(math.radians(165)), 2.05 * math.sin(math.radians(165)))
    before = (2.05 * math.cos(math.radians(158)), 2.05 * math.sin(math.radians(158)))
    arrow(ax, before, tip, INK)
    ax.text(-1.58, 1.55, "heading", ha="right", style="italic", **WORDS)
    rim = {
        (0.0, 2.0): ("0°: nose uphill", "center", "bottom"),
        (-1.0, 0.0): ("90°: left side\nuphill", "right", "center"),
        (0.0, -1.55): ("180°: nose downhill", "center", "top"),
        (1.0, 0.0): ("270°: right side\nuphill", "left", "center"),
    }
    for (x, y), (words, ha, va) in rim.items():
        ax.text(x, y, words, ha=ha, va=va, **WORDS)
    ax.set_title("From above: heading, where uphill is", fontsize=10.5, fontweight="bold")
    ax.set_xlim(-2.9, 2.9)
    ax.set_ylim(-1.95, 2.4)


def draw(path: Path) -> None:
    """Write the three views to ``path`` (SVG)."""
    figure = Figure(figsize=(12.0, 3.6), layout="constrained")
    FigureCanvasSVG(figure)
    side, rear, plan = figure.subplots(1, 3)
    tilted_view(
        side, "From the right side: pitch", "x forward", FORWARD, ("pitch +", "nose up is positive")
    )
    tilted_view(
        rear, "From the front: roll", "y left", LEFT, ("roll +", "right side down is positive")
    )
    plan_view(plan)
    for ax in (side, rear, plan):
        ax.set_aspect("equal")
        ax.set_axis_off()
    with mpl.rc_context({"svg.hashsalt": "tanksolve"}):
        figure.savefig(path, metadata={"Date": None})


if __name__ == "__main__":
    target = sys.argv[1] if len(sys.argv) > 1 else Path(__file__).with_suffix(".svg")
    draw(Path(target))
