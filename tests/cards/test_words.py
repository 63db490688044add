"""The words of the cards are told where they stand, and nothing of the cards' words is left out."""

import re

import pytest

from planner import Chart, Project, make_plan
from planner.cards import words_of_cards
from planner.edition import handout_of, make_lesson, plain_text, practice_piece
from planner.paper import cards_page
from planner.twists import advise
from tests.helpers import plans

LIKE = Project("like", Chart.from_rows(["A"]))
# What a newcomer asked about, beside what a card says where she met it.
ASKED = {
    "new, tail 15 cm": ("New", "Tail"),
    "cut, tail 15 cm": ("Cut",),
    "At each border: ": ("Border", "Cross"),
    "begin C1 from its middle": ("Begin from its middle", "a, b"),
    "take up C1b": ("Take up",),
    "then take it along": ("Take along, carry",),
    "hangs 1 stitch to the left": ("Hangs 1 stitch to the left or right", "Left, right"),
    "hang at once: easy.": ("Hang at once",),
    "catch C2 at the 3rd": ("Catch",),
    "catch the float of C2 at the 3rd": ("Catch", "Float"),
    "leave it hanging for row 3": ("Let hang, leave hanging",),
    "its yarn on top.": ("Its yarn on top",),
}


@pytest.mark.parametrize("said", ASKED)
def test_what_stands_on_a_card_is_told(said):
    words = words_of_cards([said])
    assert set(ASKED[said]) <= set(words)
    assert set(words) <= {"Strand", "Tail", *ASKED[said]}


def test_nothing_is_told_that_no_card_says():
    plain = plans.plan_of(["AABB"] * 4)
    words = words_of_cards(map(str, plain.cards))
    assert "Border" in words
    assert not {"Float", "Take up", "Begin from its middle", "Take along, carry"} & set(words)


def test_the_same_words_in_handout_and_phone():
    """Common practice, no source: where a yarn is cut or runs behind, it is crossed as well."""
    plan = make_plan(practice_piece(LIKE))
    texts = [*map(str, plan.all_cards.rows), *(str(advice) for advice in advise(plan))]
    words = words_of_cards(texts)
    handout = " ".join(plain_text(handout_of(make_lesson(LIKE))).decode().split())
    phone = " ".join(re.sub("<[^>]+>", " ", cards_page(plan).decode()).split())
    for word in ("Border", "Cross", "Begin from its middle", "Take along, carry"):
        assert words[word] in handout
        assert words[word] in phone
    assert "where the old one has been cut: then with its tail" in words["Cross"]
    assert "cross going in and coming out" in words["Take along, carry"]


def test_the_handout_tells_balls_as_the_cards_do():
    """Each row's turn and each ball to lay out stand in the handout as on the other cards."""
    lesson = make_lesson(LIKE)
    handout = " ".join(plain_text(handout_of(lesson)).decode().split())
    told = [sentence for each in advise(lesson.plan) for sentence in (*each.before, *each.after)]
    assert len(told) >= len(lesson.plan.cards) - 1
    for sentence in told:
        assert handout.count(sentence) == told.count(sentence)
