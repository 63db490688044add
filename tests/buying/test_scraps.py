"""The basket: what scraps surely hold, by hand, and every strand on one of them."""

from dataclasses import replace

import pytest

from planner import Yarn, make_plan, open_project
from planner.buying import basket_table, fill_baskets, weighed
from planner.buying.fitting import SCRAP
from planner.buying.lots import pieces_of_one_length
from planner.workbook import Desk
from tests.helpers.forms import work_rows
from tests.helpers.plans import RANDOM_PLANS, plan_of, random_plan


def test_what_wool_surely_holds_by_hand():
    """34 g of 100 m in 50 g are 68 m.

    A band's ±10 % and a tenth by the weather, each evenly within it, are 5.77 % each, 392.6 cm; a
    step of 1 g is 0.289 g, 57.7 cm. Together √(2 × 392.6² + 57.7²) = 558.2 cm, × 1.96 = 1094.1 cm.
    """
    assert weighed(34, 2, weather=True).low_cm == pytest.approx(6800 - 1094.1, abs=0.2)
    # 57.06 m, of which each list takes whole centimetres, down to 5.
    yarns = {"A": Yarn("A", metres_per_ball=100, grams_per_ball=50, part_balls_g=(34.0,))}
    (basket,) = fill_baskets(plan_of(["AAAA"] * 6, yarns))
    (place,) = basket.places
    assert (place.kind, place.title) == (SCRAP, "part ball of 34 g")
    assert place.holds_cm == 5705
    # Not of wool, and on a finer scale, it is surer.
    (surer,) = fill_baskets(plan_of(["AAAA"] * 6, yarns), step=0.1, wool=False)
    assert surer.places[0].holds_cm > place.holds_cm


def test_a_small_piece_by_hand():
    """Two strands of 10 stitches and 4 rows, 2 cm a stitch: 80 cm each, tails of 2 cm at each end.

    Neither fits on the scrap of 1 g, 65 cm at the least; one fits on that of 2 g.
    """
    yarns = {"A": Yarn("A", metres_per_ball=1, grams_per_ball=1, part_balls_g=(1.0, 2.0))}
    plan = plan_of(["A" * 10 + "B" * 4 + "A" * 10] * 4, yarns)
    a, b = fill_baskets(plan, step=0.01, wool=False)
    assert b.fit is None
    assert "length of a ball is missing" in b.in_words
    strands = {place.title: place.strands for place in a.places}
    lengths = set(pieces_of_one_length(plan, "A"))
    assert {"A1", "A2"} <= lengths
    assert strands["part ball of 1 g"] == ()
    assert len(a.too_long) + sum(len(each) for each in strands.values()) == len(lengths)


@pytest.mark.parametrize("number", range(RANDOM_PLANS))
def test_every_strand_lies_whole_on_one_place(number):
    plan = random_plan(number)
    for basket in fill_baskets(plan):
        letter = basket.yarn.letter
        lengths = pieces_of_one_length(plan, letter)
        put = [label for place in basket.places for label in place.strands]
        put += basket.too_long
        assert sorted(set(put) - {"the swatch"}) == sorted(lengths)
        assert len(put) == len(set(put))
        units = plan.project.units
        for place in basket.places:
            pieces = [piece for label in place.strands for piece in lengths.get(label, ())]
            takes = sum(piece.to_measure_cm(units) for piece in pieces)
            swatch = sum(n.swatch_cm for n in plan.needed if n.yarn.letter == letter)
            takes += swatch if "the swatch" in place.strands else 0
            assert takes == pytest.approx(place.takes_cm)
            assert takes <= place.holds_cm + 1e-6


def test_what_is_begun_lies_on_what_was_in_hand_at_cast_on(demo_copy):
    """It took its yarn from there: if it were left out, a scrap would be given away twice."""
    desk = Desk(open_project(demo_copy))
    before = desk.plan
    work_rows(desk)
    put, begun = set(), set()
    baskets = fill_baskets(desk.plan)
    for basket in baskets:
        begun.update(basket.begun)
        for place in basket.places:
            put.update(place.strands)
    first_row = {piece.strand for piece in before.pieces if piece.begins == 0}
    assert first_row
    assert begun == first_row
    assert first_row <= put
    assert "the swatch" not in put
    table = basket_table(baskets, "cm")
    told = ", ".join(table.strands).split(", ")
    assert {label for label in told if label.endswith(" (begun)")} == {
        f"{label} (begun)" for label in first_row
    }


def test_the_table_in_yards():
    plan = random_plan(0)
    inches = make_plan(replace(plan.project, units="in"))
    table = basket_table(fill_baskets(inches), "in")
    assert not [name for name in table if name.endswith(("_m", "_cm"))]
