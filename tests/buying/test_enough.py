"""Is there enough: shopping list, basket and will-it-last never contradict each other in words.

What is read is what a knitter reads: the words and tables of the three, not the record itself.
"""

import re
from dataclasses import replace

import numpy as np
import pytest

from planner import Yarn, make_plan
from planner.buying import BASKET, LASTS, LIST, enough_of, fill_baskets
from planner.buying.lots import pieces_of_one_length
from planner.knitting import will_yarns_last
from planner.piece import Allowances
from planner.workbook.basket import basket_html
from planner.workbook.beside_the_card import lasting
from tests.helpers.plans import RANDOM_PLANS, plan_of, random_plan
from tests.helpers.progress import knitted


def with_basket(number):
    """A random piece, some rows of it worked, with random scraps and balls of each yarn."""
    rng = np.random.default_rng(number)
    plan = random_plan(number % RANDOM_PLANS)
    yarns = {}
    for letter in plan.project.chart.letters:
        metres = float(rng.choice([8, 20, 60]))
        scraps = tuple(float(g) for g in rng.integers(1, 25, size=rng.integers(0, 4)))
        balls = float(rng.integers(0, 2))
        yarns[letter] = Yarn(
            letter,
            metres_per_ball=metres,
            grams_per_ball=25,
            balls_in_hand=balls,
            part_balls_g=scraps,
        )
    spare = float(rng.choice([0, 0.1]))
    allow = replace(plan.project.allow, spare=spare)
    plan = make_plan(replace(plan.project, yarns=yarns, allow=allow))
    done = int(rng.integers(0, plan.traced.runs.rows + 1))
    return make_plan(replace(plan.project, progress=knitted(plan, done)))


def read_off(plan):
    """What the three say, by yarn, off their tables and sentences: balls, or whether it lasts."""
    listed = plan.shopping_list.set_index("yarn").balls_to_buy
    lasts = will_yarns_last(plan, plan.project.progress).set_index("yarn")
    said = {}
    for basket in fill_baskets(plan):
        letter = basket.yarn.letter
        words = re.search(r"to buy: (nothing|\d+) ?", basket.in_words)[1]
        balls = 0 if words == "nothing" else int(words)
        percent = lasts.chance_it_lasts_percent[letter]
        said[letter] = {LIST: int(listed[letter]), BASKET: balls, LASTS: int(percent)}
    return said


@pytest.mark.parametrize("number", range(4 * RANDOM_PLANS))
def test_none_says_otherwise_without_saying_so(number):
    plan = with_basket(number)
    said = read_off(plan)
    for each in enough_of(plan):
        of_yarn = said[each.needed.yarn.letter]
        for view in (LIST, BASKET, LASTS):
            told = " ".join(each.why_others_differ(view, "cm"))
            for other in {LIST, BASKET, LASTS} - {view}:
                is_told = f": {other} (" in told
                mine, others = of_yarn[view], of_yarn[other]
                if LASTS in (view, other):
                    sure = of_yarn[LASTS] >= 75
                    balls = others if view == LASTS else mine
                    assert is_told == (sure != (balls == 0))
                else:
                    assert is_told == (mine != others)
                if is_told and other == LASTS:
                    assert f"lasts with {others} %" in told
                elif is_told:
                    words = f"buy {others} ball" if others else "nothing to buy"
                    assert f") says: {words}" in told


@pytest.mark.parametrize("number", range(RANDOM_PLANS))
def test_the_basket_holds_every_strand_and_says_which_are_begun(number):
    plan = with_basket(number)
    done = len(plan.project.progress)
    for basket in fill_baskets(plan):
        lengths = pieces_of_one_length(plan, basket.yarn.letter)
        put = [label for place in basket.places for label in place.strands]
        assert set(lengths) == (set(put) | set(basket.too_long)) - {"the swatch"}
        begun = [label for label in lengths if min(p.begins for p in lengths[label]) < done]
        assert list(basket.begun) == begun
        assert all(label in basket.in_words for label in begun)
        assert ("Begun already" in basket.in_words) == bool(begun)


def plan_with_scraps(*grams, rows=8, done=0):
    """Two blocks of A, each 10 stitches wide, beside B: 20 m and 20 g a ball of A, sure bands."""
    yarns = {"A": Yarn("A", metres_per_ball=20, grams_per_ball=20, part_balls_g=grams)}
    allow = Allowances(swatch_in="no yarn", label_error=0, spare=0.1, tail_cm=10)
    plan = plan_of(["A" * 10 + "B" * 4 + "A" * 10] * rows, yarns, allow=allow)
    return make_plan(replace(plan.project, progress=knitted(plan, done)))


def test_scraps_are_not_used_twice():
    """What A1 and A2 took of the scraps when they were begun is not there for others any more: the
    basket of a piece on the needles is that of its cast-on."""
    for done in (0, 1, 5, 8):
        plan = plan_with_scraps(2.8, 1.5, done=done)
        (basket, *_) = fill_baskets(plan, step=0.01, wool=False)
        assert basket.buy == 1
        assert ("Begun already, counted with what was wound for them" in basket.in_words) == (
            done > 0
        )


def test_yarn_that_is_short_for_the_binding_off_does_not_last():
    """Scraps that are too small by the tenth of what is needed: at the end, when only binding off
    is to come, there is less left than needed, and no chance of lasting."""
    chances = []
    for grams in (2.0, 30.0):
        plan = plan_with_scraps(grams, done=8)
        table = will_yarns_last(plan, plan.project.progress).set_index("yarn")
        line = table.loc["A"]
        assert line.still_needed_m > 0
        is_enough = line.left_likely_m >= line.still_needed_m
        assert line.chance_it_lasts_percent == (100 if is_enough else 0)
        chances.append(int(line.chance_it_lasts_percent))
    assert chances == [0, 100]


def test_the_heading_names_what_the_list_has_to_be_safe():
    plan = plan_with_scraps(2.8, 1.5, done=2)
    a, _ = enough_of(plan)
    assert a.needed.to_buy == 1
    assert "of yarn A too little may be in hand" in lasting(plan)
    # 1 g is 1 m: as much as it likely takes and a little, not as much as is to be safe.
    needs = a.lasts.used_cm + a.lasts.needs_cm
    plan = plan_with_scraps(round(needs / 100 * 1.06, 1), done=2)
    a, _ = enough_of(plan)
    assert a.needed.to_buy == 1
    assert a.lasts.is_likely
    assert "to be safe the shopping list has 1 ball of A" in lasting(plan)
    page = basket_html(plan, step=0.01, wool=False)
    assert "Begun already" in page
