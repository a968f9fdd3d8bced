"""The picture of a zone gives the sizes that the answer gives, measured from the walls, to one scale."""

import functools
import math

import numpy as np
import pytest

from tanksolve.geometry.parts import box
from tanksolve.model.ports import pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.scale_views import views_to_scale
from tanksolve.present.zone_view import zone_figure
from tanksolve.questions.place.drop_tube import TubeLimits
from tanksolve.questions.place.place import place
from tests.pictures import across_rules, all_words, off_the_sheet, overlapping

TANK = box(0.9, 0.3, 0.3)
PORT = pickup("suction", (0, 0, 0), bore=0.038, facing="down", cover=0.02)
NEED = Requirement.every_heading(math.radians(18))


def test_dimensions_are_those_of_the_answer():
    result = place(TANK, PORT, 0.042, NEED, within=((0.1, 0.0, 0.0), (0.35, 0.3, 0.3)))
    figure = zone_figure(TANK, result)
    words = all_words(figure).split("\n")
    x, y, z = (round(1000 * c, 1) for c in result.recommended_point_m)
    assert f"{x:.1f} mm from the rear wall" in words
    assert f"{y:.1f} mm from\nthe right wall" in all_words(figure)
    assert f"{z:.1f} mm above\nthe floor" in all_words(figure)
    low, high = result.zone_from_m[0], result.zone_to_m[2]
    assert f"{math.ceil(10000 * low - 1e-3) / 10:.1f} mm" in words
    assert f"{math.floor(10000 * high + 1e-3) / 10:.1f} mm" in words
    for word in ("floor", "roof", "rear wall", "right wall", "left wall", "recommended"):
        assert word in words
    assert "roll-over" in all_words(figure)
    assert "(nose" in all_words(figure) or "side down" in all_words(figure)


def test_ends_of_the_zone_never_round_outwards():
    result = place(TANK, PORT, 0.042, NEED, within=((0.10012, 0.0, 0.0), (0.34998, 0.3, 0.3)))
    words = all_words(zone_figure(TANK, result)).split("\n")
    low, high = (1000 * end[0] for end in (result.zone_from_m, result.zone_to_m))
    assert round(low, 1) < low or round(high, 1) > high  # nearest tenth would be outside
    assert f"{math.ceil(10 * low) / 10:.1f} mm" in words
    assert f"{math.floor(10 * high) / 10:.1f} mm" in words


@functools.cache
def placed(size):
    tank = box(*size)
    tube = TubeLimits("rear", height=0.8 * size[2], run=size[0], drop=size[2])
    return tank, place(tank, PORT, 0.6 * size[0] * size[1] * size[2], NEED, tube=tube)


@pytest.mark.parametrize("size", [(0.9, 0.3, 0.3), (6.0, 0.3, 0.3), (0.1, 0.1, 0.1), (0.3, 2, 1)])
def test_zone_is_drawn_where_it_is_and_to_scale(size):
    tank, result = placed(size)
    figure = zone_figure(tank, result)
    views = views_to_scale(tank, 11.0, 2.25, 7.6)
    reaches = [patch.get_path().get_extents() for patch in figure.axes[0].patches]
    corners = np.array([result.zone_from_m, result.zone_to_m])
    for view in views:
        assert view.scale == views.plan.scale
        axes = list(view.axes)
        low, high = view.corner + view.scale * corners[:, axes]  # the box begins at nought
        assert any(np.allclose([[r.x0, r.y0], [r.x1, r.y1]], [low, high]) for r in reaches)
        assert np.allclose(view.size, view.scale * np.array(size)[axes])


@pytest.mark.parametrize("size", [(0.9, 0.3, 0.3), (6.0, 0.3, 0.3), (0.1, 0.1, 0.1), (0.3, 2, 1)])
def test_no_word_covers_another(size):
    tank, result = placed(size)
    figure = zone_figure(tank, result)
    assert "through the rear wall, runs" in all_words(figure).replace("\n", " ")
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_a_tank_that_stands_askew_is_measured_from_its_ends():
    result = place(TANK, PORT, 0.042, NEED)
    ends = ("its rear end", "its right end", "its lowest point")
    assert "mm from its rear end" in all_words(zone_figure(TANK, result, ends=ends))


def test_no_is_written():
    result = place(TANK, PORT, 0.01, Requirement.every_heading(math.radians(30)))
    words = all_words(zone_figure(TANK, result))
    assert "No place for suction" in words
    assert "NO such place" in words
    assert "recommended" not in words
    assert "drop tube" not in words
    assert "least bad" in words
