"""What the tests of pictures look at: words, where they stand, and what they cover."""

from itertools import combinations

from matplotlib.axis import Axis
from matplotlib.figure import Figure
from matplotlib.lines import Line2D
from matplotlib.patches import Rectangle
from matplotlib.text import Text

NOTE = "edge of drawing air, no cover (pickup suction, second: give a bore or a cover)"


def texts(figure: Figure) -> list[Text]:
    """All words that are drawn, tick labels and keys included."""
    figure.draw_without_rendering()
    hidden = {id(label) for axis in figure.findobj(Axis) for label in _unused_labels(axis)}
    return [
        t
        for t in figure.findobj(Text)
        if t.get_visible() and t.get_text().strip() and id(t) not in hidden
    ]


def _unused_labels(axis: Axis) -> list[Text]:
    """Labels of ticks outside the view: they exist and are not drawn."""
    low, high = sorted(axis.get_view_interval())
    slack = 1e-9 * (high - low)
    ticks = [t for t in axis.get_major_ticks() if not low - slack <= t.get_loc() <= high + slack]
    return [label for tick in ticks for label in (tick.label1, tick.label2)]


def all_words(figure: Figure) -> str:
    return "\n".join(t.get_text() for t in texts(figure))


def overlapping(figure: Figure, *, shrink: float = 1.0) -> list[tuple[str, str]]:
    """Pairs of words that cover each other by more than ``shrink`` pixels; tilted ones left out."""
    renderer = figure.canvas.get_renderer()
    upright = [t for t in texts(figure) if t.get_rotation() % 90.0 == 0.0]
    boxes = [(t.get_text(), t.get_window_extent(renderer).padded(-shrink)) for t in upright]
    return [(a, b) for (a, box), (b, other) in combinations(boxes, 2) if box.overlaps(other)]


def off_the_sheet(figure: Figure) -> list[str]:
    """Words that stand partly outside the figure."""
    renderer = figure.canvas.get_renderer()
    page = figure.bbox
    outside = []
    for text in texts(figure):
        box = text.get_window_extent(renderer)
        if box.x0 < page.x0 or box.y0 < page.y0 or box.x1 > page.x1 or box.y1 > page.y1:
            outside.append(text.get_text())
    return outside


def across_rules(figure: Figure) -> list[str]:
    """Words of the title block that touch one of its lines."""
    renderer = figure.canvas.get_renderer()
    rules = [
        artist.get_window_extent(renderer)
        for artist in figure.get_children()
        if isinstance(artist, Line2D | Rectangle) and artist is not figure.patch
    ]
    crossing = []
    for text in figure.texts:
        box = text.get_window_extent(renderer)
        for rule in rules:
            beside = box.x1 < rule.x0 or box.x0 > rule.x1 or box.y1 < rule.y0 or box.y0 > rule.y1
            within = rule.width > 2.0 and rule.contains(*box.min) and rule.contains(*box.max)
            if not (beside or within):
                crossing.append(text.get_text())
    return crossing
