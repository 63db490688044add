"""What is cut off before its ball is in use, by eye."""

from planner import Yarn
from planner.knitting import ready_for_sitting
from planner.piece import BALL, LOOSE, OwnChoice
from tests.helpers.plans import plan_of

# A works the whole of rows 1 and 2 and both sides of B from row 3 on: A1 goes on at the right, A2
# begins at the left.
TWO_SIDES = ["AABBAA"] * 3 + ["AAAAAA"] * 2
FED = OwnChoice("supply", "A", 1, 1, "whole", BALL)


def earlier(plan):
    return {p.label: p.cut_before for p in plan.pieces if p.cut_before is not None}


def held_as(plan):
    return {each.part.title: each.supply for each in plan.held}


def test_a_piece_of_a_yarn_whose_only_ball_is_in_use():
    plan = plan_of(TWO_SIDES, choices=(FED,))
    assert held_as(plan) == {"A1": BALL, "B1": LOOSE, "A2": LOOSE}
    assert earlier(plan) == {"A2": 0}
    first, third = plan.cards[0], plan.cards[2]
    assert [need.title for need in first.ready] == ["A2", "A1"]
    assert "cut off now, for its ball is in use when row 3 (RS) wants it" in str(first)
    assert "A2" in [need.title for need in third.ready]
    wanted = ready_for_sitting(plan, 0, 2)
    assert [each.what for each in wanted] == ["A2", "A1"]
    assert wanted[0].held == "loose strand, cut off before its ball is in use"


def test_a_second_ball_is_free():
    yarns = {"A": Yarn("A", metres_per_ball=50, grams_per_ball=25, balls_in_hand=2)}
    assert earlier(plan_of(TWO_SIDES, yarns, choices=(FED,))) == {}


def test_nothing_is_cut_early_where_no_ball_is_in_use():
    assert earlier(plan_of(TWO_SIDES)) == {}
