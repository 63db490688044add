"""The sketch of hand moves: which ball goes round which yarn, and which way."""

from dataclasses import replace

import pytest

from planner import Chart, Project, make_plan
from planner.pictures import draw_moves
from planner.pictures.twists import (
    ball_colours,
    goes_right_in_front,
    seen_from_her_seat,
)
from planner.piece import BALL, SAME_WAY, Construction, Habits, OwnChoice
from planner.twists import Move, advise
from tests.helpers.drawn import words_in


def fed_from_balls(rows=6, **asked):
    """Three stripes, each from a ball."""
    piece = Project("stripes", Chart.from_rows(["AAABBBCCC"] * rows), **asked)
    strands = make_plan(piece).strands.itertuples()
    choices = [OwnChoice("supply", s.yarn, 1, s.first_stitch, "whole", BALL) for s in strands]
    return make_plan(replace(piece, choices=tuple(choices)))


def test_each_ball_has_the_colour_of_its_yarn():
    """Yarns of several letters, and the halves of a strand begun from its middle."""
    plan = make_plan(Project("post", Chart.from_rows([["MC", "MC", "b", "MC", "MC"]] * 2)))
    colours = {letter: yarn.colour for letter, yarn in plan.project.all_yarns.items()}
    assert colours["MC"] != colours["b"]
    by_ball = ball_colours(plan)
    assert by_ball["b1"] == colours["b"]
    assert by_ball["MC1"] == by_ball["MC1a"] == by_ball["MC1b"] == colours["MC"]


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
        assert goes_right_in_front(advice, turned) is ("at your right hand goes away" in words)


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
