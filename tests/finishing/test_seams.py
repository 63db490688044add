"""Seams: followed row by row, and eased by hand."""

import pytest

from planner.errors import PlanError
from planner.finishing import seam_of
from planner.piece import Construction, Yarn
from tests.helpers.plans import RANDOM_PLANS, plan_of, random_plan

YARNS = {"A": Yarn("A", "Grey"), "B": Yarn("B", "Red"), "C": Yarn("C", "Blue")}


def upright(*bands, yarns=YARNS, **asked):
    """A piece of level bands, from the bottom: letters, each with its number of rows."""
    rows = [letter * 4 for letter, high in bands for _ in range(high)]
    return plan_of(rows[::-1], yarns, **asked)


def colours_of(plan, edge):
    """The colour of each row at an edge, read off the chart by itself."""
    place = -1 if edge == "right edge" else 0
    times = plan.traced.how.rows_per_chart_row
    cells = [
        next(c for c in row[:: place or 1] if c != ".") for row in plan.project.chart.to_rows()
    ]
    names = {letter: yarn.name or letter for letter, yarn in plan.project.all_yarns.items()}
    return [names[cell] for cell in reversed(cells) for _ in range(times)]


@pytest.mark.parametrize("number", range(RANDOM_PLANS - 1))
def test_followed_from_the_bottom_every_row_is_sewn_in_its_colour(number):
    flat = [each for each in range(RANDOM_PLANS) if not random_plan(each).traced.how.is_tube]
    one, other = random_plan(flat[number]), random_plan(flat[number - 3])
    seam = seam_of(one, "right edge", other, "left edge")
    here, there = colours_of(one, "right edge"), colours_of(other, "left edge")
    assert (seam.rows, seam.other_rows) == (len(here), len(there))
    reached = other_reached = 0
    for each in seam.stretches:
        assert set(here[each.first - 1 : each.last]) == {each.yarn}
        assert set(there[each.other_first - 1 : each.other_last]) == {each.other_yarn}
        # Eased, a row is sewn to two; none is left out.
        assert each.first in (reached, reached + 1)
        assert each.other_first in (other_reached, other_reached + 1)
        reached, other_reached = each.last, each.other_last
    assert (reached, other_reached) == (len(here), len(there))


def test_a_piece_meets_itself_row_for_row():
    """By hand: A at the right is 12 rows high, at the left 10; then comes B."""
    bottom_up = [*["AAAA"] * 10, *["BBAA"] * 2, *["BBBB"] * 8]
    plan = plan_of(bottom_up[::-1], YARNS)
    seam = seam_of(plan, "right edge", plan, "left edge")
    assert not seam.by_colour or seam.rows == seam.other_rows
    assert seam.off() == [("Red", 13, 11)]
    words = seam.in_words(plan)
    assert "Red begins in row 13 here and in row 11 there, 2 rows lower." in words


def test_what_begins_level_is_not_said_to_begin_higher():
    """By hand: Grey begins at the bottom of both edges, and once more in row 16 of the left."""
    rows = [*["AAAA"] * 2, *["BBAA"] * 13, *["AAAA"] * 15]
    plan = plan_of(rows[::-1], YARNS)
    seam = seam_of(plan, "right edge", plan, "left edge")
    assert seam.off() == []
    assert seam.in_words(plan)[:4] == [
        "Row for row from the bottom: 17 of 30 rows meet their own colour.",
        "rows 1–2: Grey.",
        "rows 3–15: Grey meets Red.",
        "rows 16–30: Grey.",
    ]


def begins_of(colours):
    """Each row, from 1, in which a colour begins, with the colour."""
    below = [None, *colours]
    return {(row, colour) for row, colour in enumerate(colours, 1) if colour != below[row - 1]}


@pytest.mark.parametrize("number", range(RANDOM_PLANS - 1))
def test_what_is_off_begins_there_and_nowhere_level(number):
    flat = [each for each in range(RANDOM_PLANS) if not random_plan(each).traced.how.is_tube]
    one, other = random_plan(flat[number]), random_plan(flat[number - 3])
    seam = seam_of(one, "right edge", other, "left edge")
    here = begins_of(colours_of(one, "right edge"))
    there = begins_of(colours_of(other, "left edge"))
    for yarn, row, other_row in seam.off():
        assert (row, yarn) in here - there
        assert (other_row, yarn) in there - here


def test_bands_that_nearly_match_are_eased_to_each_other():
    """By hand: 20 rows to 22 and 30 to 27; a row in ten is taken together."""
    seam = seam_of(
        upright(("A", 20), ("B", 30)), "right edge", upright(("A", 22), ("B", 27)), "left edge"
    )
    assert seam.by_colour
    assert seam.in_words(plan_of(["A"]))[:4] == [
        "Colour to colour, from the bottom: 50 rows to 49 rows, eased as said below.",
        "Red begins in row 21 here and in row 23 there, 2 rows higher.",
        "rows 1–20 to rows 1–22: Grey, two rows of the other edge taken together 2 times, "
        "one pair in 11.",
        "rows 21–50 to rows 23–49: Red, two rows of this edge taken together 3 times, "
        "one pair in 10.",
    ]


def test_what_cannot_be_eased_meets_as_it_comes():
    """By hand: 10 rows of A beside 20, then B; both are 40 high."""
    seam = seam_of(
        upright(("A", 10), ("B", 30)), "left edge", upright(("A", 20), ("B", 20)), "right edge"
    )
    assert not seam.by_colour
    assert seam.meeting == 30
    assert "rows 11–20: Red meets Grey." in seam.in_words(plan_of(["A"]))


def test_other_lengths_are_eased_evenly():
    seam = seam_of(upright(("A", 40)), "left edge", upright(("A", 30), ("B", 30)), "right edge")
    assert not seam.by_colour
    assert [(each.rows, each.other_rows) for each in seam.stretches] == [(20, 30), (20, 30)]
    assert seam.in_words(plan_of(["A"]))[0].startswith("40 rows to 60 rows, eased evenly")


def test_colours_go_by_their_names_across_pieces():
    other = {"X": Yarn("X", "Grey"), "Y": Yarn("Y", "Red")}
    seam = seam_of(
        upright(("A", 10), ("B", 10)),
        "right edge",
        upright(("X", 10), ("Y", 10), yarns=other),
        "left edge",
    )
    assert seam.meeting == 20
    assert seam.by_colour
    assert not seam.off()


def test_the_tails_at_an_edge_are_named():
    """By hand, flat from the right: A starts row 1 at the right edge; after 10 rows it stops where
    it began, and so does B after its 10."""
    plan = upright(("A", 10), ("B", 10))
    right = seam_of(plan, "right edge", plan, "left edge").tails
    left = seam_of(plan, "left edge", plan, "right edge").tails
    places = {(each.end.strand, each.end.what) for each in right}
    assert places == {("A1", "start"), ("A1", "stop"), ("B1", "start"), ("B1", "stop")}
    assert left == ()


def test_only_sides_are_seamed():
    plan = upright(("A", 4))
    with pytest.raises(PlanError, match="cast-on edge"):
        seam_of(plan, "cast-on edge", plan, "left edge")
    tube = upright(("A", 4), how=Construction(worked="rounds"))
    with pytest.raises(PlanError, match="worked flat"):
        seam_of(plan, "left edge", tube, "right edge")
