"""The picture of tolerances: bars as long as the shares, limits where they are, all in words."""

import pytest
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.present.tolerance_view import tolerance_figure
from tanksolve.questions.tolerance.tolerance import Toleranced, Tolerances, ToleranceTable

OFF = Tolerances(fill=0.002, position=0.005, walls=0.002, gauge=0.5)
SHARES = {"fill": 0.9, "position": 0.6, "walls": 0.5, "gauge": 0.5}
TABLE = ToleranceTable(
    "demo tank",
    OFF,
    60.0,
    (
        Toleranced("nose up", None, None, None, dict.fromkeys(SHARES)),
        Toleranced("nose down", 13.75, 11.16, "suction", SHARES),
        Toleranced("left side down", None, 46.8, "cap", dict.fromkeys(SHARES)),
        Toleranced("right side down", 30.0, 0.0, "cap", {**SHARES, "fill": 20.0}),
        Toleranced("worst heading", 13.75, 11.16, "suction", SHARES),
    ),
)


def bars(figure):
    """(row, from, to) of each bar."""
    found = []
    for patch in figure.axes[0].patches:
        x = patch.get_x() + patch.get_width()
        ends = sorted((patch.get_x(), x))
        found.append((round(patch.get_y() + 0.25), *ends))
    return found


def test_shares_stack_from_the_nominal_limit_inwards():
    row = [(a, b) for k, a, b in bars(tolerance_figure(TABLE)) if k == 1]
    assert [b - a for a, b in row] == pytest.approx(list(SHARES.values()))
    assert row[0][1] == pytest.approx(13.75)
    assert [a for a, _ in row[:-1]] == pytest.approx([b for _, b in row[1:]])
    assert not [bar for bar in bars(tolerance_figure(TABLE)) if bar[0] in (0, 2)]


def test_limits_stand_where_they_are_and_are_told_rounded_down_with_grade():
    figure = tolerance_figure(TABLE)
    lines = {
        (round(sum(line.get_ydata()) / 2), round(float(line.get_xdata()[0]), 3))
        for line in figure.axes[0].lines
    }
    assert lines == {(1, 13.75), (1, 11.16), (2, 46.8), (3, 30.0), (3, 0.0), (4, 13.75), (4, 11.16)}
    words = all_words(figure)
    assert "adverse 11.1° (19.6 %)" in words
    assert "nominal 13.7° (24.3 %)" in words
    assert "nothing gives out up to 60.0° (173.2 %)" in words
    assert "nominal: nothing up to 60.0° (173.2 %); adverse 46.8° (106.4 %)" in words


def test_what_is_off_is_said_with_its_unit_and_nothing_else():
    words = all_words(tolerance_figure(TABLE, unit="gal"))
    assert "fill 0.53 US gal" in words
    assert "each wall 2.0 mm" in words
    assert "inclinometer 0.5°\n(0.8 % grade)" in words
    assert "walls take" in words.split("\n")
    only = ToleranceTable("t", Tolerances(gauge=1.0), 60.0, TABLE.limits[1:2])
    assert "each wall" not in all_words(tolerance_figure(only))


def test_no_words_overlap_or_leave_the_sheet():
    figure = tolerance_figure(TABLE, note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []
    assert "roll-over" in all_words(figure)
