"""The purse of a set: totals by another road, copies as they are bought elsewhere, lots.

Every figure is worked out from what a knitter reads: the winding list of each piece by itself.
"""

import math
from collections import defaultdict
from dataclasses import replace
from functools import cache

import numpy as np
import pandas as pd
import pytest

from planner import Chart, Gauge, Project, Yarn, make_plan, open_project
from planner.buying import (
    Member,
    buy_in_words,
    by_piece_table,
    copies,
    fill_purse,
    lot_of_pieces,
    lots_in_words,
    member_in_words,
    plans_in_order,
    purse_in_words,
    set_shopping_list,
    shop_for,
    singly_in_words,
    taken_table,
    used_table,
)
from planner.buying.lots import pieces_of_one_length
from planner.knitting import yarn_used
from planner.piece import WORKED, Allowances, Entry
from planner.units import counted, shown_totals
from planner.workbook import Desk
from planner.workbook.together import to_buy_table
from tests.helpers.forms import work_rows
from tests.helpers.knitter import draw_chart
from tests.helpers.plans import FOUR, GAUGE, PLAIN, demo, plan_of

CM = 100  # in a metre
SURE = 0.9  # of a ball that may be short by a tenth


def member(plan, folder, times=1, **counts):
    plans = plans_in_order(plan, times, **counts)
    finished = counts.get("finished", 0)
    return Member(folder, plan.project.name, plans, finished)


@cache
def random_piece(number):
    """A small random piece in yarns that are called alike in every such piece."""
    rng = np.random.default_rng(number)
    rows = draw_chart(number, stitches=18, rows=20, yarns=3, smooth=2)
    yarns = {
        letter: Yarn(letter, name, metres_per_ball=25, grams_per_ball=10)
        for letter, name in zip("ABC", ("Rust", "Sea", "Moss"), strict=True)
    }
    allow = Allowances(swatch_cm=float(rng.integers(3, 9)), spare=float(rng.integers(0, 3)) / 20)
    gauge = Gauge(int(rng.integers(18, 26)), 28)
    return make_plan(Project(f"piece {number}", Chart.from_rows(rows), yarns, gauge, allow=allow))


def swatch_cm(plan, title):
    """Rows of a square times its width times the multiplier, up to a tenth of a metre, by hand."""
    letter = {yarn.name: letter for letter, yarn in plan.project.yarns.items()}[title]
    side, gauge = plan.project.allow.swatch_cm, plan.project.gauge
    yarn_cm = side / (10 / gauge.rows) * side * plan.multipliers[letter].value
    return math.ceil(yarn_cm / 10 - 1e-9) * 10


def line_of(table, yarn):
    (line,) = table[table.yarn == yarn].to_dict("records")
    return line


# ---- totals


@pytest.mark.parametrize("number", range(0, 30, 3))
def test_metres_are_those_of_all_winding_lists(number):
    """Computed: lines read off each piece's own winding list, times the pieces on the line."""
    plans = [random_piece(number + step) for step in range(3)]
    times = [1, 2, 3]
    set_of = [
        member(plan, f"p{place}", count)
        for place, (plan, count) in enumerate(zip(plans, times, strict=True))
    ]
    purse = fill_purse(set_of, {})
    metres = defaultdict(float)
    for plan, count in zip(plans, times, strict=True):
        for line in plan.winding_list.to_dict("records"):
            metres[line["name"]] += count * line["pieces"] * line["length_m"]
    assert {each.title for each in purse.yarns} == set(metres)
    for each in purse.yarns:
        assert each.needed.piece_cm == pytest.approx(CM * metres[each.title])
        assert sum(share.length_cm for share in each.shares) == pytest.approx(each.needed.piece_cm)
        # The swatch is counted once: the largest that one of the pieces asks for, rounded up to
        # a tenth of a metre, and none that takes more than all that is knitted.
        swatches = [swatch_cm(plan, each.title) for plan in plans]
        most = max((cm for cm in swatches if cm <= each.needed.piece_cm), default=0)
        assert each.needed.swatch_cm == pytest.approx(most)
    by_piece = by_piece_table(purse, "cm")
    for title, length in by_piece.groupby("yarn").in_all_m.sum().items():
        assert length == pytest.approx(metres[title])


