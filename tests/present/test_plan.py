"""The envelope as a plan: sides where they belong, all words readable, nothing left out."""

import math
from dataclasses import replace

import numpy as np
import pytest
from envelopes import SHAPES, by_side, made_envelope
from matplotlib.colors import to_rgba
from matplotlib.path import Path
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.model.attitude import GRAVITY, Attitude
from tanksolve.model.requirement import Requirement
from tanksolve.model.requirement_moving import moving
from tanksolve.present.pitch_roll_map import map_figure
from tanksolve.present.plan import limit_words, plan_figure
from tanksolve.present.plan_edge import limit_line
from tanksolve.present.plan_frame import machine_outline, plan_points, rim_of
from tanksolve.present.style import mark

REQUIRED = Requirement.every_heading(0.2) | Requirement.single(Attitude.from_slope(0.3, 0.8))


@pytest.mark.parametrize(
    ("heading", "right", "ahead"),
    [(0.0, 0.0, -10.0), (90.0, 10.0, 0.0), (180.0, 0.0, 10.0), (270.0, -10.0, 0.0)],
    ids=["nose up: below", "right down: right", "nose down: above", "left down: left"],
)
def test_slopes_point_to_the_side_that_is_down(heading, right, ahead):
    np.testing.assert_allclose(
        plan_points(np.array(heading), np.array(10.0)), (right, ahead), atol=1e-14
    )


