"""The picture of smallest sizes: a panel each, with dimensions and what sets it, to scale."""

import math

import numpy as np
import pytest
from pictures import across_rules, all_words, off_the_sheet, overlapping

from tanksolve.geometry.parts import box
from tanksolve.model.requirement import Requirement
from tanksolve.present.size_view import size_figure
from tanksolve.questions.marks.fill_limits import SetBy
from tanksolve.questions.size.size import Smallest

NEED = Requirement.every_heading(math.radians(10))


def solved(name, now, factor, **other):
    told = {
        "ends_on": "rule",
        "jump_words": "",
        "set_by": (SetBy("cap", 10.0, 180.0),),
        **other,
    }
    size = None if factor is None else factor * now
    return Smallest(
        name, now, size, factor, size, residual_m3=0.0, solves=9, meets_now=True, **told
    )


def test_each_size_has_a_panel_with_both_dimensions_and_what_sets_it():
    why = (
        "is the smallest with every port in the liquid space: below it port 'suction', which keeps its "
        "distance from the walls, would not lie in it"
    )
    sizes = [
        solved("width", 0.3, 1.1),
        solved("height", 0.3, 0.8, ends_on="port", jump_words=why),
        solved("scale", 0.9, 1.05),
        solved("length", 0.9, None, ends_on=None, set_by=()),
    ]
    figure = size_figure(box(0.9, 0.3, 0.3), sizes, NEED, wanted="20.00 L in it")
    words = all_words(figure).replace("\n", " ")
    for told in (
        "width 330.0 mm, now 300.0 mm   (floor plan)",
        "height 240.0 mm, now 300.0 mm   (side elevation)",
        "scaled: length 945.0 mm, now 900.0 mm",
        "set by cap at 10.0° (17.6 % grade), uphill at heading 180° (nose down)",
        f"ends on a jump, not on a root: it {why}",
        "length: none found",
        "met down to 2 % of it",
        "with 20.00 L in it",
        "roll-over",  # not broken at its hyphen
    ):
        assert told in words, told
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_the_smallest_is_drawn_to_the_scale_of_the_tank_as_it_is():
    figure = size_figure(box(0.9, 0.3, 0.3), [solved("height", 0.3, 0.8)], NEED)
    (filled,) = figure.axes[0].patches
    as_it_is = max(figure.axes[0].lines, key=lambda line: len(line.get_xdata()))
    (wide, high), (width, height) = (
        np.ptp(np.asarray(points), axis=0) for points in (filled.get_xy(), as_it_is.get_xydata())
    )
    assert (wide, high) == pytest.approx((width, 0.8 * height))
    assert width == pytest.approx(3.0 * height)
