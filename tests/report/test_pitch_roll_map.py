"""The map of margins: axes in words and both scales, readable, faithful to the grid."""

from dataclasses import replace

import numpy as np
import pytest
from envelopes import SHAPES, by_side, made_envelope
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.model.attitude import Attitude
from tanksolve.model.requirement import Requirement
from tanksolve.report.pitch_roll_map import map_figure

REQUIRED = Requirement.box(0.3, 0.2) | Requirement.single(Attitude.from_inclinometer(0.1, 0.2))


@pytest.mark.parametrize("shape", SHAPES)
def test_no_words_overlap_or_leave_the_sheet(shape):
    figure = map_figure(SHAPES[shape], required=REQUIRED, note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_both_scales_and_the_sides_in_words():
    words = all_words(map_figure(SHAPES["round"]))
    for part in ("left side down", "right side down", "nose down", "nose up", "pitch [°]", "25 %"):
        assert part in words
    assert "says nothing about roll-over" in words.replace("\n", " ")
    assert "mm" in words


def test_grade_ticks_stand_at_their_angles():
    figure = map_figure(SHAPES["without limit"])
    top = figure.axes[0].child_axes[0]
    ticks = dict(zip((t.get_text() for t in top.get_xticklabels()), top.get_xticks(), strict=True))
    assert ticks["100 %"] == pytest.approx(45.0)
    assert ticks["50 %"] == pytest.approx(26.5651, abs=1e-4)
    assert ticks["0 %"] == 0.0


def test_the_limit_is_drawn_where_the_margin_is_nought():
    figure = map_figure(SHAPES["round"])
    lines = [c for c in figure.axes[0].collections if np.allclose(c.get_linewidth(), 2.4)]
    points = np.vstack([path.vertices for line in lines for path in line.get_paths()])
    np.testing.assert_allclose(np.hypot(*points.T), 22.0, atol=0.2)


def test_each_part_names_its_port():
    figure = map_figure(made_envelope(lambda k: 30.0, by_side))
    places = {t.get_text(): t.get_position() for t in figure.axes[0].texts}
    roll, pitch = places[by_side(90.0)]
    assert roll > abs(pitch), "right side down is to the right"
    roll, pitch = places[by_side(0.0)]
    assert pitch > abs(roll), "nose up is above"


def test_ports_hand_over_where_their_parts_meet():
    """One port sets all of nose up, the other all of nose down: the line is at no pitch."""
    sides = made_envelope(lambda k: 30.0, lambda k: "tail" if k < 90.0 or k > 270.0 else "nose")
    figure = map_figure(sides)
    lines = [c for c in figure.axes[0].collections if np.allclose(c.get_linewidth(), 1.2)]
    points = np.vstack([path.vertices for line in lines for path in line.get_paths()])
    assert np.abs(points[:, 1]).max() < 3.0, "within a grid step or so"
    assert np.ptp(points[:, 0]) > 50.0


def test_where_nothing_is_held_no_limit_is_claimed():
    result = made_envelope(lambda k: 30.0, ok_at_level=False)
    lost = replace(result.map, margin_m=result.map.margin_m - 1.0)
    result = replace(result, make_map=lambda: lost)
    words = all_words(map_figure(result)).replace("\n", " ")
    assert "not held on level ground" in words
    assert "tank limit (" not in words


def test_a_box_is_outlined_at_its_readings():
    figure = map_figure(SHAPES["round"], required=Requirement.box(0.4, 0.2))
    (line,) = [each for each in figure.axes[0].lines if each.get_label() == "required"]
    roll, pitch = np.radians(line.get_data())
    assert np.maximum(np.abs(roll) / 0.2, np.abs(pitch) / 0.4) == pytest.approx(1.0)
