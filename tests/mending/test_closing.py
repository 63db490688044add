"""A hole at a border: which yarns should cross there, in which rows, and what closes it."""

from itertools import pairwise

import pytest

from planner import Construction, PlanError
from planner.mending import HOLE, Stitch, Work, cures
from planner.mending.closing import close, crossing_at, meeting_rows
from tests.helpers.mending import cure_named, every_knitted_case, fault, knitted_case, with_rows
from tests.helpers.plans import plan_of, stripes

TWO = stripes(6, 6, rows=10)


def closed(plan, *stitches):
    return close(Work(plan), fault(HOLE, *stitches))


def test_who_lies_over_whom_in_two_stripes():
    """A lies left of B. RS rows go leftwards: B is worked first, and is the old yarn; WS rows A."""
    plan = with_rows(plan_of(TWO), 8)
    rs, ws = closed(plan, Stitch(4, 5)), closed(plan, Stitch(5, 6))
    assert rs.steps[0] == "Missed in row 5 (RS): B1, worked first, is laid over A1."
    assert ws.steps[0] == "Missed in row 6 (WS): A1, worked first, is laid over B1."
    # All eight rows are those in which they should cross.
    assert rs.steps[1] == (
        "The two meet in rows 1–8: look at each. There on RS rows B1, worked first, is laid over "
        "A1, on WS rows A1, worked first, is laid over B1."
    )


def test_left_handed_it_is_the_other_way_round():
    plan = with_rows(plan_of(TWO, how=Construction(hand="left")), 8)
    assert "A1, worked first, is laid over B1" in closed(plan, Stitch(4, 5)).steps[0]


def test_in_rounds_it_is_the_same_in_all():
    plan = with_rows(plan_of(stripes(3, 3, rows=10), how=Construction(worked="rounds")), 8)
    missed, others = closed(plan, Stitch(4, 2)).steps[:2]
    assert missed == "Missed in round 5: B1, worked first, is laid over A1."
    assert others == (
        "The two meet in rounds 1–8: look at each. There B1, worked first, is laid over A1."
    )


@every_knitted_case
def test_meetings_by_brute_force(name, number):
    """Row by row from the cards: in which rows the same two strands follow each other."""
    plan = knitted_case(name, number)
    work = Work(plan)
    looked_at = 0
    for row in range(0, work.done, 2):
        for column in work.columns(row):
            try:
                crossing = crossing_at(work, Stitch(row, column))
            except PlanError:
                continue
            if crossing.is_join:
                continue
            looked_at += 1
            lines = [[line.strand for line in card.lines] for card in plan.cards[: work.done]]
            titles = work.walk.title(crossing.old_run), work.walk.title(crossing.new_run)
            told = {each.row for each in meeting_rows(work, crossing)}
            meets = [_follow(strands, titles) for strands in lines]
            first = row
            while first and meets[first - 1]:
                first -= 1
            last = row
            while last + 1 < len(meets) and meets[last + 1]:
                last += 1
            assert told == set(range(first, last + 1))
    assert looked_at


def _follow(strands, titles):
    pairs = [set(pair) for pair in pairwise(strands)]
    return set(titles) in pairs


def test_the_tail_that_closes_it_is_one_of_the_two_strands():
    """B1 begins in row 4, where a hole is left beside it: its own tail lies there."""
    rows = ["AAAAAAAA"] * 3 + ["AAABBAAA"] * 5 + ["AAAAAAAA"] * 3
    plan = with_rows(plan_of(rows), 7)
    cure = closed(plan, Stitch(3, 3))
    assert (cure.ends, cure.yarn_cm) == (0, 0)
    assert "Thread the tail of B1 where it begins" in " ".join(cure.steps)


def test_without_a_tail_a_short_length_is_cut():
    """60 rows from either end: two tails of 15 cm, and up and down a row of 10 ÷ 28 cm: 31 cm."""
    plan = with_rows(plan_of(stripes(6, 6, rows=80)), 70)
    cure = closed(plan, Stitch(40, 5))
    assert (cure.ends, cure.yarn_cm) == (2, 35)
    longer = closed(plan, *(Stitch(row, 5) for row in range(35, 45)))
    # Ten rows: 7.1 cm up and down.
    assert (longer.ends, longer.yarn_cm) == (2, 40)


def test_before_blocking_and_first_by_easing():
    cure = closed(with_rows(plan_of(TWO), 8), Stitch(4, 5))
    assert any("before blocking" in each for each in cure.mind)
    assert any(step.startswith("First ease the stitches") for step in cure.steps)


def test_no_border_is_near():
    plan = with_rows(plan_of(stripes(12, 12, rows=10)), 8)
    with pytest.raises(PlanError, match="No border is near the 6th of 12 A A1 in row 5"):
        cures(plan, fault(HOLE, Stitch(4, 6)))


def test_closing_comes_before_ripping_and_laddering_is_none():
    found = cures(with_rows(plan_of(TWO), 8), fault(HOLE, Stitch(4, 5)))
    assert found[0].name == "closed with a needle"
    assert cure_named(found, "down the ladder and up again").barred


def test_at_the_join_of_turned_rounds_the_yarn_over_was_missed():
    """From memory: after the turn a yarn-over, worked together with the last stitch."""
    rows = stripes(6, 6, rows=10)
    plan = with_rows(plan_of(rows, how=Construction(worked="turned")), 8)
    at_the_join = closed(plan, Stitch(4, 11))
    assert at_the_join.steps[0].startswith("Missed in round 5 (RS): the yarn-over after the turn")
    assert "laid over" not in " ".join(at_the_join.steps)
    assert "laid over" in closed(plan, Stitch(4, 6)).steps[0]
