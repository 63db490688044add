"""Sections: the rows in stretches that are alike in how full they are, by hand and by counting."""

from itertools import pairwise

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from planner.piece import Habits
from planner.supplies import find_sections

HABITS = Habits(comfortable=5, crowded=11)
EASY, BUSY, CROWDED = 4, 8, 14  # so many at once
LOADS = ["easy", "busy", "crowded"]


def sections_of(*stretches):
    """First and last row, from 1, and load of each section; given how many rows hold how many."""
    live = np.concatenate([np.full(rows, at_once) for rows, at_once in stretches])
    return [(s.first + 1, s.last + 1, s.load) for s in find_sections(live, HABITS)]


def test_by_hand():
    assert sections_of((10, EASY)) == [(1, 10, "easy")]
    assert sections_of((10, EASY), (6, BUSY)) == [(1, 10, "easy"), (11, 16, "busy")]
    # The figures themselves: five are easy, six are busy, eleven are busy, twelve are crowded.
    stretches = [(6, 5), (6, 6), (6, 11), (6, 12)]
    assert sections_of(*stretches) == [(1, 6, "easy"), (7, 18, "busy"), (19, 24, "crowded")]


def test_a_short_stretch_is_no_section():
    """Five rows join what was before; at the beginning of the piece, what comes after."""
    assert sections_of((10, BUSY), (5, EASY), (10, BUSY)) == [(1, 25, "busy")]
    assert sections_of((3, EASY), (10, BUSY)) == [(1, 13, "busy")]
    assert sections_of((10, EASY), (5, BUSY), (10, EASY)) == [(1, 15, "busy"), (16, 25, "easy")]
    assert sections_of((2, BUSY)) == [(1, 2, "busy")]


@pytest.mark.parametrize(("easy", "load"), [(17, "busy"), (18, "easy"), (100, "easy")])
def test_two_full_rows_do_not_make_a_long_stretch_full(easy, load):
    """Two busy rows among twenty are one in ten, and are borne; among nineteen they are more."""
    assert sections_of((easy, EASY), (2, BUSY)) == [(1, easy + 2, load)]


def test_neighbours_that_are_alike_are_one():
    """Crowded motifs with three rows of rest between them are one crowded section."""
    motifs = [(18, CROWDED), (3, EASY)] * 5
    assert sections_of(*motifs) == [(1, 105, "crowded")]


@given(st.lists(st.tuples(st.integers(1, 30), st.integers(1, 16)), min_size=1, max_size=12))
def test_sections_cover_all_rows_once(stretches):
    live = np.concatenate([np.full(rows, at_once) for rows, at_once in stretches])
    sections = find_sections(live, HABITS)
    rows = [row for each in sections for row in range(each.first, each.last + 1)]
    assert rows == list(range(len(live)))
    assert sum(each.length for each in sections) == len(live)
    for each, following in pairwise(sections):
        assert each.load != following.load
    for each in sections:
        assert each.length >= min(6, len(live))
        words = [HABITS.word(at_once) for at_once in live[each.first : each.last + 1].tolist()]
        # It is no fuller than its fullest row, and at most one row in ten is fuller than it.
        levels = [LOADS.index(word) for word in words]
        level = LOADS.index(each.load)
        assert level <= max(levels)
        fuller = sum(of_row > level for of_row in levels)
        assert fuller <= each.length / 10
