"""The picture of the marks shows both levels where they are, and says what sets them."""

import math
from pathlib import Path

import pytest
from pictures import overlapping

from tanksolve.bound_words import safe_length_words
from tanksolve.geometry.parts import box, cylinder
from tanksolve.model.ports import breather, pickup
from tanksolve.model.requirement import Requirement
from tanksolve.present.marks_view import marks_figure
from tanksolve.project.load import load
from tanksolve.questions.marks.gauge import Gauge
from tanksolve.questions.marks.marks import Allowances, marks

MESHES = Path(__file__).parents[2] / "meshes"


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


def test_a_dipstick_is_drawn_with_its_marks_where_they_are():
    tank = box(0.9, 0.4, 0.4)
    ports = [pickup("suction", (0.3, 0.2, 0.03)), breather("cap", (0.45, 0.2, 0.39))]
    stick = Gauge("dipstick", (0.1, 0.2, 0.005), math.radians(10.0), 0.0)
    result = marks(tank, ports, Requirement.every_heading(math.radians(10)), gauges=[stick])
    axes = marks_figure(tank, ports, result, [stick]).axes[0]
    least, most = result.gauges[0].least_mark_m, result.gauges[0].most_mark_m
    told = (
        f"dipstick, from its nought\nmost mark {safe_length_words(most, up=False)}"
        f"\nleast mark {safe_length_words(least, up=True)}"
    )
    assert [t.get_text() for t in axes.texts].count(told) == 2, (
        "what the stick reads, in both views"
    )
    assert abs(least - result.least_dip_m) > 1e-4, "the depth is another figure"
    ticks = [line for line in axes.lines if line.get_linewidth() == 2.6]
    found = [tuple(line.get_xydata().mean(axis=0)) for line in ticks][:2]
    for reading, (x, z) in zip(
        (result.gauges[0].least_mark_m, result.gauges[0].most_mark_m), found, strict=True
    ):
        assert x == pytest.approx(1000 * (0.1 + reading * math.sin(math.radians(10.0))))
        assert z == pytest.approx(1000 * (0.005 + reading * math.cos(math.radians(10.0))))


def test_words_of_the_marks_keep_off_ports_walls_and_each_other():
    tank = box(0.4, 0.25, 0.3)
    ports = [
        pickup("suction", (0.2, 0.125, 0.04), bore=0.025),
        breather("breather", (0.1, 0.125, 0.295)),
    ]
    result = marks(tank, ports, Requirement.every_heading(math.radians(15)))
    figure = marks_figure(tank, ports, result)
    assert overlapping(figure) == []
    axes, renderer = figure.axes[0], figure.canvas.get_renderer()
    points = [line.get_xydata()[0] for line in axes.lines if line.get_marker() not in ("None", "")]
    assert len(points) == 4
    for text in axes.texts:
        box_ = text.get_window_extent(renderer).padded(4.0)
        assert not any(box_.contains(*axes.transData.transform(p)) for p in points), text.get_text()


def test_both_marks_keep_their_figures_where_the_tank_is_full_of_plates_and_pipes():
    case = load(MESHES / "hillside_sprayer.toml")
    need = Requirement.box(math.radians(12), 0.0)
    result = marks(case.tank, case.ports, need, tolerance=1e-3)
    figure = marks_figure(case.tank, case.ports, result)
    words = words_of(figure)
    for name, dip, up in (
        ("least", result.least_dip_m, True),
        ("most", result.most_dip_m, False),
    ):
        told = f"{name}: depth {safe_length_words(dip, up=up)}"
        assert told in words or told.replace(": ", "\n") in words
    assert "(nose down)" in " ".join(words).replace("\n", " ")
    assert overlapping(figure) == []


def test_both_views_are_cut_through_the_pickup_and_another_port_has_its_cut_too():
    """The sprayer's first pickup is in a sump that a cut through the tank's middle misses."""
    project = load(MESHES / "hillside_sprayer.toml")
    need = Requirement.box(math.radians(5), 0.0)
    result = marks(project.tank, project.ports, need, tolerance=1e-3)
    figure = marks_figure(project.tank, project.ports, result)
    assert "cut through sump pickup" in " ".join(words_of(figure))
    (axes,) = figure.axes
    full = [line for line in axes.lines if line.get_linewidth() == 2.0 and not line.is_dashed()]
    front = [line for line in full if line.get_xdata().min() > 1000.0]
    assert min(line.get_ydata().min() for line in front) == pytest.approx(0.0, abs=0.1)
    across = [line.get_xdata().max() - line.get_xdata().min() for line in front]
    assert max(across) == pytest.approx(300.0, abs=0.1)
    thin = [line for line in axes.lines if line.is_dashed() and line.get_linewidth() == 0.9]
    assert thin, "the middle pickup hangs from a tube that this cut misses"


def test_allowances_are_said_to_be_none_where_none_are_given():
    tank = box(0.9, 0.4, 0.4)
    ports = [pickup("suction", (0.3, 0.2, 0.03)), breather("cap", (0.45, 0.2, 0.39))]
    need = Requirement.every_heading(math.radians(10))
    bare = " ".join(words_of(marks_figure(tank, ports, marks(tank, ports, need))))
    assert "no allowances given" in bare
    some = marks(tank, ports, need, allowances=Allowances(tilt=0.01))
    assert "allowances taken in" in " ".join(words_of(marks_figure(tank, ports, some)))
