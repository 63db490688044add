"""The words for balls, the habits that they follow, and the lines of the log."""

import re
from dataclasses import replace

import pytest

from planner import Chart, Construction, PlanError, Project, Yarn, make_plan
from planner.folder.settings import settings_text
from planner.piece import BALL, CLEARED, Entry, Habits, OwnChoice
from planner.twists import ALL_CLEAR, Laid, Move, Words, advise
from planner.twists.words import clearings_in

RIGHT, LEFT = Words(Construction()), Words(Construction(hand="left"))


@pytest.mark.parametrize(
    ("move", "right", "left"),
    [
        (
            Move("A2", "B1", -1),
            "Pass ball A2 once round B1's yarn, close under the needle, anticlockwise seen from "
            "above.",
            "Pass ball A2 once round B1's yarn, close under the needle, clockwise seen from above.",
        ),
        (
            Move("A2", "B1", 3, ("C1", "D1", "E1")),
            "Pass ball A2, in front of the yarns of C1, D1 and E1, 3 times round B1's yarn, close "
            "under the needle, clockwise seen from above.",
            "Pass ball A2, in front of the yarns of C1, D1 and E1, 3 times round B1's yarn, close "
            "under the needle, anticlockwise seen from above.",
        ),
        (
            Move("A1", "A2", -2, spin=True),
            "Spin the ball of A1 and A2 twice, anticlockwise seen from above.",
            "Spin the ball of A1 and A2 twice, clockwise seen from above.",
        ),
        (
            Move("", "", -1),
            "Turn the work round once, so that first the edge at your left hand goes away from "
            "you.",
            "Turn the work round once, so that first the edge at your right hand goes away from "
            "you.",
        ),
    ],
)
def test_moves_in_words(move, right, left):
    """A turn of a RS row is taken out by −1: anticlockwise for a right-hander (by hand)."""
    assert (RIGHT.move(move), LEFT.move(move)) == (right, left)
    for words in (RIGHT, LEFT):
        assert words.logged(words.log([move]), "") == [move._replace(spin=False)]


AWAY = re.compile(r"the edge at your (left|right) hand goes away from you")


@pytest.mark.parametrize("hand", ["right", "left"])
def test_turned_as_the_cards_say_the_work_goes_to_and_fro(hand):
    """By hand: seen from above, it goes round clockwise by half a turn where the edge at the left
    hand goes away, and is as it was after every second row. Were left and right those of the chart,
    which a WS row has at the other hand, it would go round and round.
    """
    chart = Chart.from_rows(["AAAAAABBBBBB"] * 40)
    yarns = {letter: Yarn(letter, metres_per_ball=100, balls_in_hand=1) for letter in "AB"}
    plan = make_plan(Project("piece", chart, yarns, how=Construction(hand=hand)))
    half_turns = as_on_the_chart = 0
    # After the last row it is bound off.
    for row, advice in enumerate(advise(plan)[:-1]):
        (side,) = AWAY.findall(" ".join(advice.after))
        clockwise = 1 if side == "left" else -1
        half_turns += clockwise
        as_on_the_chart += clockwise if plan.cards[row].side == "RS" else -clockwise
        assert half_turns == (0 if row % 2 else clockwise)
    assert abs(as_on_the_chart) == len(plan.cards) - 1


def test_where_a_new_ball_is_laid():
    def laid(table, at):
        return Laid("C1", table, at, twin="", later=False, hint="")

    two = ("A1", "B1")
    assert (
        RIGHT.lay(laid(two, 1)) == "On the table: lay ball C1 between A1 and B1, its yarn on top."
    )
    assert RIGHT.lay(laid(two, 0)) == "On the table: lay ball C1 right of A1, its yarn on top."
    assert LEFT.lay(laid(two, 0)) == "On the table: lay ball C1 left of A1, its yarn on top."
    assert LEFT.lay(laid(two, 2)) == "On the table: lay ball C1 right of B1, its yarn on top."
    assert RIGHT.lay(laid((), 0)) == "Lay ball C1 on the table."


def test_what_is_cleared_stays_so_when_its_row_is_taken_back():
    """Lines in any order of the file; an empty one withdraws; all clear is more than a move."""
    log = [
        Entry(4, "2026-01-01", "row undone", 2),
        Entry(1, "2026-01-01", CLEARED, 2, runs="A1 round B1, 1 clockwise"),
        Entry(2, "2026-01-01", CLEARED, 2, runs="work round, 2 left edge away"),
        Entry(3, "2026-01-01", CLEARED, 5, runs=ALL_CLEAR),
        Entry(5, "2026-01-01", CLEARED, 7, runs=ALL_CLEAR),
        Entry(6, "2026-01-01", CLEARED, 7),
    ]
    cleared = clearings_in(log, Construction())
    assert cleared == {1: [Move("A1", "B1", 1), Move("", "", -2)], 4: None}


@pytest.mark.parametrize(
    ("change", "words"),
    [
        ({"turning": "sideways"}, ["sideways", "alternate or same way"]),
        ({"first_turn": "up"}, ['"up"', "last edge away or first edge away"]),
        ({"twists_allowed": 0}, ["twists allowed", "0", "1 or more"]),
        ({"twists_allowed": 1.5}, ["twists allowed", "1.5", "whole number"]),
    ],
)
def test_strange_habits_are_refused(change, words):
    with pytest.raises(PlanError) as odd:
        Habits(**change)
    for word in words:
        assert word in str(odd.value)


def test_how_the_work_is_turned_is_kept_in_the_file():
    piece = Project("piece", Chart.from_rows(["AB"]), habits=Habits(turning="same way"))
    text = settings_text("", piece)
    assert 'turning = "same way"' in text
    assert 'first_turn = "last edge away"' in text
    assert "twists_allowed = 3" in text


def two_ends(both_ends):
    """Stripes of A, B and A from balls; there is one ball of A in hand and none to buy."""
    yarns = {"A": Yarn("A", metres_per_ball=100, balls_in_hand=1), "B": Yarn("B")}
    piece = Project(
        "piece",
        Chart.from_rows(["AAABBBAAA"] * 20),
        yarns,
        how=Construction("rounds"),
        habits=Habits(both_ends=both_ends),
    )
    strands = make_plan(piece).strands.itertuples()
    own = [OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL) for s in strands]
    return make_plan(replace(piece, choices=tuple(own)))


def test_the_two_ends_of_one_ball():
    """A ball whose other end is in use is never passed, and its own two yarns are turned by
    spinning it."""
    advice = advise(two_ends(both_ends=True))
    assert [laid.twin for laid in advice[0].laid] == ["", "", "A1"]
    assert (
        "On the table: take A2 from the other end of A1's ball, its yarn on top."
        in advice[0].before
    )
    moves = [move for each in advice for move in each.moves]
    assert moves
    for move in moves:
        assert move.ball in ("", "B1") or move.spin
    assert {laid.twin for laid in advise(two_ends(both_ends=False))[0].laid} == {""}
