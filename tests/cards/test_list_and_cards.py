"""Winding list and cards, followed together by one who has nothing but their words."""

import pytest

from planner.piece import BALL, BOBBIN, Allowances, OwnChoice
from planner.workbook import winding_table
from tests.helpers.carded import HOW, case, plan_of
from tests.helpers.list_reader import ListLine, ListReader, Refused
from tests.helpers.plans import SMALL, every_random_plan, random_plan


def lines_of(plan):
    """The winding list as the screen has it."""
    return [ListLine(*line) for line in winding_table(plan).itertuples(index=False)]


def balls_of(plan):
    """How many balls there are of each yarn: as far as the list numbers them, else those in hand,
    at least one. Where both ends may be used, each ball is two."""
    ends = 2 if plan.project.habits.both_ends else 1
    numbered = {letter: max(len(yarn.balls), 1) for letter, yarn in plan.project.all_yarns.items()}
    for piece in plan.pieces:
        numbered[piece.yarn] = max(numbered[piece.yarn], piece.ball)
    return {letter: ends * count for letter, count in numbered.items()}


def follow(plan, lines=None):
    cards = plan.all_cards
    reader = ListReader(balls_of(plan), lines or lines_of(plan))
    reader.follow(cards.cast_on and str(cards.cast_on), map(str, cards.rows))


@every_random_plan
def test_who_follows_list_and_cards_has_everything_in_time(number):
    follow(random_plan(number))


def fed_from_balls(name, number, **asked):
    """A random piece whose yarns are fed from their balls where they are first worked."""
    rows, plan = case(name, number)
    traced = plan.traced
    choices = []
    for letter in traced.chart.letters:
        of_yarn = [s for s, yarn in enumerate(traced.yarn) if traced.chart.letters[yarn] == letter]
        first = traced.first_run[max(of_yarn, key=lambda s: traced.last_run[s])]
        row, stitch = int(traced.runs.row[first]) + 1, int(traced.stitch_number(first))
        choices.append(OwnChoice("supply", letter, row, stitch, "whole", BALL))
    return plan_of(rows, HOW[name], plan.project.limits, choices=tuple(choices), **asked)


@pytest.mark.parametrize("name", HOW)
@pytest.mark.parametrize("number", range(3))
def test_where_balls_are_in_use(name, number):
    plan = fed_from_balls(name, number, units=("cm", "in")[number % 2])
    follow(plan)
    follow(fed_from_balls(name, number, allow=Allowances(cast_on=0, bind_off=0)))


def test_the_random_pieces_have_what_is_cut_early():
    early = [
        piece
        for name in HOW
        for number in range(3)
        for piece in fed_from_balls(name, number).pieces
        if piece.cut_before is not None
    ]
    assert len(early) > 20


# A works the whole of rows 1 and 2 and both sides of B from row 3 on: A2 begins at the left while
# the only ball feeds A1.
TWO_SIDES = ["AABBAA"] * 3 + ["AAAAAA"] * 2
FED = OwnChoice("supply", "A", 1, 1, "whole", BALL)


def test_a_list_that_says_the_row_of_first_stitches_is_refused():
    plan = plan_of(TWO_SIDES, choices=(FED,))
    lines = lines_of(plan)
    (early,) = (line for line in lines if line.strands == "A2")
    assert early.before == "cast-on"
    assert early.held == "loose strand for row 3, cut while its ball is free"
    follow(plan, lines)
    late = [early._replace(before="3") if line is early else line for line in lines]
    with pytest.raises(Refused, match=r"A2.*not cut"):
        follow(plan, late)


def test_a_refill_whose_ball_is_in_use_is_cut_early_too():
    """A2 is wound in several bobbins, which are joined while A1 is on the only ball."""
    wound = OwnChoice("supply", "A", 1, 4, "whole", BOBBIN)
    plan = plan_of(["AABAA"] * 60, choices=(FED, wound), habits=SMALL)
    early = {piece.label for piece in plan.pieces if piece.cut_before == 0}
    assert {"A2 refill 1", "A2 refill 2"} <= early
    follow(plan)
