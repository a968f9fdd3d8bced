"""Pictures of the pump side: all words readable, the figures of the result on them."""

import numpy as np
import pytest
from pictures import across_rules, all_words, off_the_sheet, overlapping

from tanksolve.bound_words import safe_temperature_words
from tanksolve.geometry.parts import box
from tanksolve.model.fluid_catalogue import LIQUIDS
from tanksolve.model.ports import breather, pickup
from tanksolve.model.suction_line import LineSection, PumpLimits, SuctionLine, fitting
from tanksolve.present.motion_plot import motion_figure
from tanksolve.present.replay_plot import replay_figure, worst_moment_figure
from tanksolve.present.suction_plot import suction_figure
from tanksolve.pump.motion import accelerate, brake, corner
from tanksolve.pump.suction import Duty
from tanksolve.pump.suction_limits import solve_suction, suction_curve
from tanksolve.questions.envelope.envelope import envelope
from tanksolve.questions.replay.replay import replay

TANK = box(0.9, 0.3, 0.3)
PORTS = (
    pickup("suction", (0.15, 0.15, 0.04), bore=0.025, facing="down"),
    breather("vent", (0.45, 0.15, 0.29)),
)


def check_words(figure) -> None:
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


@pytest.mark.parametrize(
    ("liquid", "lpm", "cold", "hot", "says"),
    [
        ("ISO VG 46", 150.0, -10.0, 90.0, "flow stops being laminar"),
        ("petrol", 20.0, -10.0, 60.0, "vapour pressure"),
        ("water", 60.0, 1.0, 80.0, "yes, over the whole range"),
    ],
)
def test_suction(liquid: str, lpm: float, cold: float, hot: float, says: str) -> None:
    line = SuctionLine((LineSection(0.0381, 1.5, (fitting("drop tube"), fitting("elbow"))),))
    pump = PumpLimits.common_practice() if liquid != "water" else PumpLimits(npsh_required_m=0.1)
    duty = Duty(LIQUIDS[liquid], lpm / 60000.0, -0.2, 500.0)
    ends = (cold + 273.15, hot + 273.15)
    answer, curve = (f(line, duty, pump, *ends) for f in (solve_suction, suction_curve))
    figure = suction_figure(answer, curve, duty)
    check_words(figure)
    words = all_words(figure).replace("\n", " ")
    assert says in words
    assert liquid in words
    assert "200.0 mm below the pump" in words
    assert "inlet pressure" in words
    keys = figure.axes[0].get_legend_handles_labels()[1]
    assert ("vapour pressure" in keys) is (liquid != "ISO VG 46"), "only where there is some to see"
    if answer.coldest_k is not None:
        assert safe_temperature_words(answer.coldest_k, up=True) in words


def test_a_bound_on_temperature_is_rounded_to_its_safe_side() -> None:
    assert safe_temperature_words(291.7267, up=True) == "18.6 °C"
    assert safe_temperature_words(291.7267, up=False) == "18.5 °C"
    assert safe_temperature_words(273.15 + 150.0, up=False) == "150.0 °C"


@pytest.mark.parametrize("in_g", [False, True])
def test_motion(in_g: bool) -> None:
    manoeuvres = [brake(4.0), corner(8.0, 20.0, "left"), accelerate(30.0)]
    figure = motion_figure(envelope(TANK, PORTS, 0.042), manoeuvres, in_g=in_g)
    check_words(figure)
    words = all_words(figure)
    assert "1: brake 0.41 g" in words
    assert "2: corner left 8 m/s at 20 m" in words
    assert "(off the map)" in words
    assert ("0.25 g" in words) is in_g
    assert ("25 %" in words) is not in_g
    axes = figure.axes[0]
    points = {
        line.get_label(): line.get_xydata()[0] for line in axes.lines if len(line.get_xydata())
    }
    assert points["1: brake 0.41 g"][1] == pytest.approx(-22.19, abs=0.01)
    assert points["2: corner left 8 m/s at 20 m"][0] == pytest.approx(18.07, abs=0.01)


@pytest.fixture(scope="module")
def day(tmp_path_factory):
    path = tmp_path_factory.mktemp("log") / "day.csv"
    rows = "\n".join(f"{10 * k},{-25 if k == 700 else k % 7},{k % 5}" for k in range(1000))
    path.write_text(f"time_s,pitch_deg,roll_deg\n{rows}\n")
    return replay(TANK, PORTS, 0.042, path)


def test_replay(day) -> None:
    figure = replay_figure(day)
    check_words(figure)
    words = all_words(figure)
    assert "1000 rows over 2.8 h" in words
    assert "suction, must stay wet: 1 excursion, 10.0 s altogether" in words
    assert "at line 702" in words
    assert len(figure.axes) == 2
    top = figure.axes[0]
    assert min(min(line.get_ydata()) for line in top.lines) < 0.0


def test_worst_moment(day) -> None:
    figure = worst_moment_figure(day, TANK, PORTS, 0.042)
    check_words(figure)
    words = all_words(figure)
    assert "Worst moment of the log: suction" in words
    assert "line 702, 7000 s" in words
    assert "seen from the right side" in words


def test_a_gap_in_the_log_is_a_gap_in_the_line(tmp_path) -> None:
    rows = [f"{t},{0.1 * (t % 7)},0" for t in (*range(20), *range(60, 80))]
    (tmp_path / "day.csv").write_text("time s,pitch deg,roll deg\n" + "\n".join(rows) + "\n")
    figure = replay_figure(replay(TANK, PORTS, 0.042, tmp_path / "day.csv"))
    for axes in figure.axes:
        time, margin = axes.lines[0].get_data()
        assert np.isnan(margin).sum() == 1
        across = np.flatnonzero(np.diff(time) > 10.0)
        assert all(np.isnan(margin[k]) or np.isnan(margin[k + 1]) for k in across)


def test_a_manoeuvre_near_the_middle_hides_no_name() -> None:
    limits = envelope(TANK, PORTS, 0.042)
    figure = motion_figure(limits, [brake(0.3), corner(3.0, 20.0, "left")])
    check_words(figure)
    renderer = figure.canvas.get_renderer()
    names = [t for t in figure.axes[0].texts if t.get_text() in ("suction", "vent")]
    assert names
    to_pixels = figure.axes[0].transData.transform
    marks = [line for line in figure.axes[0].lines if line.get_marker() in ("o", "s")]
    spots = [to_pixels(line.get_xydata())[0] for line in marks]
    assert len(spots) == 2
    assert not any(t.get_window_extent(renderer).contains(*at) for t in names for at in spots)