@pytest.mark.parametrize("times", [1, 2, 3])
@pytest.mark.parametrize("mirrored", [0, 1])
def test_copies_are_bought_as_copies_of_a_piece_are(times, mirrored):
    """A set of one piece is what the piece's own copies are, in notebook 5."""
    plan = demo()
    purse = fill_purse([member(plan, "cushion", times, mirrored=mirrored)], {})
    by_copies = shop_for(copies(plan, times, mirrored_count=mirrored))
    table = set_shopping_list(purse, "cm")
    expected = shown_totals(by_copies, "cm")
    for line in expected.to_dict("records"):
        own = line_of(table, line["name"])
        same = ("piece_m", "swatch_m", "spare_m", "total_m", "grams", "balls_used")
        assert {name: own[name] for name in same} == {name: line[name] for name in same}
        assert own["balls_to_buy"] == line["balls_to_buy"]
        if times == 1:
            assert own["bought_singly"] == line["balls_to_buy"]


@pytest.mark.parametrize("number", range(1, 30, 4))
def test_a_set_takes_no_more_than_its_pieces_singly(number):
    plans = [random_piece(number), random_piece(number + 1)]
    set_of = [member(plans[0], "a", 2), member(plans[1], "b", 3)]
    purse = fill_purse(set_of, {})
    for each in purse.yarns:
        # Each piece by itself, as its own shopping list has it, each as often as it is knitted.
        alone, swatches_cm = 0, 0
        for plan, count in zip(plans, (2, 3), strict=True):
            alone += count * sum(n.to_buy for n in plan.needed if n.yarn.name == each.title)
            own = [n.swatch_cm for n in plan.needed if n.yarn.name == each.title]
            swatches_cm += count * sum(own)
        assert each.buy <= sum(each.singly)
        # A swatch that is too large for each single piece is on none of their lists.
        if each.needed.swatch_cm <= swatches_cm:
            assert sum(each.singly) == alone
        else:
            assert alone <= sum(each.singly) <= alone + 1
        in_balls = each.needed.total_cm / (CM * 25 * SURE)
        assert each.buy >= math.ceil(in_balls - 1e-9)
    assert sum(sum(each.singly) for each in purse.yarns) > purse.to_buy


def test_five_pieces_by_hand():
    """Blocks of 10 stitches × 10 rows, 2 cm to the stitch: 200 cm and two tails of 15: 2.30 m.

    Five of them take 11.50 m. Nothing to spare, no swatch; balls of 3 m, taken as they are. Bought
    one by one each takes a ball; together 11.5 ÷ 3 = 3.83, so four do.
    """
    plain = replace(PLAIN, spare=0, label_error=0, swatch_in="no yarn")
    yarns = {"A": Yarn("A", "Rust", metres_per_ball=3)}
    plan = plan_of(["A" * 10] * 10, yarns, allow=plain)
    purse = fill_purse([member(plan, "square", 5)], {})
    line = line_of(set_shopping_list(purse, "cm"), "Rust")
    assert line["piece_m"] == 11.5
    assert line["balls_used"] == 3.83
    assert line["balls_to_buy"] == 4
    assert line["bought_singly"] == 5
    assert purse_in_words(purse, "cm") == (
        "5 pieces, 12 m of yarn to measure off. To buy: 4 balls. Bought piece by piece it would be "
        "5: here one swatch serves all pieces, and what one leaves of a ball goes into the next."
    )
    # One square leaves 0.70 m of its ball, 0.23 of it; the second begins with that.
    shares = purse.yarns[0].shares
    assert shares[0].taken[0].leaves == pytest.approx(0.7 / 3)
    assert shares[1].taken[0].rest == pytest.approx(0.7 / 3)
    assert shares[1].taken[0].rest_of == "piece 1"
    assert shares[4].taken[0].leaves == pytest.approx(0.5 / 3)
    assert lots_in_words(purse) == ["Rust: buy all 4 balls of one lot."]


def test_bought_singly_is_the_sum_of_the_single_lists():
    """A fox and two sleeves whose swatch tips each into one more ball: 2 + 2 × 2 = 6 by hand, as
    the three lists say that would be followed without the set."""
    yarns = {"A": Yarn("A", "Rust", metres_per_ball=3)}
    allow = replace(PLAIN, spare=0, label_error=0, swatch_cm=4)
    fox = plan_of(["A" * 10] * 10, yarns, allow=allow)
    sleeve = plan_of(["A" * 11] * 9, yarns, allow=allow)
    assert [plan.needed[0].to_buy for plan in (fox, sleeve)] == [2, 2]
    purse = fill_purse([member(fox, "fox"), member(sleeve, "sleeve", 2)], {})
    (each,) = purse.yarns
    assert each.singly == (2, 2, 2)
    assert singly_in_words(each) == "2 + 2 × 2 = 6"
    line = line_of(set_shopping_list(purse, "cm"), "Rust")
    assert line["bought_singly"] == 6
    assert "Bought piece by piece it would be 6:" in purse_in_words(purse, "cm")


