"""The headings of notebook 3's folds, which say how things stand."""

import re
from dataclasses import replace

import pytest

from planner import CarryLimits, Yarn, make_plan, open_project
from planner.paper.first_page import glance
from planner.paper.lists import Pieces
from planner.paper.signs import Signs
from planner.piece import Construction, Habits, MultiplierChoice
from planner.units import between
from planner.workbook import Desk, choice_headings, hand_form, headings
from planner.workbook.beside_the_card import lasting, lasts_html
from planner.workbook.buying import buying_html
from planner.workbook.results import result_html
from planner.workbook.what_follows import how_bought
from planner.workbook.yarn_plan import supply_choice
from tests.conftest import DEMO
from tests.helpers.forms import small


@pytest.fixture(scope="module")
def demo():
    return make_plan(open_project(DEMO))


def test_the_headings_of_the_demo(demo):
    """Each figure stands in one of the plan's tables, too."""
    said = [
        *(headings.carrying(demo), headings.ways_of_holding(demo), headings.how_much_yarn(demo)),
        *(headings.lengths(demo), headings.fullest_rows(demo)),
        *(headings.ends(demo), headings.shopping(demo), headings.winding(demo)),
    ]
    assert said == [
        "Carrying: sideways 2.5 cm, up 2 rows; N across 1 stitch",
        "How the yarns are held: at a table, up to 4 balls beside the work",
        "How much yarn: between 3.0 and 4.4 times the knitted width (an estimate), what you "
        "measured is not planned with yet, tails 15 cm, 1 strand in 20 may fall short",
        "What makes up each length: 128 m in the stitches, 9.9 m of tails, 27 m of margin, 4.8 m "
        "of carries, edges and rounding up; 169 m in the piece",
        "How full the rows are: at most 9 hang at once, 33 rows busy",
        "Ends: 66 in 23 colour areas",
        "Shopping list: 1 ball of N Midnight; 2 things to mind first",
        "How to wind: 22 loose strands, 3 butterflies, 4 bobbins, 6 from the ball",
    ]
    assert (demo.rows.load == "busy").sum() == 33
    assert demo.winding_list.pieces.sum() == 22 + 3 + 4 + 6


@pytest.mark.parametrize(
    ("limits", "by_yarn", "words"),
    [
        (CarryLimits(0, 0, 0), {}, "nothing is carried"),
        (CarryLimits(0, 5, 1), {}, "sideways 5 stitches, up 1 row"),
        (
            CarryLimits(1, "1 in", 0, False),
            {},
            "across 1 stitch, sideways 2.54 cm; nothing begun from its middle",
        ),
        (
            CarryLimits(2),
            {"A": CarryLimits(0, middle_start=False)},
            "across 2 stitches, sideways 5 stitches, up 2 rows; "
            "A not across, not begun from its middle",
        ),
        # What is no different, or on no chart, is not told.
        (CarryLimits(up=0), {"A": CarryLimits(up=0), "Z": CarryLimits(7)}, "sideways 5 stitches"),
    ],
)
def test_carrying(limits, by_yarn, words):
    assert headings.carrying(small(limits=limits, by_yarn=by_yarn).plan) == f"Carrying: {words}"


def test_carrying_in_inches():
    plan = small(limits=CarryLimits(sideways="2.54 cm"), units="in").plan
    assert headings.carrying(plan) == "Carrying: sideways 1 in, up 2 rows"


@pytest.mark.parametrize(
    ("habits", "words"),
    [
        (Habits(place="train"), "in a train, no balls"),
        (Habits(place="sofa"), "on a sofa, up to 2 balls beside the work"),
        (Habits(balls_on_table=1), "at a table, up to 1 ball beside the work"),
        (
            Habits(place="train", elsewhere="1-3 sofa"),
            "in a train, no balls, rows 1–3 on a sofa",
        ),
    ],
)
def test_ways_of_holding(habits, words):
    said = headings.ways_of_holding(small(habits=habits).plan)
    assert said == f"How the yarns are held: {words}"


def test_own_choices_are_counted():
    desk = small()
    desk.change(choices=(supply_choice(desk.plan.traced, "B1", "bobbin"),))
    assert headings.ways_of_holding(desk.plan).endswith("1 choice of your own")


