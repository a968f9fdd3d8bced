"""The map of margins: axes in words and both scales, readable, faithful to the grid."""

from dataclasses import replace
from itertools import product

import numpy as np
import pytest
from envelopes import SHAPES, by_side, made_envelope
from matplotlib.contour import ContourSet
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.geometry.parts import box
from tanksolve.kernel.attitude.direction import up_from_inclinometer
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.map_parts import HAND_OVER
from tanksolve.present.pitch_roll_map import map_figure
from tanksolve.questions.envelope.map import margin_map
from tanksolve.state.conditions import Conditions

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
    lines = [line for line in figure.axes[0].lines if line.get_linewidth() == 2.0]
    points = np.vstack([line.get_xydata() for line in lines])
    assert np.abs(points[:, 1]).max() < 3.0, "within a grid step or so"
    assert np.ptp(points[:, 0]) > 50.0


@pytest.fixture(scope="module")
def in_the_middle():
    """Pickup and breather in the middle of a box: the breather sets the margin in the far corners."""
    ports = [
        pickup("suction", (0.2, 0.125, 0.04), bore=0.025),
        breather("breather", (0.2, 0.125, 0.3), bore=0.012),
    ]
    conditions = Conditions.of(box(0.4, 0.25, 0.3), ports, 0.018)
    shown = replace(made_envelope(lambda k: None), make_map=lambda: margin_map(conditions, 60.0))
    return conditions, map_figure(shown)


def margins_at(conditions, roll, pitch):
    up = up_from_inclinometer(np.radians(pitch), np.radians(roll))
    return 1000.0 * conditions.margins(up[None])[0]  # mm, a column for each port


def test_a_name_stands_in_the_part_of_its_own_port(in_the_middle):
    conditions, figure = in_the_middle
    axes = figure.axes[0]
    renderer = figure.canvas.get_renderer()
    names = {t.get_text(): t for t in axes.texts}
    box_ = names["suction"].get_window_extent(renderer)
    corners = np.array([(x, y) for x in box_.intervalx for y in box_.intervaly])
    suction, air = margins_at(conditions, *axes.transData.inverted().transform(corners).T).T
    assert (suction < air).all()
    # the breather's part is too narrow for its name: that stands outside, its line ends inside
    x, y = names["breather"].get_position()
    assert abs(x) + abs(y) > 90.0
    tips = [line.get_xydata()[0] for line in axes.lines if line.get_marker() == "o"]
    assert len(tips) == 1
    ((suction, air),) = margins_at(conditions, *tips[0][:, None])
    assert air < suction


def test_ports_hand_over_where_their_margins_are_equal(in_the_middle):
    conditions, figure = in_the_middle
    lines = [line for line in figure.axes[0].lines if line.get_linewidth() == 2.0]
    assert next(line.get_label() for line in lines) == HAND_OVER
    at = np.vstack([line.get_xydata() for line in lines])
    at = at[np.abs(at).sum(axis=1) <= 88.0]
    assert {(x > 0, y > 0) for x, y in at} == set(product((False, True), repeat=2))
    suction, air = margins_at(conditions, *at.T).T
    np.testing.assert_allclose(suction, air, atol=1.5)  # mm, from a grid every 2 degrees


def test_washes_change_at_the_lines_that_have_a_value_and_the_key_tells_them(in_the_middle):
    _, figure = in_the_middle
    axes = figure.axes[0]
    sets = [c for c in axes.collections if isinstance(c, ContourSet)]
    (washes,) = [c for c in sets if c.filled and min(c.levels) == 0.0]
    (lines,) = [c for c in sets if not c.filled and min(c.levels) > 0.0]
    assert list(lines.levels) == [20.0, 40.0, 60.0]
    assert list(washes.levels) == [0.0, *lines.levels, 80.0]
    assert washes.get_facecolor()[0][:3].max() < 0.97, "held ground is never white"
    ticks = [t.get_text() for t in figure.axes[1].get_xticklabels()]
    assert ticks == ["0", "20", "40", "60", "80"]
    words = all_words(figure)
    for key in ("held: margin [mm]", HAND_OVER, "no such attitude", "−: short by so much"):
        assert key in words


def test_of_three_ports_each_hand_over_is_drawn_once():
    third = made_envelope(lambda k: 30.0, lambda k: "abc"[int(k // 120.0)])
    angle = np.radians([60.0, 180.0, 300.0])
    roll, pitch = np.meshgrid(third.map.roll_deg, third.map.pitch_deg)
    by = np.stack([np.cos(k) * pitch + np.sin(k) * roll for k in angle])
    lead = np.stack([row - np.delete(by, k, axis=0).max(axis=0) for k, row in enumerate(by)])
    grid = replace(third.map, lead_m=lead, port_index=by.argmax(axis=0))
    axes = map_figure(replace(third, make_map=lambda: grid)).axes[0]
    lines = [line for line in axes.lines if line.get_linewidth() == 2.0]
    length = sum(np.hypot(*np.diff(line.get_xydata(), axis=0).T).sum() for line in lines)
    edge = axes.get_xlim()[1]
    assert length == pytest.approx(edge * (1.0 + 2.0 / np.sin(np.radians(60.0))), rel=0.03)


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
