"""The yarn letters of signs, words and colours on a sheet."""

import pytest

from planner.charts.sheets import read_sheet
from tests.helpers.workbooks import lettered


def test_colour_words_and_marks_get_letters():
    read = read_sheet(b"red,light blue,/\n" * 4, "chart.csv")
    assert read.colours == {"red": "#ff0000", "L": "#add8e6"}
    assert 'Letters given: "light blue" is L, "/" is A.' in read.notes


def test_capitals_count_and_say_so():
    assert "Capitals count: A and a are two yarns." in read_sheet(b"A,a\nB,A\n", "chart.csv").notes


@pytest.mark.parametrize("word", ["rgb(0,0,1e308)", "oklch(50%1e308%1e308)", "lab(50% 1)", "#12"])
def test_words_that_only_look_like_colours_are_signs(word):
    """Four of each, so that they are no notes."""
    read = read_sheet(lettered([["A", word]] * 4), "m.xlsx")
    assert read.colours == {}
    assert len(read.chart.letters) == 2
