"""The picture of the balls' yarns: which goes where, and which passes in front."""

import pytest

from planner import CarryLimits, Chart, Project, make_plan
from planner.pictures import draw_tangle
from planner.pictures.twists import Stretch, ball_colours, follow
from planner.piece import BALL, OwnChoice
from planner.twists import as_word, reduce_word, twist_ledger
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


def fed_from_balls():
    """Three stripes, each from a ball; the first row is entered at stitches 1, 4 and 7."""
    begins = {"C": 1, "B": 4, "A": 7}
    choices = [
        OwnChoice("supply", yarn, 1, stitch, "whole", BALL) for yarn, stitch in begins.items()
    ]
    stripes = Chart.from_rows(["AAABBBCCC"] * 6)
    return make_plan(Project("stripes", stripes, choices=tuple(choices)))


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
