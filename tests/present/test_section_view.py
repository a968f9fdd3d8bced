"""The cut through a tank: the right way round, the surface at its height, openings to scale."""

import math

import numpy as np
import pytest
from hypothesis import given, settings
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping
from strategies import angles

from tanksolve.geometry.parts import box
from tanksolve.kernel.capacity.section import loop_area
from tanksolve.model.attitude import Attitude
from tanksolve.model.ports import breather, pickup, strainer
from tanksolve.present.opening import opening_outline
from tanksolve.present.section_view import _drawn_lines, _surface_height, _view, section_figure
from tanksolve.questions.level.surface import level

TANK = box(0.9, 0.3, 0.3, name="demo tank")
PORTS = [
    strainer("suction", (0.1, 0.15, 0.08), bore=0.06, length=0.12, facing="forward"),
    breather("breather", (0.8, 0.1, 0.28), bore=0.03, facing="down"),
    pickup("second", (0.7, 0.2, 0.05), bore=0.04),
]
TILTED = Attitude.from_rotations(math.radians(-14.0), math.radians(6.0))


def picture(attitude=TILTED, **options):
    return section_figure(TANK, level(TANK, 0.042, attitude, PORTS), PORTS, **options)


@pytest.mark.parametrize("seen_from", ["right", "front"])
@pytest.mark.parametrize("attitude", [Attitude.level(), TILTED, Attitude.from_rotations(0.6, -0.3)])
def test_no_words_overlap_or_leave_the_sheet(seen_from, attitude):
    figure = picture(attitude, seen_from=seen_from, note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_it_says_slope_fill_margins_and_side():
    words = all_words(picture())
    assert "15.2° (27.1 % grade) nose down, right side down" in words.replace("\n", " ")
    assert "42.00 L" in words
    assert "Cut 150.0 mm from the right wall" in words
    assert ": rule broken" in words
    # seen from the right side, a place further left (y 200) is behind the cut at y 150
    # and its 80 mm of cover, twice the bore, are taken off already
    assert "second\nmargin 57.2 mm\nbeyond 80.0 mm cover\n50.0 mm behind the cut" in words
    assert "breather\nmargin 26.4 mm\n50.0 mm in front of the cut" in words


def test_nose_is_to_the_right_and_high_when_up():
    there = level(TANK, 0.042, Attitude.from_rotations(0.3, 0.0))
    right, high = _view(there, 1, 0.15).turn @ np.array([1.0, 0.0, 0.0])
    assert right > 0.0
    assert high == pytest.approx(math.sin(0.3))


def test_from_the_front_the_right_side_is_to_the_left_and_low_when_down():
    there = level(TANK, 0.042, Attitude.from_rotations(0.0, 0.3))
    right, high = _view(there, 0, 0.4).turn @ np.array([0.0, -1.0, 0.0])
    assert right < 0.0
    assert high == pytest.approx(-math.sin(0.3))


@settings(max_examples=20)
@given(angles(40.0), angles(40.0))
def test_the_surface_is_level_on_the_sheet_and_at_its_height(pitch, roll):
    """Any point of the cut that is on the surface lands at the height drawn."""
    there = level(TANK, 0.042, Attitude.from_rotations(pitch, roll))
    view = _view(there, 1, 0.1)
    np.testing.assert_allclose(view.turn @ view.turn.T, np.eye(2), atol=1e-14)
    up = np.array(there.up)
    for x in (0.0, 0.9):
        z = (there.level_height_m - up[0] * x - up[1] * view.at) / up[2]
        assert (view.turn @ (x, view.at, z))[1] == pytest.approx(
            _surface_height(there, view), abs=1e-12
        )


def test_openings_are_drawn_to_scale():
    view = _view(level(TANK, 0.042), 1, 0.15)
    cage, disc, ball = (opening_outline(port, view.turn) for port in PORTS)
    np.testing.assert_allclose(np.ptp(cage, axis=0), (0.12, 0.06), atol=1e-3)
    np.testing.assert_allclose(np.ptp(disc, axis=0), (0.03, 0.0), atol=1e-3)
    np.testing.assert_allclose(np.ptp(ball, axis=0), (0.04, 0.04), atol=1e-3)
    assert loop_area(cage) == pytest.approx(0.12 * 0.06, rel=0.01)
    assert loop_area(ball) == pytest.approx(math.pi * 0.02**2, rel=0.01)


def test_a_bare_point_is_drawn_too():
    port = pickup("bare", (0.1, 0.1, 0.1))
    figure = section_figure(TANK, level(TANK, 0.042, ports=[port]), [port])
    assert "bare\nmargin 55.5 mm" in all_words(figure)


def test_labels_keep_clear_of_walls_and_of_the_surface():
    ports = [
        pickup("suction", (0.2, 0.125, 0.04), bore=0.025),
        breather("breather", (0.2, 0.125, 0.3), bore=0.012),
    ]
    tank = box(0.4, 0.25, 0.3)
    for attitude in (Attitude.level(), TILTED, Attitude.from_inclinometer(-0.35, -0.28)):
        for seen_from in ("right", "front"):
            there = level(tank, 0.018, attitude, ports)
            figure = section_figure(tank, there, ports, seen_from=seen_from)
            axes = figure.axes[0]
            figure.draw_without_rendering()
            assert off_the_sheet(figure) == []
            for leader in [line for line in axes.lines if line.get_zorder() == 4.5]:
                leader.remove()
            lines = axes.transData.transform(_drawn_lines(axes))
            for text in axes.texts:
                if "margin" in text.get_text():
                    frame = text.get_window_extent(figure.canvas.get_renderer()).padded(2.0)
                    assert not any(frame.contains(*point) for point in lines), text.get_text()
