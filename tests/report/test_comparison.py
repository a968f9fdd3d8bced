"""Envelopes over each other: all lines told apart, ranked in the key."""

import pytest
from envelopes import made_comparison
from pictures import NOTE, across_rules, all_words, off_the_sheet, overlapping

from tanksolve.report.comparison import comparison_figure


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


def test_lines_differ_in_dash_and_marker():
    axes = comparison_figure(made_comparison(5)).axes[0]
    lines = [line for line in axes.lines if line.get_label().startswith(tuple("12345"))]
    assert len({line.get_marker() for line in lines}) == 5
    assert len({str(line._dash_pattern) for line in lines}) == 5
