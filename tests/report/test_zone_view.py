"""The picture of a zone gives the sizes that the answer gives, measured from the walls."""

import math

import numpy as np

from tanksolve.build.parts import box
from tanksolve.design.place import place
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.report.zone_view import zone_figure

TANK = box(0.9, 0.3, 0.3)
PORT = pickup("suction", (0, 0, 0), bore=0.038, facing="down", cover=0.02)


def words_of(figure):
    return [text.get_text() for text in figure.findobj(lambda a: hasattr(a, "get_text"))]


def test_dimensions_are_those_of_the_answer():
    need = Requirement.every_heading(math.radians(18))
    result = place(TANK, PORT, 0.042, need, within=((0.1, 0.0, 0.0), (0.35, 0.3, 0.3)))
    words = words_of(zone_figure(TANK, result))
    x, y, z = (1000 * c for c in result.recommended_point_m)
    for size in (x, y, z, 1000 * result.zone_from_m[0], 1000 * result.zone_to_m[2]):
        assert f"{size:.0f}" in words
    for word in ("floor", "roof", "right wall", "left wall"):
        assert word in words
    assert any("roll-over" in text for text in words)


def test_zone_is_drawn_where_it_is():
    need = Requirement.every_heading(math.radians(18))
    result = place(TANK, PORT, 0.042, need)
    figure = zone_figure(TANK, result)
    reaches = [patch.get_path().get_extents() for patch in figure.axes[0].patches]
    low, high = 1000 * np.array(result.zone_from_m), 1000 * np.array(result.zone_to_m)
    spans = [(round(e.x0, 3), round(e.x1, 3), round(e.y1 - e.y0, 3)) for e in reaches]
    assert (round(low[0], 3), round(high[0], 3), round(high[2] - low[2], 3)) in spans
    assert (round(low[0], 3), round(high[0], 3), round(high[1] - low[1], 3)) in spans


def test_no_is_written():
    result = place(TANK, PORT, 0.01, Requirement.every_heading(math.radians(30)))
    assert any("NOT FEASIBLE" in text for text in words_of(zone_figure(TANK, result)))