@pytest.mark.parametrize(
    ("choice", "words"),
    [
        (
            MultiplierChoice("rule of three"),
            "3.00 times the knitted width (the plain rule of three, without a margin), tails 15 cm",
        ),
        (
            MultiplierChoice("own", 3.4),
            "3.40 times the knitted width (your own figure), tails 15 cm, "
            "1 strand in 20 may fall short",
        ),
        # Nothing has been measured so far.
        (
            MultiplierChoice("measured"),
            "between 3.0 and 4.4 times the knitted width (an estimate), tails 15 cm, "
            "1 strand in 20 may fall short",
        ),
    ],
)
def test_how_much_yarn(choice, words):
    assert headings.how_much_yarn(small(multiplier=choice).plan) == f"How much yarn: {words}"


def test_what_is_known_is_told_by_yarn_in_the_same_words_everywhere(demo):
    """One yarn measured: its range is its own, and the others have theirs, which is wider."""
    once = tuple(line for line in demo.project.measurements if line.number == 2)
    project = replace(demo.project, measurements=once, multiplier=MultiplierChoice("measured"))
    plan = make_plan(project)
    assert once[0].yarn == "W"
    own, rest = plan.multipliers["W"], plan.multipliers["N"]
    assert rest.spread > 1.2 * own.spread
    ranges = [between(each.value, each.spread) for each in (own, rest)]
    words = (
        f"W {ranges[0]} times the knitted width (measured); "
        f"K, N, R, T, Y {ranges[1]} times (an estimate)"
    )
    assert headings.how_much_yarn(plan).startswith(f"How much yarn: {words}, tails")
    assert plan.how_sure().startswith(f"Yarn a row takes: {words}. Wound")
    assert plan.how_sure() in plan.summary()
    desk = Desk(project, plan=plan)
    assert f"Yarn a row takes: {words}." in hand_form(desk).words()


def test_rounds_are_called_so():
    plan = small(how=Construction(worked="rounds"), habits=Habits(elsewhere="1-2 train")).plan
    assert "up 2 rounds" in headings.carrying(plan)
    assert "rounds 1–2 in a train" in headings.ways_of_holding(plan)
    assert headings.fullest_rows(plan).endswith("all rounds easy")


def test_shopping_says_what_it_does_not_know():
    """Yarns without a band: their balls cannot be counted."""
    ask = "not known (say in notebook 1 what a ball holds, and how many are in hand)"
    assert headings.shopping(small().plan) == f"Shopping list: A, B: {ask}"
    bands = {letter: Yarn(letter, metres_per_ball=100, balls_in_hand=1) for letter in "AB"}
    in_hand = small(yarns=bands).plan
    assert headings.shopping(in_hand) == "Shopping list: nothing, all is in hand"
    to_buy = small(yarns={"A": Yarn("A", metres_per_ball=100)}).plan
    assert headings.shopping(to_buy) == f"Shopping list: 1 ball of A; B: {ask}"


# Words that say that there is enough.
ENOUGH = re.compile(r"nothing to buy|all is in hand|can be told, yes|only just")


@pytest.mark.parametrize("known", ["", "A"])
def test_nowhere_is_anything_said_to_suffice_of_which_nothing_is_known(known):
    """Every place that tells what is to buy, or whether it lasts, names the yarns instead."""
    bands = {letter: Yarn(letter, metres_per_ball=100, balls_in_hand=1) for letter in known}
    plan = small(yarns=bands).plan
    unknown = [letter for letter in "AB" if letter not in known]
    told = {
        "headline": result_html(plan),
        "shopping heading": headings.shopping(plan),
        "shopping": how_bought(plan),
        "buying heading": choice_headings.to_buy(plan),
        "buying": buying_html(plan, pieces=1, mirrored=0, lots="none"),
        "lasting": lasting(plan),
        "lasting in full": lasts_html(plan, ()),
        "sheet": " ".join(glance(Pieces(plan, Signs(plan.project)))["notes"]),
    }
    for place, words in told.items():
        assert "not known" in words, place
        for letter in unknown:
            assert re.search(rf"\b{letter}\b", words), place
        assert not ENOUGH.search(words), place
    chances = re.findall(r"<td[^>]*>(\d+|not known)</td></tr>", told["lasting in full"])
    assert chances.count("not known") == len(unknown)
