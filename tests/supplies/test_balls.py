"""Balls: never more than there are, never more than the table holds, the longest strands first."""

import math
from collections import Counter

from planner import Yarn
from planner.piece import BALL, BOBBIN, Habits, OwnChoice
from tests.helpers.parts import balls_to_be_had, exact_parts, supplies_of, why
from tests.helpers.plans import every_random_plan, plan_of, random_plan, stripes


def test_the_longest_strands_get_the_table():
    """Five long stripes, room for two balls: the widest stripes have them."""
    plan = plan_of(stripes(30, 50, 40, 60, 35, rows=60), habits=Habits(balls_on_table=2))
    assert supplies_of(plan) == {"A1": BOBBIN, "B1": BALL, "C1": BOBBIN, "D1": BALL, "E1": BOBBIN}
    assert "the table is full: 2 balls" in why(plan, "A1")


def test_few_balls():
    """Two long stripes of one yarn live at the same time: one ball in hand is one strand from the
    ball, two are two."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    for balls, expected in ((1, [BOBBIN, BALL]), (2, [BALL, BALL])):
        plan = plan_of(rows, {"A": Yarn("A", metres_per_ball=500, balls_in_hand=balls)})
        held = supplies_of(plan)
        wide, narrow = sorted(
            ("A1", "A2"), key=lambda s: -plan.strands.set_index("strand").stitches[s]
        )
        assert [held[narrow], held[wide]] == expected
        assert ("every ball of A" in why(plan, narrow)) == (balls == 1)


def test_balls_to_be_bought_count():
    """No ball in hand, 50 m to a ball: 60 rows of 95 stitches take three balls or more, so both
    stripes have one."""
    plan = plan_of(["A" * 40 + "B" * 5 + "A" * 50] * 60, {"A": Yarn("A", metres_per_ball=50)})
    assert plan.shopping_list.set_index("yarn").balls_to_buy["A"] >= 2
    assert [kind for strand, kind in supplies_of(plan).items() if strand[0] == "A"] == [BALL, BALL]


def test_both_ends_of_a_ball():
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=1)}
    plan = plan_of(rows, yarns, habits=Habits(both_ends=True, balls_on_table=1))
    assert [kind for strand, kind in supplies_of(plan).items() if strand[0] == "A"] == [BALL, BALL]
    assert plan.notes == ()


def test_own_choices_beyond_the_table_are_kept():
    """Five balls by choice on a table for two: kept, and said; nothing else gets a ball in those
    rows."""
    rows = stripes(10, 10, 10, 10, 10, 60, rows=60)
    before = plan_of(rows)
    own = tuple(
        OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL)
        for s in before.strands.itertuples()
        if s.yarn != "F"
    )
    plan = plan_of(rows, choices=own, habits=Habits(balls_on_table=2))
    held = supplies_of(plan)
    assert held.pop("F1") == BOBBIN
    assert set(held.values()) == {BALL}
    words = ("5 balls", "row 1 (RS)", "more than the 2 you set", "kept")
    assert [note for note in plan.notes if all(word in note for word in words)]


def test_own_choice_of_more_balls_than_there_are_is_kept_and_noted():
    own = tuple(OwnChoice("supply", "A", 1, stitch, "whole", "from the ball") for stitch in (1, 9))
    plan = plan_of(["AAAABBBBAAAA"] * 6, choices=own)
    assert (plan.supplies.supply[plan.supplies.yarn == "A"] == "from the ball").all()
    assert any("want 2 balls of A at once; 1 are in hand" in note for note in plan.notes)


# By a plain count


def ball_parts(held):
    """The parts fed from a ball: yarn, first and last row."""
    some = held[held.supply == BALL]
    return list(zip(some.yarn, some.first_row, some.last_row, strict=True))


def at_row(parts, row):
    """The yarns of these parts that are live in a worked row, one entry a part."""
    return [yarn for yarn, first, last in parts if first <= row <= last]


def balls_of(yarns, both_ends):
    """Balls of each yarn that so many strands are fed from."""
    return {yarn: math.ceil(yarns.count(yarn) / (2 if both_ends else 1)) for yarn in set(yarns)}


def fits(held, one, habits, to_be_had):
    """Whether a ball for this part would fit beside these, in every row of it."""
    parts = ball_parts(held)
    for row in range(one.first_row, one.last_row + 1):
        balls = balls_of([*at_row(parts, row), one.yarn], habits.both_ends)
        if balls[one.yarn] > to_be_had[one.yarn] or sum(balls.values()) > habits.balls_on_table:
            return False
    return habits.table


@every_random_plan
def test_balls_by_a_plain_count(number):
    """Where a ball is suggested there are no more on the table than it holds and no more of the
    yarn than can be had."""
    plan = random_plan(number)
    habits, to_be_had = plan.project.habits, balls_to_be_had(plan)
    every = ball_parts(plan.supplies)
    by_hand = ball_parts(plan.supplies[plan.supplies.chosen == "by you"])
    for row in plan.rows.row:
        fed, chosen = at_row(every, row), at_row(by_hand, row)
        suggested = set((Counter(fed) - Counter(chosen)).elements())
        balls = balls_of(fed, habits.both_ends)
        if suggested:
            assert habits.table
            assert sum(balls.values()) <= habits.balls_on_table
            assert all(balls[yarn] <= to_be_had[yarn] for yarn in suggested)


@every_random_plan
def test_longest_first(number):
    """A part that was refused a ball finds no room beside the balls of the longer parts alone."""
    plan = random_plan(number)
    held = exact_parts(plan)
    must = held.yarn.map(lambda y: not plan.project.yarns[y].may_be_cut)
    refused = held[held.why.str.contains(", but ")]
    for one in refused.itertuples():
        longer = (
            (held.cm > one.cm) & (must == must[one.Index])
            | (held.chosen == "by you")
            | (must & ~must[one.Index])
        )
        assert not fits(held[longer], one, plan.project.habits, balls_to_be_had(plan)), one.strand
