"""Ends to sew in with work on the needles: joins that were noted, and tails caught as knitted.

What is counted is the same in the plan, in its table, its summary, its headline and its picture.
"""

from dataclasses import replace

import pytest

from planner import Yarn, make_plan
from planner.pictures import draw_strands
from planner.piece import JOINED, UNDONE, Allowances, Entry, Habits
from planner.workbook import headline
from tests.helpers.drawn import words_in
from tests.helpers.plans import every_random_plan, plan_of, random_plan, stripes
from tests.helpers.progress import DAY, knitted
from tests.helpers.rows import every_random_case, random_case

CAUGHT = Habits(tails_caught=True)


def told_alike(plan):
    """The ends to sew in, which all that speaks of them counts alike."""
    ends = plan.ends_in_all
    assert len(plan.ends) == ends
    assert f"\n{ends} ends to sew in" in plan.summary()
    assert f" {ends} ends ·" in headline(plan)
    assert any(f" {ends} ends" in words for words in words_in(draw_strands(plan)))
    return ends


def joined(log, row, stitch=0, strand="B1"):
    entry = Entry(len(log) + 1, DAY, JOINED, row, strand=strand, length_cm=300.0, stitch=stitch)
    return (*log, entry)


def with_log(log, feltable=False, habits=None):
    """Two stripes of ten stitches, twelve rows; B may felt."""
    yarns = {"B": Yarn("B", feltable=feltable)}
    return plan_of(
        stripes(10, 10, rows=12), yarns, progress=log, habits=habits or Habits(narrow_stitches=20)
    )


FOUR_ROWS = knitted(with_log(()), 4)


@pytest.mark.parametrize("place", [(4, 0), (5, 3), (0, 0)])
def test_a_join_adds_two_ends_in_a_yarn_that_does_not_felt(place):
    log = joined(FOUR_ROWS, *place)
    assert told_alike(with_log(log)) == 4 + 2
    assert told_alike(with_log(log, feltable=True)) == 4
    assert with_log(log).ends.end.tolist().count("join") == 2


def test_a_join_lies_where_the_run_after_it_begins():
    """By eye: noted after row 4 (WS) it is at the right edge of B in row 5 (RS); in row 4 it is at
    its left edge, where a WS row begins it."""
    for place, row, stitch in (((4, 0), 5, 1), ((5, 3), 5, 1), ((4, 3), 4, 10)):
        ends = with_log(joined(FOUR_ROWS, *place)).ends
        joins = ends[ends.end == "join"]
        assert joins[["row", "stitch"]].values.tolist() == [[row, stitch]] * 2


def test_a_join_taken_back_with_its_row_does_not_return():
    log = joined(FOUR_ROWS[:3], 4, 3)
    fourth = replace(FOUR_ROWS[3], number=5)
    log = (*log, fourth)
    assert told_alike(with_log(log)) == 6
    taken_back = (*log, Entry(6, DAY, UNDONE, 4))
    again = (*taken_back, replace(fourth, number=7))
    assert told_alike(with_log(taken_back)) == told_alike(with_log(again)) == 4
    # As well if rows before it are taken back.
    assert told_alike(with_log((*log, Entry(6, DAY, UNDONE, 2)))) == 4


BOBBINS = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")


@pytest.mark.parametrize(
    ("done", "places", "joins"),
    [
        # 40 stitches of 2 cm a row on bobbins of 4 m: refilled in rows 5, 10, 14 and 19.
        (0, [], 4),
        (12, [], 4),
        (12, [(6, 0)], 4),  # a row late
        (4, [(5, 20)], 4),  # the planned one, in the row on the needles
        (4, [(3, 20)], 5),  # an early one; that in row 5 is still to come
        (5, [(3, 20)], 4),  # it did not come
        (8, [(3, 1), (4, 1), (6, 1)], 6),
        (22, [(n, 1) for n in (4, 8, 12, 16, 20)], 5),
    ],
)
def test_a_join_that_was_noted_takes_the_place_of_one_that_was_planned(done, places, joins):
    rows = ["A" * 40 + "B" * 10] * 22
    log = knitted(plan_of(rows, habits=BOBBINS), done)
    for place in places:
        log = joined(log, *place, strand="A1")
    plan = plan_of(rows, habits=BOBBINS, progress=log)
    assert [held.refill_rows for held in plan.held if held.part.yarn == "A"] == [(4, 9, 13, 18)]
    assert len(plan.joins["A1"]) == joins


# Tails caught as they are knitted


def test_tails_caught_by_hand():
    """A1 has a start that is caught, over at least 8 stitches of its first row; B1 and B2 begin
    with 4 stitches and C1 with 2. What is cut has no stitches to follow."""
    rows = ["A" * 10 + "B" * 10] * 4 + ["A" * 10 + "BBBB" + "CC" + "BBBB"] * 3
    plain, caught = plan_of(rows), plan_of(rows, habits=CAUGHT)
    starts = plain.ends[plain.ends.end == "start"].strand.tolist()
    left = caught.ends[caught.ends.end == "start"].strand.tolist()
    assert left == ["B1", "C1", "B2"]
    assert told_alike(plain) - told_alike(caught) == len(starts) - 3 == caught.ends_caught
    assert f"{caught.ends_caught} more are caught as they are knitted" in caught.summary()


def test_what_is_cast_on_with_has_its_tail_beside_the_work():
    rows = stripes(10, 10, rows=4)
    caught = plan_of(rows, habits=CAUGHT, allow=Allowances())
    assert told_alike(caught) == told_alike(plan_of(rows, allow=Allowances())) == 4


def test_both_tails_of_a_join_are_caught_unless_too_few_stitches_follow():
    assert told_alike(with_log(joined(FOUR_ROWS, 5, 3), habits=CAUGHT)) == 2
    narrow = ["AAAAAAAAAABB"] * 12
    log = joined(knitted(plan_of(narrow), 9), 9)  # three rows of two stitches follow
    # B is two stitches wide, so its start is sewn in as well.
    assert told_alike(plan_of(narrow, progress=log, habits=CAUGHT)) == 2 + 1 + 2


@every_random_plan
def test_all_that_speaks_of_ends_counts_alike(number):
    plan = random_plan(number)
    habits = replace(plan.project.habits, tails_caught=True)
    caught = make_plan(replace(plan.project, habits=habits))
    assert told_alike(plan) - told_alike(caught) == caught.ends_caught
    # A tail that the cards say is caught is none to sew in, and the other way round.
    steps = [step for card in caught.cards for line in card.lines for step in line.steps]
    said = sum("caught along its next 8 stitches" in step for step in steps)
    starts, still_to_sew = [(each.ends.end == "start").sum() for each in (plan, caught)]
    assert said == starts - still_to_sew


@every_random_case
def test_with_joins_and_tails_caught_too(number):
    _, plan = random_case(number)
    log = plan.project.progress
    for held in plan.held[::3]:
        part = held.part
        row = part.first_row + 1
        log = (*log, Entry(len(log) + 1, DAY, JOINED, row, strand=part.label, part=part.name,
                           length_cm=200.0, stitch=1))  # fmt: skip
    habits = replace(plan.project.habits, tails_caught=True)
    told_alike(make_plan(replace(plan.project, progress=log)))
    told_alike(make_plan(replace(plan.project, progress=log, habits=habits)))


def test_the_card_says_that_tails_are_caught():
    rows = ["A" * 10 + "B" * 10] * 4
    lines = plan_of(rows, habits=CAUGHT).cards[0].lines
    assert [line.steps for line in lines] == [
        ("new, tail 15 cm, caught along its next 8 stitches",)
    ] * 2
