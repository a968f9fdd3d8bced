"""Envelopes over each other: all lines told apart, ranked in the key."""

from dataclasses import replace

import pytest
from envelopes import made_comparison
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.present.comparison import comparison_figure
from tanksolve.units import floor_to


@pytest.mark.parametrize("count", [1, 2, 3, 5, 7])
def test_no_words_overlap_or_leave_the_sheet(count):
    figure = comparison_figure(made_comparison(count), note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    assert across_rules(figure) == []


def test_the_key_ranks_with_degrees_and_grade():
    words = all_words(comparison_figure(made_comparison(3)))
    assert "1. place 1: 25.9° (" in words
    assert "3. place 3: 15.9° (" in words
    assert words.count("place 2") >= 2, "named at its line as well"


@pytest.mark.parametrize("count", [5, 9])
def test_contenders_differ_in_marker_as_well_as_colour(count):
    axes = comparison_figure(made_comparison(count)).axes[0]
    looks = {(h.get_marker(), h.get_markerfacecolor()) for h in axes.get_legend().legend_handles}
    assert len(looks) == count
    drawn = {
        (line.get_marker(), line.get_markerfacecolor())
        for line in axes.lines
        if line.get_marker() not in ("None", "")
    }
    assert drawn == looks


def test_long_names_stay_on_the_sheet_and_keep_their_figures():
    short = made_comparison(3)
    names = [
        f"suction, carrier tank {k} 500.0 x 280.0 x 260.0 mm at the rear, " * n
        for k, n in zip("ABC", (1, 2, 6), strict=True)
    ]
    long = replace(
        short,
        contenders=tuple(
            replace(one, name=name.strip(", "))
            for one, name in zip(short.contenders, names, strict=True)
        ),
    )
    figure = comparison_figure(long, note=NOTE)
    assert overlapping(figure) == []
    assert off_the_sheet(figure) == []
    keys = [t.get_text().replace("\n", " ") for t in figure.axes[0].get_legend().get_texts()]
    for key, one in zip(keys, short.contenders, strict=True):
        assert key.startswith(f"{one.rank}. suction, carrier tank")
        assert f": {floor_to(one.envelope.worst.held_to_deg, 0.1):.1f}° (" in key
    title = figure.texts[0].get_text()
    assert title == "Compared: 3 contenders"
    assert comparison_figure(short).texts[0].get_text() == "Compared: place 1, place 2, place 3"
    assert comparison_figure(made_comparison(7)).texts[0].get_text().endswith("place 6 and 1 more")
