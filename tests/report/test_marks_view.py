"""The picture of the marks shows both levels where they are, and says what sets them."""

import math

import pytest

from tanksolve.analysis.marks import marks
from tanksolve.build.parts import box, cylinder
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.report.marks_view import marks_figure


def words_of(figure):
    return [text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text"))]


@pytest.mark.parametrize("tank", [box(0.9, 0.4, 0.4), cylinder(0.4, 0.9)], ids=["box", "cylinder"])
def test_both_levels_stand_where_they_are(tank):
    ports = [pickup("suction", (0.3, 0.2, 0.03)), breather("cap", (0.45, 0.2, 0.39))]
    result = marks(tank, ports, Requirement.every_heading(math.radians(10)))
    figure = marks_figure(tank, ports, result, unit="gal")
    heights = {line.get_ydata()[0] for line in figure.axes[0].lines if len(line.get_ydata()) == 2}
    assert {1000 * result.least_dip_m, 1000 * result.most_dip_m} <= heights
    words = " ".join(words_of(figure))
    for needed in (
        "US gal",
        "suction at 10.0° (17.6 % grade)",
        "cap at 10.0°",
        "roll-over",
        "nose",
    ):
        assert needed in words
    assert "NOT FEASIBLE" not in words


def test_no_is_written_large():
    tank = box(0.9, 0.4, 0.4)
    ports = [pickup("suction", (0.05, 0.2, 0.2)), breather("cap", (0.05, 0.2, 0.25))]
    result = marks(tank, ports, Requirement.every_heading(math.radians(20)))
    assert "NOT FEASIBLE" in " ".join(words_of(marks_figure(tank, ports, result)))