@pytest.mark.parametrize("shape", SHAPES)
def test_no_words_overlap_or_leave_the_sheet(shape):
    figure = plan_figure(SHAPES[shape], required=REQUIRED, note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


@pytest.mark.parametrize("shape", SHAPES)
def test_every_plan_says_what_it_is_of_and_what_it_is_not(shape):
    result = SHAPES[shape]
    words = all_words(plan_figure(result)).replace("\n", " ")
    assert result.tank.split()[0] in words
    assert " L" in words
    for side in ("NOSE DOWN", "NOSE UP", "LEFT SIDE DOWN", "RIGHT SIDE DOWN"):
        assert side in words
    assert "says nothing about roll-over" in words
    assert "still liquid, this mesh" in words
    assert "°" in words
    assert "%" in words
    assert "safe" not in words


def test_each_port_is_named_at_its_arc_and_in_the_key():
    figure = plan_figure(made_envelope(lambda k: 30.0, by_side))
    words = all_words(figure)
    for heading in range(0, 360, 90):
        assert words.count(by_side(heading)) >= 2
    (axes,) = figure.axes
    at_arc = {t.get_text(): t.get_position() for t in axes.texts}
    x, y = at_arc[by_side(90.0)]
    assert x > abs(y), "the port of the right side stands at the right"


@pytest.mark.parametrize("shape", ["round", "four ports", "lopsided", "long name"])
def test_no_word_is_written_over_the_limit(shape):
    result = SHAPES[shape]
    figure = plan_figure(result)
    figure.draw_without_rendering()
    (axes,) = figure.axes
    renderer = figure.canvas.get_renderer()
    line = axes.transData.transform(limit_line(result))
    for text in axes.texts:
        box = text.get_window_extent(renderer)
        assert not any(box.contains(x, y) for x, y in line), text.get_text()


def test_a_port_looks_the_same_in_every_picture():
    """Its colour follows the user's order of ports, not the order in which they give out."""
    result = made_envelope(lambda k: 30.0, by_side)
    figure = plan_figure(result)
    (axes,) = figure.axes
    fills = {tuple(np.round(p.get_edgecolor(), 3)): p.get_hatch() for p in axes.patches}
    for k in range(len(result.map.ports)):
        look = mark(k)
        assert fills[tuple(np.round(to_rgba(look.colour), 3))] == look.hatch
    shown = {t.get_text(): t.get_bbox_patch() for t in map_figure(result).axes[0].texts}
    for k, name in enumerate(result.map.ports):
        assert shown[name].get_edgecolor() == to_rgba(mark(k).colour)


def test_a_limit_is_written_rounded_down_with_grade_side_and_port():
    result = made_envelope(lambda k: 14.99)
    assert limit_words(result.worst, 60.0) == "14.9° (26.6 % grade), nose up: suction"
    assert (
        limit_words(SHAPES["without limit"].worst, 60.0)
        == "nothing gives out up to 60.0° (173.2 % grade)"
    )


def test_the_line_is_the_bound_and_closes():
    line = limit_line(SHAPES["round"])
    np.testing.assert_allclose(line[0], line[-1])
    assert 0.98 * 21.98 < np.hypot(*line.T).max() < 21.98 + 1e-9


def notched(heading: float) -> float:
    """Held to 30 degrees but for a notch three degrees wide, between two of the headings listed."""
    return 30.0 - 16.0 * max(0.0, 1.0 - abs(heading - 102.5) / 1.5)


def test_nothing_lies_inside_the_line_in_a_notch_between_headings():
    result = made_envelope(notched)
    worst = replace(result.worst, heading_deg=102.5, slope_deg=14.0, held_to_deg=13.98)
    for told in (result, replace(result, worst=worst)):
        line = Path(limit_line(told))
        lost = np.column_stack(plan_points(np.full(40, 102.5), np.linspace(14.3, 29.9, 40)))
        assert not line.contains_points(lost).any()
        held = np.column_stack(plan_points(np.array([102.5, 95.0]), np.array([13.0, 20.0])))
        assert line.contains_points(held).all()
    x, y = plan_points(np.array([102.5]), np.array([13.98]))
    apart = np.hypot(*(limit_line(replace(result, worst=worst)) - (x[0], y[0])).T)
    assert apart.min() < 0.5, "the line comes down to the ring of the worst"


@pytest.mark.parametrize("shape", SHAPES)
def test_every_ring_is_named_and_the_machine_stays_visible(shape):
    figure = plan_figure(SHAPES[shape])
    axes = figure.axes[0]
    rim = axes.get_ylim()[1] / 1.2
    words = [t.get_text() for t in axes.texts]
    rings = sorted(p.radius for p in axes.patches if hasattr(p, "radius") and p.radius < 0.99 * rim)
    for slope in rings:
        assert sum(w.startswith(f"{slope:g}° = ") for w in words) == 1, slope
    figure.draw_without_rendering()
    renderer = figure.canvas.get_renderer()
    hull = axes.transData.transform(machine_outline(rim))
    for text in axes.texts:
        box = text.get_window_extent(renderer)
        assert not any(box.contains(x, y) for x, y in hull) or "NOT HELD" in text.get_text()


def test_a_band_begins_at_the_line_and_stays_outside():
    """Where one port hands over to none the line runs outwards: the band must follow it."""
    result = made_envelope(lambda k: 20.0 if 100.0 < k < 260.0 else None)
    axes = plan_figure(result).axes[0]
    (band,) = [p for p in axes.patches if p.get_hatch()]
    line = Path(limit_line(result))
    assert not line.contains_points(band.get_xy(), radius=-1e-6).any()


def test_the_rim_says_where_uphill_is():
    words = all_words(plan_figure(SHAPES["round"]))
    assert "NOSE DOWN\nuphill at the tail: heading 180°" in words
    assert "RIGHT\nSIDE DOWN\nuphill: left\nheading 90°" in words


def test_lost_on_level_ground_is_said_and_no_limit_drawn():
    figure = plan_figure(SHAPES["lost on level ground"])
    assert "NOT HELD ON LEVEL GROUND\nshort by 10.0 mm" in all_words(figure)
    assert "not held on level ground: suction gives out" in all_words(figure).replace("\n", " ")
    assert not any("limit" in words for words in figure.axes[0].get_legend_handles_labels()[1])


def test_islands_are_warned_of():
    assert "held again further out: do not count on it" in all_words(plan_figure(SHAPES["islands"]))
    assert "held again" not in all_words(plan_figure(SHAPES["round"]))


def test_the_rim_leaves_room_but_no_desert():
    assert rim_of([SHAPES["round"]]) == 30.0
    assert rim_of([SHAPES["without limit"]]) == 60.0
    assert rim_of([SHAPES["nearly nothing"]]) == 5.0
    assert rim_of([SHAPES["islands"]]) == 55.0, "islands are shown"


def test_no_meaning_hangs_on_colour_alone():
    marks = [mark(k) for k in range(7)]
    for part in ("colour", "hatch", "line", "point"):
        assert len({getattr(m, part) for m in marks}) == 7


def test_a_note_is_read_before_the_picture():
    assert f"NOTE: {NOTE}" in all_words(plan_figure(SHAPES["round"], note=NOTE))
    assert "NOTE" not in all_words(plan_figure(SHAPES["round"]))


def test_volumes_in_the_users_unit():
    words = all_words(plan_figure(SHAPES["round"], unit="gal"))
    assert "7.93 US gal to 11.10 US gal" in words.replace("\n", " ")


def test_an_outline_goes_round_what_is_required_and_inside_the_rim():
    need = moving(Requirement.every_heading(math.radians(10.0)), brake=0.5 * GRAVITY)
    figure = plan_figure(SHAPES["nearly nothing"], required=need)
    (axes,) = figure.axes
    (line,) = [each for each in axes.lines if each.get_label() == "required"]
    right, ahead = line.get_data()
    felt = 10.0 + math.degrees(
        math.atan(0.5 * math.cos(math.radians(10.0)) / (1.0 + 0.5 * math.sin(math.radians(10.0))))
    )
    assert max(ahead) == pytest.approx(felt, abs=1e-6), "nose down is ahead"
    assert min(ahead) == pytest.approx(-10.0, abs=1e-6)
    assert max(right) == pytest.approx(-min(right), abs=1e-6)
    assert axes.get_ylim()[1] > felt
    assert (right[0], ahead[0]) == pytest.approx((right[-1], ahead[-1]))
    turned = np.diff(np.unwrap(np.arctan2(ahead, right)))
    assert (turned > 0.0).all() or (turned < 0.0).all(), "once round, not to and fro"


def test_a_single_attitude_is_a_diamond_where_it_is():
    need = Requirement.single(Attitude.from_slope(math.radians(12.0), math.radians(90.0)))
    figure = plan_figure(SHAPES["round"], required=need)
    (mark_,) = [each for each in figure.axes[0].lines if each.get_marker() == "D"]
    assert mark_.get_data()[0] == pytest.approx([12.0])
    assert mark_.get_data()[1] == pytest.approx([0.0], abs=1e-12)
