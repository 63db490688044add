"""The load: a column for every row, the knitter's comfort, starts and ends."""

from dataclasses import replace

import numpy as np
import pytest

from planner import CarryLimits, make_plan
from planner.pictures import draw_load
from planner.piece import Habits
from tests.helpers.drawn import PIECES, piece_plan, words_in
from tests.helpers.plans import V, plan_of


def heights_in(figure):
    """How high each row is filled, from the first; every row is filled once."""
    fills = [stairs.get_data().values for stairs in figure.axes[0].patches]
    assert (np.sum(np.isfinite(fills), axis=0) == 1).all()
    return np.nansum(fills, axis=0).tolist()


def test_load_shows_every_row():
    plan = piece_plan("many strands")
    figure = draw_load(plan)
    assert len(figure.axes[0].patches) == plan.rows.load.nunique() > 1
    assert heights_in(figure) == plan.rows.live.tolist()


def test_both_halves_of_a_middle_start_hang():
    """By eye: the ground's one strand, carried behind the V, and the two halves of the V's length;
    the second waits in the row of the tip until the next one takes it up."""
    plan = plan_of(V, limits=CarryLimits(across=1))
    assert (plan.traced.count, plan.traced.middle_starts) == (2, 1)
    assert heights_in(draw_load(plan)) == [3] * 10


def test_starts_and_ends_are_marked_below_the_rows():
    """By eye: the patch and the second strand of its ground live in rows 2 and 3."""
    marks = {
        line.get_label(): line.get_xdata().tolist()
        for line in draw_load(piece_plan("patch")).axes[0].lines
        if str(line.get_label()).startswith("strands")
    }
    assert marks == {"strands start": [1, 2], "strands end": [3, 4]}


@pytest.mark.parametrize(
    ("comfortable", "crowded", "words"),
    [
        (1, 2, ["comfortable up to 1", "crowded above 2"]),
        (3, 9, ["comfortable up to 3"]),
        (8, 9, []),
    ],
)
def test_comfort_is_shown_where_it_is_near(comfortable, crowded, words):
    """At most 3 strands at once."""
    habits = replace(Habits(), comfortable=comfortable, crowded=crowded)
    figure = draw_load(make_plan(replace(PIECES["patch"], habits=habits)))
    assert [text.get_text() for text in figure.axes[0].texts] == words


def test_the_fullest_row_is_named():
    words = words_in(draw_load(piece_plan("patch")))
    assert "What hangs in each row: at most 3, first in row 2 (WS)" in words
    assert "easy (4 rows)" in words