@pytest.mark.parametrize("known", [False, True])
def test_what_is_not_known_is_never_nothing(known):
    """Of a yarn without metres nobody can say what is to be bought, whatever is known of others."""
    rust = Yarn("A", "Rust", metres_per_ball=3 if known else None)
    plan = plan_of(["A" * 10 + "B" * 10] * 10, {"A": rust, "B": Yarn("B", "Sea")})
    purse = fill_purse([member(plan, "square")], {})
    words = purse_in_words(purse, "cm")
    assert "To buy: nothing" not in words
    if known:
        balls = purse.yarns[0].buy
        assert balls
        assert buy_in_words(purse) == f"{counted(balls, 'ball')}; Sea: not known"
    else:
        assert buy_in_words(purse) == "Rust, Sea: not known"
    assert f"To buy: {buy_in_words(purse)}." in words
    assert singly_in_words(purse.yarns[1]) == ""
    table = to_buy_table(purse, "cm")
    line = line_of(table, "Sea")
    assert (line["balls_to_buy"], line["bought_singly"]) == ("not known", "not known")
    assert not table.loc[:, ["balls_used", "balls_to_buy", "bought_singly"]].isna().any(axis=None)


def test_what_is_in_hand_is_counted_once():
    """Two squares of 2.30 m, and a ball of 3 m in hand that both pieces name: one more is bought.
    Counted for each piece, nothing would be; counted for none, two."""
    plain = replace(PLAIN, spare=0, label_error=0, swatch_in="no yarn")
    yarn = Yarn("A", "Rust", metres_per_ball=3, balls_in_hand=1)
    plan = plan_of(["A" * 10] * 10, {"A": yarn}, allow=plain)
    other = plan_of(["B" * 10] * 10, {"B": replace(yarn, letter="B")}, allow=plain)
    purse = fill_purse([member(plan, "a"), member(other, "b")], {})
    (each,) = purse.yarns
    assert each.buy == 1  # 4.6 m less 3 m in hand
    line = line_of(set_shopping_list(purse, "cm"), "Rust")
    assert line["balls_in_hand"] == 1


def test_what_is_asked_about_is_not_counted_in_balls():
    plan = plan_of(["A" * 10] * 10, {"A": Yarn("A", "Rust", metres_per_ball=3)})
    other = plan_of(["A" * 10] * 10, {"A": Yarn("A", "Rust", metres_per_ball=5)})
    set_of = [member(plan, "a"), member(other, "b")]
    purse = fill_purse(set_of, {})
    assert len(purse.questions) == 1
    line = line_of(set_shopping_list(purse, "cm"), "Rust")
    assert line["piece_m"] == 4.6
    for column in ("balls_to_buy", "balls_used", "bought_singly", "balls_in_hand"):
        assert pd.isna(line[column])
    assert "Not counted before the questions are answered: Rust" in purse_in_words(purse, "cm")
    answered = fill_purse(set_of, {("name", "rust"): ("one yarn", "b")})
    assert answered.questions == ()
    assert answered.to_buy == 2  # 4.6 m and two twelfths of a swatch, in balls of 4.5 m


def test_a_band_that_is_lost_is_said():
    plan = plan_of(["AABB"] * 6, {"A": Yarn("A", "Rust"), "B": Yarn("B", "Sea", metres_per_ball=9)})
    purse = fill_purse([member(plan, "a", 2)], {})
    assert "No metres are known of Rust" in purse_in_words(purse, "cm")
    assert [each.lots is None for each in purse.yarns] == [True, False]


# ---- lots


def square(balls, lot="", **more):
    """Squares of 2.30 m each in a yarn of 3 m a ball, of which so many balls are in hand."""
    plain = replace(PLAIN, spare=0, label_error=0, swatch_in="no yarn")
    yarn = Yarn("A", "Rust", metres_per_ball=3, balls_in_hand=balls, dye_lot=lot)
    return plan_of(["A" * 10] * 10, {"A": yarn}, allow=plain, **more)


