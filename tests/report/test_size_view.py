"""The picture of smallest sizes: each outline is named with its size."""

import math

from pictures import across_rules, all_words, off_the_sheet, overlapping

from tanksolve.build.parts import box
from tanksolve.design.size import Smallest
from tanksolve.model.requirement import Requirement
from tanksolve.report.size_view import size_figure

NEED = Requirement.every_heading(math.radians(10))


def test_each_outline_is_named_with_its_size_and_no_word_covers_another():
    sizes = [
        Smallest(name, now, factor * now, factor, factor * now, 0.0, "m", 9, meets_now=True)
        for name, now, factor in (("width", 0.3, 1.1), ("height", 0.3, 0.8), ("scale", 0.9, 1.05))
    ]
    figure = size_figure(box(0.9, 0.3, 0.3), sizes, NEED)
    keys = {text.get_text() for text in figure.axes[0].get_legend().get_texts()}
    assert keys == {
        "width 330.0 mm, now 300.0 mm",
        "height 240.0 mm, now 300.0 mm",
        "scaled: length 945.0 mm, now 900.0 mm",
    }
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []
    assert "roll-over" in all_words(figure)  # not broken at its hyphen
