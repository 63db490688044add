"""The picture of the balls' yarns: which goes where, and which passes in front."""

from dataclasses import replace

import pytest

from planner import CarryLimits, Chart, Project, make_plan
from planner.pictures import draw_moves, draw_tangle
from planner.pictures.twists import (
    Stretch,
    ball_colours,
    follow,
    goes_right_in_front,
    seen_from_her_seat,
)
from planner.piece import BALL, SAME_WAY, Construction, Habits, OwnChoice
from planner.twists import Move, advise, as_word, reduce_word, twist_ledger
from tests.helpers.drawn import words_in
from tests.helpers.plans import V, plan_of


def test_yarns_that_do_not_cross_go_straight_up():
    stretches, needle = follow("ab", [])
    assert needle == ["a", "b"]
    assert stretches == [Stretch("a", 0, 0, 0, False), Stretch("b", 0, 1, 1, False)]


@pytest.mark.parametrize(
    ("letter", "crossing"),
    [
        (1, [Stretch("b", 0, 1, 0, False), Stretch("a", 0, 0, 1, True)]),
        (-1, [Stretch("a", 0, 0, 1, False), Stretch("b", 0, 1, 0, True)]),
    ],
)
def test_the_yarn_on_the_left_passes_in_front_if_the_sign_is_more_than_0(letter, crossing):
    """What stays is drawn first, then the yarn behind, then the one in front."""
    stretches, needle = follow("abc", [letter])
    assert stretches == [Stretch("c", 0, 2, 2, False), *crossing]
    assert needle == ["b", "a", "c"]


def test_yarns_go_on_where_the_last_crossing_left_them():
    """By eye: a goes over b, then over c."""
    stretches, needle = follow("abc", [1, 2])
    assert [(s.step, s.start, s.stop) for s in stretches if s.ball == "a"] == [(0, 0, 1), (1, 1, 2)]
    assert needle == ["b", "c", "a"]


def fed_from_balls(rows=6, **asked):
    """Three stripes, each from a ball."""
    piece = Project("stripes", Chart.from_rows(["AAABBBCCC"] * rows), **asked)
    strands = make_plan(piece).strands.itertuples()
    choices = [OwnChoice("supply", s.yarn, 1, s.first_stitch, "whole", BALL) for s in strands]
    return make_plan(replace(piece, choices=tuple(choices)))


def test_yarns_come_to_the_needle_in_the_order_of_the_ledger():
    tangles = twist_ledger(fed_from_balls())[:-1]
    assert not all(tangle.clear for tangle in tangles)
    for tangle in tangles:
        assert len(tangle.table) == 3
        word = reduce_word(as_word(tangle.table, tangle.crossings))
        assert tuple(follow(tangle.table, word)[1]) == tangle.needle


def test_each_ball_has_the_colour_of_its_yarn():
    """Yarns of several letters, and the halves of a strand begun from its middle."""
    plan = make_plan(Project("post", Chart.from_rows([["MC", "MC", "b", "MC", "MC"]] * 2)))
    colours = {letter: yarn.colour for letter, yarn in plan.project.all_yarns.items()}
    assert colours["MC"] != colours["b"]
    by_ball = ball_colours(plan)
    assert by_ball["b1"] == colours["b"]
    assert by_ball["MC1"] == by_ball["MC1a"] == by_ball["MC1b"] == colours["MC"]


def test_halves_on_balls_have_their_names_in_the_picture():
    """Both halves of the V's length from balls, beside the ground's ball."""
    halves = [OwnChoice("supply", "B", 1, 16, half, BALL) for half in ("first half", "second half")]
    ground = OwnChoice("supply", "A", 1, 1, "whole", BALL)
    plan = plan_of(V, limits=CarryLimits(across=1), choices=(*halves, ground))
    tangle = twist_ledger(plan)[2]
    assert set(tangle.table) == {"A1", "B1a", "B1b"}
    texts = [text.get_text() for text in draw_tangle(plan, tangle).axes[0].texts]
    assert texts == [*(f"● {ball}" for ball in tangle.table), *tangle.needle]


def test_the_picture_names_the_balls_at_both_ends():
    plan = fed_from_balls()
    tangle = twist_ledger(plan)[0]
    figure = draw_tangle(plan, tangle)
    texts = [text.get_text() for text in figure.axes[0].texts]
    assert texts == [*(f"● {ball}" for ball in tangle.table), *tangle.needle]
    assert "After row 1, turned towards" in words_in(figure)


def cleared(**asked):
    """The plan and the first advice with moves, where every row adds a turn."""
    plan = fed_from_balls(30, **asked)
    return plan, next(each for each in advise(plan) if each.moves)


def test_the_yarns_are_seen_as_the_knitter_sees_them():
    """By hand: the RS as it is charted, for either hand; on the WS its mirror image."""
    for hand, row in (("right", 0), ("left", 0), ("right", 1), ("left", 1)):
        advice = advise(fed_from_balls(how=Construction(hand=hand)))[row]
        seen = seen_from_her_seat(advice, advice.needle)
        expected = {"A1": 0, "B1": 1, "C1": 2} if row == 0 else {"A1": 2, "B1": 1, "C1": 0}
        assert seen == expected


@pytest.mark.parametrize("hand", ["right", "left"])
def test_the_arrow_says_what_the_words_say(hand):
    """Anticlockwise, seen from above, is to the right in front; so is the right edge going away."""
    _, advice = cleared(habits=Habits(turning=SAME_WAY), how=Construction(hand=hand))
    for turns in (1, -1):
        passed = Move("A1", "B1", turns)
        words = advice.words.move(passed)
        assert goes_right_in_front(advice, passed) is ("anticlockwise" in words)
        turned = Move("", "", turns)
        words = advice.words.move(turned)
        assert goes_right_in_front(advice, turned) is ("right edge goes away" in words)


def test_each_move_has_a_panel_with_all_balls():
    plan, advice = cleared(habits=Habits(turning=SAME_WAY, twists_allowed=1))
    figure = draw_moves(plan, advice)
    assert len(figure.axes) == len(advice.moves)
    for ax in figure.axes:
        assert sorted(text.get_text() for text in ax.texts if text.get_text()) == ["A1", "B1", "C1"]
    assert len(words_in(figure)) >= 3


def test_how_often_stands_above():
    plan, advice = cleared(habits=Habits(turning=SAME_WAY))
    assert abs(advice.moves[0].turns) == 3
    assert "3 ×" in words_in(draw_moves(plan, advice))