def test_each_piece_is_of_one_lot_if_that_can_be_helped():
    """Lots of 2 and 3 balls, 6 m and 9 m: two squares of 2.30 m fit one, three the other.

    Five squares, 11.50 m, fit no single lot; two of 041 and three of 042 is the only share in which
    none is of two (4.60 m of 6, 6.90 m of 9).
    """
    purse = fill_purse([member(square(5, "2 of 041, 3 of 042"), "square", 5)], {})
    (each,) = purse.yarns
    assert each.buy == 0
    assert each.mixed == []
    held = defaultdict(float)
    for share in each.shares:
        held[share.taken[0].lot] += share.length_cm
    assert held["041"] <= 600
    assert held["042"] <= 900
    assert each.lots.proven
    assert lots_in_words(purse) == ["Rust comes from 2 lots, each piece from one."]


def test_a_length_is_of_one_lot_so_that_a_ball_more_is_bought():
    """Six squares of one length of 2.30 m each take 13.80 m; in hand is a ball of each of three
    lots, 9 m. By length alone two more would do; but each ball of 3 m holds one square whole, and a
    new lot of 2 balls holds two, of 3 balls three."""
    purse = fill_purse([member(square(3, "1 of 1, 1 of 2, 1 of 3"), "square", 6)], {})
    (each,) = purse.yarns
    assert each.needed.to_buy == 2
    assert each.buy == 3
    assert each.mixed == []


def test_a_piece_of_two_lots_keeps_its_lengths_whole():
    plan = demo()
    plans = [member(plan, "back"), member(plan, "sleeve", 2)]
    purse = fill_purse(plans, {})
    midnight = next(each for each in purse.yarns if each.title == "Midnight")
    (share,) = midnight.mixed
    lengths = pieces_of_one_length(plan, "N")
    by_lot = defaultdict(float)
    for label, pieces in lengths.items():
        by_lot[share.lot_of[label]] += sum(piece.to_measure_cm("cm") for piece in pieces)
    assert {taken.lot: pytest.approx(taken.length_cm) for taken in share.taken} == by_lot
    # One ball of 041 is in hand, at its shortest 90 m.
    assert by_lot["041"] <= 9000
    # The back is the one, so that the two sleeves match.
    assert share.member.folder == "back"
    words = lots_in_words(purse)[0]
    assert "this cannot be of one: Harbour cushion. Buy 1 ball more" in words
    # Followed: with a ball more no piece is of two lots.
    yarn = plan.project.all_yarns["N"]
    more = replace(
        yarn, balls_in_hand=midnight.buy + 2, dye_lot=f"1 of 041, {midnight.buy + 1} of 7"
    )
    richer = make_plan(replace(plan.project, yarns={**plan.project.yarns, "N": more}))
    followed = fill_purse([member(richer, "back"), member(richer, "sleeve", 2)], {})
    assert next(each for each in followed.yarns if each.title == "Midnight").mixed == []
    # The other advice: all of one new lot.
    one_lot = replace(yarn, balls_in_hand=midnight.all_new, dye_lot="9")
    single = make_plan(replace(plan.project, yarns={**plan.project.yarns, "N": one_lot}))
    followed = fill_purse([member(single, "back"), member(single, "sleeve", 2)], {})
    alone = next(each for each in followed.yarns if each.title == "Midnight")
    assert (alone.buy, alone.lots_used) == (0, ["9"])


@pytest.mark.parametrize("number", range(6))
def test_a_follower_who_takes_what_is_said_never_runs_out(number):
    """She has the balls in hand and those bought, lot by lot, and takes off what the lists say."""
    rng = np.random.default_rng(number)
    first, second = random_piece(40 + number), random_piece(50 + number)
    in_hand = f"{rng.integers(1, 3)} of 1, {rng.integers(1, 3)} of 2"
    balls = sum(int(each.split()[0]) for each in in_hand.split(", "))

    def with_lots(plan):
        yarns = {
            letter: replace(yarn, balls_in_hand=balls, dye_lot=in_hand)
            for letter, yarn in plan.project.yarns.items()
        }
        return make_plan(replace(plan.project, yarns=yarns))

    set_of = [member(with_lots(first), "a", 2, mirrored=1), member(with_lots(second), "b", 2)]
    purse = fill_purse(set_of, {})
    for each in purse.yarns:
        basket = {lot: CM * 25 * SURE * count for lot, count in each.same.yarn.lots.items()}
        basket["a new lot"] = CM * 25 * SURE * each.buy
        for share in each.shares:
            plan = share.member.plans[share.copy]
            (letter,) = {use.letter for use in each.same.uses if use.folder == share.member.folder}
            for label, pieces in pieces_of_one_length(plan, letter).items():
                taken = sum(piece.to_measure_cm("cm") for piece in pieces)
                basket[share.lot_of[label]] -= taken
        assert min(basket.values()) > -1e-6
        # What is told of balls adds up to what is taken of each lot.
        for share in each.shares:
            for taken in share.taken:
                assert taken.balls == pytest.approx(taken.length_cm / (CM * 25 * SURE))


# ---- the piece on the needles


def test_what_the_piece_on_the_needles_takes():
    plan = demo()
    second = member(plan, "sleeve", 2, finished=1)
    purse = fill_purse([member(plan, "back"), second], {})
    table = taken_table(purse, second, "cm")
    # Read off its own winding list.
    own = plan.winding_list
    metres = (own.pieces * own.length_m).groupby(own.name).sum()
    taken = table.groupby("yarn").takes_m.sum()
    assert {name: round(length, 2) for name, length in metres.items()} == taken.round(2).to_dict()
    # It goes on with what the first sleeve has left of a ball.
    assert "that Harbour cushion 1 left" in set(table.goes_on_with.str.split("ball ").str[-1])
    pieces = [piece for piece in plan.pieces if piece.yarn == "W"]
    assert lot_of_pieces(purse, second, pieces) == "018"


def test_nothing_is_on_the_needles_when_all_are_finished():
    plan = demo()
    done = member(plan, "sleeve", 2, finished=2)
    assert done.on_needles is None
    assert done.rows_done == 0
    assert member_in_words(done, "row") == "2 of 2 finished"


def test_the_piece_whose_rows_are_marked_comes_after_those_finished(demo_copy):
    desk = Desk(open_project(demo_copy))
    work_rows(desk, 30)
    marked = desk.plan
    plans = plans_in_order(marked, 4, mirrored=1, finished=2)
    assert [plan is marked for plan in plans] == [False, False, True, False]
    assert plans[3].project.name.endswith(", mirrored")
    assert [bool(plan.project.progress) for plan in plans] == [False, False, True, False]
    # All straight ones are finished: what is on the needles is mirrored, and has no rows marked.
    last = Member("s", "Sleeve", plans_in_order(marked, 2, mirrored=1, finished=1), 1)
    assert last.rows_done == 0
    on_needles = Member("s", "Sleeve", plans, 2)
    assert on_needles.rows_done == 30
    assert member_in_words(on_needles, "row") == "2 of 4 finished, row 30 of 96 worked"


def test_what_is_used_so_far(demo_copy):
    desk = Desk(open_project(demo_copy))
    work_rows(desk, 40)
    plan = desk.plan
    used = yarn_used(plan, plan.project.progress)
    sleeve = Member("s", "Sleeve", plans_in_order(plan, 2, finished=1), 1, used)
    purse = fill_purse([sleeve], {})
    table = used_table(purse, "cm")
    for need in plan.needed:
        line = line_of(table, need.yarn.name)
        first = need.piece_cm  # all of the finished one
        expected = (first + used[need.yarn.letter]) / CM
        assert line["used_so_far_m"] == pytest.approx(expected, abs=0.06)
        assert line["still_needed_m"] == pytest.approx(line["in_all_m"] - expected, abs=0.11)
    # Nothing is used before anything is begun.
    assert len(used_table(fill_purse([member(demo(), "a", 2)], {}), "cm")) == 0


def test_used_by_hand():
    """Three rows of 4 stitches in each yarn, 2 cm to the stitch: 24 cm; no tails, no margin."""
    plain = replace(PLAIN, tail_cm=0)
    plan = plan_of(["AAAABBBB"] * 10, allow=plain, multiplier=FOUR, gauge=GAUGE)
    log = [Entry(row, "2026-03-02", WORKED, row) for row in (1, 2, 3)]
    assert yarn_used(plan, log) == pytest.approx({"A": 24, "B": 24})
    assert yarn_used(plan, []) == {"A": 0, "B": 0}
