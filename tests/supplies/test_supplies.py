"""Supplies, ways, winding list and shopping list, against counts and sums made row by row and piece
by piece."""

import math
import re
from collections import Counter
from dataclasses import replace

import numpy as np
import pandas as pd
import pytest

from planner import (
    CarryLimits,
    PlanError,
    Yarn,
    make_plan,
    open_project,
)
from planner.piece.settings import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    SUPPLIES,
    Allowances,
    Habits,
    OwnChoice,
)
from tests.conftest import DEMO
from tests.helpers.parts import parts_table
from tests.helpers.plans import GAUGE, every_random_plan, plan_of, random_plan


def supplies_of(plan):
    return dict(zip(plan.supplies.strand, plan.supplies.supply, strict=True))


def why(plan, strand="A1"):
    return plan.supplies.set_index("strand").why[strand]


def stripes(*widths, rows, letters="ABCDEFGH"):
    """Upright stripes, each a strand of its own from the first row to the last."""
    return ["".join(letter * width for letter, width in zip(letters, widths, strict=False))] * rows


def exact_parts(plan):
    """The parts of the strands with their lengths unrounded, beside their supplies."""
    parts = parts_table(plan.traced, plan.multipliers, plan.project.allow)
    held = plan.supplies
    assert parts.strand.tolist() == held.strand.tolist()
    assert parts.part.tolist() == held.part.tolist()
    return held.assign(cm=parts.wound_cm, tails=parts.tails_cm, stitches=parts.stitches)


def balls_to_be_had(plan):
    table = plan.shopping_list.set_index("yarn")
    return {
        y: max(1, math.ceil(table.balls_in_hand[y]) + int(table.balls_to_buy[y]))
        for y in table.index
    }


# By length and by the knitter's ways


@pytest.mark.parametrize(
    ("rows", "cm", "supply"),
    [
        (1, 110, LOOSE),
        (3, 270, LOOSE),
        (4, 350, BUTTERFLY),
        (13, 1070, BUTTERFLY),
        (14, 1150, BOBBIN),
        (33, 2670, BOBBIN),
        (34, 2750, BALL),
    ],
)
def test_by_length(rows, cm, supply):
    """Up to 2.75 m loose, 11 m butterfly, 27 m bobbin, else from the ball (common practice, no
    source): rows of 80 cm."""
    plan = plan_of(stripes(40, rows=rows))
    assert plan.supplies.wound_m.tolist() == [cm / 100]
    assert supplies_of(plan) == {"A1": supply}
    assert plan.supplies.chosen.tolist() == ["suggested"]
    assert plan.supplies.refills.tolist() == [0]


@pytest.mark.parametrize(("limit", "supply"), [(270, LOOSE), (269.99, BUTTERFLY)])
def test_a_limit_is_still_allowed(limit, supply):
    assert supplies_of(plan_of(stripes(40, rows=3), habits=Habits(loose_up_to_cm=limit))) == {
        "A1": supply
    }


def test_no_table():
    plan = plan_of(stripes(40, rows=60), habits=Habits(table=False))
    assert supplies_of(plan) == {"A1": BOBBIN}
    assert "no table" in why(plan)
    assert plan.supplies.refills[0] == 1


def test_the_longest_strands_get_the_table():
    """Five long stripes, room for two balls: the widest stripes have them."""
    plan = plan_of(stripes(30, 50, 40, 60, 35, rows=60), habits=Habits(balls_on_table=2))
    assert supplies_of(plan) == {"A1": BOBBIN, "B1": BALL, "C1": BOBBIN, "D1": BALL, "E1": BOBBIN}
    assert "the table is full: 2 balls" in why(plan, "A1")


def test_few_balls():
    """Two long stripes of one yarn live at the same time: one ball in hand is one strand from the
    ball, two are two."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    for balls, expected in ((1, [BOBBIN, BALL]), (2, [BALL, BALL])):
        plan = plan_of(rows, {"A": Yarn("A", metres_per_ball=500, balls_in_hand=balls)})
        held = supplies_of(plan)
        wide, narrow = sorted(
            ("A1", "A2"), key=lambda s: -plan.strands.set_index("strand").stitches[s]
        )
        assert [held[narrow], held[wide]] == expected
        assert ("every ball of A" in why(plan, narrow)) == (balls == 1)


def test_balls_to_be_bought_count():
    """No ball in hand, 50 m to a ball: 60 rows of 95 stitches take three balls or more, so both
    stripes have one."""
    plan = plan_of(["A" * 40 + "B" * 5 + "A" * 50] * 60, {"A": Yarn("A", metres_per_ball=50)})
    assert plan.shopping_list.set_index("yarn").balls_to_buy["A"] >= 2
    assert [kind for strand, kind in supplies_of(plan).items() if strand[0] == "A"] == [BALL, BALL]


def test_both_ends_of_a_ball():
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=1)}
    plan = plan_of(rows, yarns, habits=Habits(both_ends=True, balls_on_table=1))
    assert [kind for strand, kind in supplies_of(plan).items() if strand[0] == "A"] == [BALL, BALL]
    assert plan.notes == ()


def test_both_ends_are_one_ball_on_the_table():
    """Side by side with the other ways, two strands from both ends of one ball are one ball, and
    there is room for it."""
    rows = ["A" * 40 + "B" * 5 + "A" * 50] * 60
    yarns = {"A": Yarn("A", metres_per_ball=500, balls_in_hand=1)}
    mix = plan_of(rows, yarns, habits=Habits(both_ends=True, balls_on_table=1)).ways.iloc[-1]
    assert mix.way == "suggested mix"
    assert mix.balls_on_table == 1
    assert "you have room for" not in mix.against


def test_long_drops():
    """By eye: 4.3 m hangs free where long drops would wrap each other, 5.1 m does not; with short
    drops a butterfly."""
    for rows, drop, supply in ((5, "short", BUTTERFLY), (5, "long", LOOSE), (6, "long", BUTTERFLY)):
        plan = plan_of(stripes(40, rows=rows), habits=Habits(drop=drop))
        assert supplies_of(plan) == {"A1": supply}
        if drop == "long":
            assert "long drops wrap each other" in (why(plan) + plan.supplies.against[0])


def test_crowded_rows():
    """In rows with more strands than are thought crowded, up to 4.57 m (5 yd) hangs free."""
    plan = plan_of(stripes(40, 5, rows=5), habits=Habits(comfortable=1, crowded=1))
    assert supplies_of(plan)["A1"] == LOOSE
    assert "crowded" in why(plan)
    assert supplies_of(plan_of(stripes(40, 5, rows=5)))["A1"] == BUTTERFLY


def test_rewinding_is_a_bother():
    plan = plan_of(stripes(40, rows=20), habits=Habits(rewinding=False))
    assert supplies_of(plan) == {"A1": BALL}
    assert "rather not rewind" in why(plan)
    bobbin = plan_of(stripes(40, rows=20), habits=Habits(rewinding=False, table=False))
    assert supplies_of(bobbin) == {"A1": BOBBIN}
    assert "rather not rewind" in bobbin.supplies.against[0]


def test_a_yarn_that_must_not_be_cut():
    """A variegated yarn is fed from its ball however short, before longer strands of others; where
    it cannot be, that is said."""
    yarns = {"A": Yarn("A", may_be_cut=False)}
    plan = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(balls_on_table=1))
    assert supplies_of(plan) == {"A1": BALL, "B1": BOBBIN}
    without = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(table=False))
    assert supplies_of(without)["A1"] != BALL
    assert [
        note
        for note in without.notes
        if "A1" in note and "must not be cut" in note and "no table" in note
    ]


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: Habits(loose_up_to_cm=1200), ["1200", "1100", "loose strand is the shortest"]),
        (lambda: Habits(butterfly_up_to_cm=3000), ["3000", "2700", "bobbin the longest"]),
        (lambda: Habits(loose_up_to_cm=-1), ["-1"]),
        (lambda: Habits(0, 0, 0), ["0 cm"]),
        (lambda: Habits(drop="middling"), ['"middling"', "short or long"]),
        (lambda: Habits(balls_on_table=-1), ["balls on table", "-1", "0 or more"]),
        (lambda: Habits(comfortable=0), ["comfortable"]),
        (lambda: Habits(comfortable=12), ["comfortable", "crowded"]),
        (lambda: Habits(wrap_cm=0), ["more than 0 cm"]),
        (
            lambda: plan_of(["AA"], choices=(OwnChoice("supply", "A", 1, 1, "whole", "hat"),)),
            ["A1", '"hat"', *SUPPLIES],
        ),
        (
            lambda: Yarn("A", metres_per_ball=0),
            ["Yarn A", "metres_per_ball", "0", "leave it empty"],
        ),
        (lambda: Yarn("A", grams_per_ball=-50), ["grams_per_ball", "-50"]),
        (lambda: Yarn("A", label_stitches_10cm=float("nan")), ["label_stitches_10cm", "nan"]),
        (lambda: Yarn("A", balls_in_hand=-1), ["balls_in_hand", "-1", "0 or more"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


# Balls: never more than there are, never more than the table holds, longest first


def ball_parts(held):
    """The parts fed from a ball: yarn, first and last row."""
    some = held[held.supply == BALL]
    return list(zip(some.yarn, some.first_row, some.last_row, strict=True))


def at_row(parts, row):
    """The yarns of these parts that are live in a worked row, one entry a part."""
    return [yarn for yarn, first, last in parts if first <= row <= last]


def balls_of(yarns, both_ends):
    """Balls of each yarn that so many strands are fed from."""
    return {yarn: math.ceil(yarns.count(yarn) / (2 if both_ends else 1)) for yarn in set(yarns)}


def fits(held, one, habits, to_be_had):
    """Whether a ball for this part would fit beside these, in every row of it."""
    parts = ball_parts(held)
    for row in range(one.first_row, one.last_row + 1):
        balls = balls_of([*at_row(parts, row), one.yarn], habits.both_ends)
        if balls[one.yarn] > to_be_had[one.yarn] or sum(balls.values()) > habits.balls_on_table:
            return False
    return habits.table


@every_random_plan
def test_balls_by_a_plain_count(number):
    """Where a ball is suggested there are no more on the table than it holds and no more of the
    yarn than can be had."""
    plan = random_plan(number)
    habits, to_be_had = plan.project.habits, balls_to_be_had(plan)
    every, by_hand = (
        ball_parts(plan.supplies),
        ball_parts(plan.supplies[plan.supplies.chosen == "by you"]),
    )
    for row in plan.rows.row:
        fed, chosen = at_row(every, row), at_row(by_hand, row)
        suggested = set((Counter(fed) - Counter(chosen)).elements())
        balls = balls_of(fed, habits.both_ends)
        if suggested:
            assert habits.table
            assert sum(balls.values()) <= habits.balls_on_table
            assert all(balls[yarn] <= to_be_had[yarn] for yarn in suggested)


@every_random_plan
def test_longest_first(number):
    """A part that was refused a ball finds no room beside the balls of the longer parts alone."""
    plan = random_plan(number)
    held = exact_parts(plan)
    must = held.yarn.map(lambda y: not plan.project.yarns[y].may_be_cut)
    refused = held[held.why.str.contains(", but ")]
    for one in refused.itertuples():
        longer = (
            (held.cm > one.cm) & (must == must[one.Index])
            | (held.chosen == "by you")
            | (must & ~must[one.Index])
        )
        assert not fits(held[longer], one, plan.project.habits, balls_to_be_had(plan)), one.strand


def test_the_random_charts_try_everything():
    plans = [random_plan(number) for number in range(9)]
    assert {kind for plan in plans for kind in plan.supplies.supply} == set(SUPPLIES)
    assert sum(plan.supplies.why.str.contains("every ball").sum() for plan in plans) > 5
    assert sum(plan.supplies.why.str.contains("table is full").sum() for plan in plans) > 2
    assert sum((plan.supplies.refills > 0).sum() for plan in plans) > 20
    assert sum(plan.traced.middle_starts for plan in plans) > 5


# The knitter's own choices


@pytest.mark.parametrize("choice", SUPPLIES)
def test_own_choice_wins(choice):
    """Each of the four, however unsuitable for 32 m; the stripe beside it is held as suggested."""
    plan = plan_of(
        stripes(5, 40, rows=40), choices=(OwnChoice("supply", "B", 1, 1, "whole", choice),)
    )
    held = plan.supplies.set_index("strand")
    assert held.loc["B1", ["supply", "chosen", "why"]].tolist() == [
        choice,
        "by you",
        "your own choice",
    ]
    assert held.loc["A1", ["supply", "chosen"]].tolist() == [BUTTERFLY, "suggested"]


def test_own_choice_of_one_piece_is_one_piece():
    """A butterfly of 32 m is the knitter's business; a bobbin holds no more than it can, so it is
    refilled."""
    for choice, refills in ((LOOSE, 0), (BUTTERFLY, 0), (BOBBIN, 1)):
        plan = plan_of(
            stripes(40, rows=40), choices=(OwnChoice("supply", "A", 1, 1, "whole", choice),)
        )
        assert plan.supplies.refills.tolist() == [refills]
    assert (
        "long to draw free"
        in plan_of(
            stripes(40, rows=40), choices=(OwnChoice("supply", "A", 1, 1, "whole", LOOSE),)
        ).supplies.against[0]
    )


def test_own_choices_beyond_the_table_are_kept():
    """Five balls by choice on a table for two: kept, and said; nothing else gets a ball in those
    rows."""
    rows = stripes(10, 10, 10, 10, 10, 60, rows=60)
    before = plan_of(rows)
    own = tuple(
        OwnChoice("supply", s.yarn, s.first_row, s.first_stitch, "whole", BALL)
        for s in before.strands.itertuples()
        if s.yarn != "F"
    )
    plan = plan_of(rows, choices=own, habits=Habits(balls_on_table=2))
    held = supplies_of(plan)
    assert held.pop("F1") == BOBBIN
    assert set(held.values()) == {BALL}
    assert [
        note
        for note in plan.notes
        if "5 balls" in note and "2" in note and "kept" in note and "row 1 (RS)" in note
    ]


def test_own_choice_without_a_table_is_kept():
    plan = plan_of(
        ["AAAA"] * 4,
        choices=(OwnChoice("supply", "A", 1, 1, "whole", BALL),),
        habits=Habits(table=False),
    )
    assert supplies_of(plan) == {"A1": BALL}
    assert "no table" in plan.supplies.against[0]


def test_of_two_choices_for_a_strand_that_for_its_half_is_nearer():
    rows = ["AABAAAAABAA", "AAAAABAAAAA"]
    both = (
        OwnChoice("supply", "B", 1, 6, "whole", BUTTERFLY),
        OwnChoice("supply", "B", 1, 6, "second half", BALL),
    )
    plan = plan_of(rows, choices=both)
    assert plan.supplies[plan.supplies.yarn == "B"].supply.tolist() == [BUTTERFLY, BALL]


@pytest.mark.parametrize("part", ["second half", "third half"])
def test_choice_for_a_half_that_is_not_there_is_noted(part):
    """A choice is never dropped without a word: the strand is no longer begun from its middle, or
    the part is a slip."""
    plan = plan_of(["AAAA"] * 4, choices=(OwnChoice("supply", "A", 1, 1, part, BALL),))
    assert supplies_of(plan) == {"A1": LOOSE}
    assert [note for note in plan.notes if "A" in note and "kept" in note], plan.notes


# Refills


def pieces_of(plan):
    """The pieces to wind with their lengths unrounded, and the strand of each."""
    pieces = pd.DataFrame(plan.pieces).astype({"half_cm": float})
    return pieces.assign(refill=pieces.label.str.contains("refill"))


@every_random_plan
def test_pieces_add_up_to_the_strand_and_two_tails_a_refill(number):
    plan = random_plan(number)
    tail = plan.project.allow.tail_cm
    held = exact_parts(plan).groupby("strand").agg({"cm": "sum", "refills": "sum"})
    pieces = pieces_of(plan).groupby("strand").agg({"length_cm": "sum", "refill": "sum"})
    np.testing.assert_allclose(pieces.length_cm, held.cm + 2 * tail * held.refills)
    assert pieces.refill.tolist() == held.refills.tolist()


@every_random_plan
def test_no_piece_is_longer_than_its_supply_holds(number):
    plan = random_plan(number)
    habits, by_hand = (
        plan.project.habits,
        set(plan.supplies.strand[plan.supplies.chosen == "by you"]),
    )
    holds = {
        LOOSE: habits.loose_up_to_cm,
        BUTTERFLY: habits.butterfly_up_to_cm,
        BOBBIN: habits.bobbin_up_to_cm,
    }
    if habits.drop == "long" or (plan.rows.live > habits.crowded).any():
        holds[LOOSE] = 457
    for piece in pieces_of(plan).itertuples():
        if piece.supply == BALL:
            assert piece.length_cm <= 100 * plan.project.yarns[piece.yarn].metres_per_ball + 1e-6
        elif piece.supply in holds and math.isnan(piece.half_cm) and piece.strand not in by_hand:
            assert piece.length_cm <= holds[piece.supply] + 1e-6, piece.label
        assert piece.length_cm > 2 * plan.project.allow.tail_cm * (
            piece.refill or piece.strand in by_hand
        )


def fewest_pieces(cm, holds, tail):
    """So many pieces that, with two tails more for each join, they make up the length."""
    return next(n for n in range(1, 1000) if n * holds >= cm + 2 * tail * (n - 1) - 1e-6)


@every_random_plan
def test_as_few_refills_as_can_be(number):
    plan = random_plan(number)
    habits, tail = plan.project.habits, plan.project.allow.tail_cm
    for part in exact_parts(plan).itertuples():
        if part.supply == BOBBIN:
            assert part.refills == fewest_pieces(part.cm, habits.bobbin_up_to_cm, tail) - 1


def rows_when_out(needs, piece_cm, tail):
    """The worked rows in which one piece after another runs out: `needs` is the yarn wanted row by
    row, in working order.

    Each piece gives what is in it but two tails, or one if the length is worked from its middle and
    has no tail there."""
    due, left = [], piece_cm - 2 * tail
    for row, need in needs:
        while need > left + 1e-6:
            need -= left
            due.append(row)
            left = piece_cm - 2 * tail
        left -= need
    return due


def test_rows_where_a_piece_runs_out():
    """By eye: 40 stitches × 2 cm a row; a bobbin of 4 m gives 3.7 m, so it lasts 4.6 rows."""
    plan = plan_of(
        stripes(40, rows=20),
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, table=False),
    )
    needs = [(row, 80) for row in range(1, 21)]
    assert rows_when_out(needs, 400, 15) == [5, 10, 14, 19]
    assert plan.supplies.refill_rows.tolist() == ["5, 10, 14, 19"]
    assert plan.rows.loc[plan.rows.refills > 0, "row"].tolist() == [5, 10, 14, 19]


def test_rows_where_a_piece_runs_out_at_the_end_of_a_row():
    """A bobbin that gives 4 rows to the last centimetre is out before row 5, not in row 4."""
    plan = plan_of(
        stripes(40, rows=12),
        habits=Habits(bobbin_up_to_cm=350, butterfly_up_to_cm=300, table=False),
    )
    assert plan.supplies.refill_rows.tolist() == ["5, 9"]


def test_rows_where_a_piece_runs_out_in_uneven_rows():
    """A triangle, by hand: rows of 4, 8, 12 … stitches in A, 2 cm to the stitch, beside B."""
    widths = [4 * row for row in range(1, 13)]
    rows = ["B" * (60 - w) + "A" * w for w in reversed(widths)]
    habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=130, table=False)
    plan = plan_of(rows, habits=habits, limits=CarryLimits(sideways=4))
    assert plan.strands.set_index("strand").carried_m["A1"] == 0.12
    needs = [
        (row, 2 * w + 2 * (row % 2 == 0)) for row, w in enumerate(widths, start=1)
    ]  # 4 stitches carried every other row
    assert plan.supplies.set_index("strand").refill_rows["A1"] == ", ".join(
        map(str, rows_when_out(needs, 130, 15))
    )


def test_cast_on_and_bind_off_take_their_yarn_when_they_are_worked():
    """The cast-on, 4 widths, is gone before row 1, the bind-off, 6 widths, is wanted after the
    last: rows of 20 cm width."""
    allow = Allowances(tail_cm=15, cast_on=4, bind_off=6)
    plan = plan_of(
        stripes(40, rows=20),
        allow=allow,
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, table=False),
    )
    needs = [(1, 4 * 20), *((row, 80) for row in range(1, 21)), (20, 6 * 20)]
    assert rows_when_out(needs, 400, 15) == [4, 9, 13, 18]
    assert plan.supplies.refill_rows.tolist() == ["4, 9, 13, 18"]


def test_feltable_yarn_is_spliced():
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, table=False)
    for feltable, ends, words in (
        (True, 0, "4 refills (spliced, no ends)"),
        (False, 8, "4 refills (8 more ends)"),
    ):
        plan = plan_of(stripes(40, rows=20), {"A": Yarn("A", feltable=feltable)}, habits=habits)
        assert plan.supplies.refill_ends.tolist() == [ends]
        assert words in plan.supplies.against[0]
        assert len(plan.ends) == 2 + ends


# Middle starts

V = ["".join("B" if x in (15 - y, 15 + y) else "A" for x in range(31)) for y in reversed(range(10))]


def test_middle_start_is_one_length():
    """The V is wound as one, and the list says how far its middle lies from one end."""
    plan = plan_of(V, limits=CarryLimits(across=1))
    halves = plan.supplies[plan.supplies.yarn == "B"]
    assert halves.part.tolist() == ["first half", "second half"]
    line = plan.winding_list[plan.winding_list.yarn == "B"]
    assert line.labels.tolist() == ["B1"]
    assert line.pieces.tolist() == [1]
    assert line.length_m.iloc[0] >= halves.wound_m.sum() - 0.01
    half = float(re.search(r"begin ([\d.]+) m from one end", line.line.iloc[0])[1])
    assert half == pytest.approx(halves.wound_m.iloc[0], abs=0.051)
    assert half >= halves.wound_m.iloc[0]


def test_one_half_wound_off_the_other_on_the_ball():
    plan = plan_of(
        V,
        limits=CarryLimits(across=1),
        choices=(OwnChoice("supply", "B", 1, 16, "first half", BALL),),
    )
    assert plan.supplies[plan.supplies.yarn == "B"].supply.tolist() == [BALL, LOOSE]
    lines = plan.winding_list[plan.winding_list.yarn == "B"].set_index("labels")
    assert lines.supply.to_dict() == {"B1 first half": BALL, "B1 second half": LOOSE}
    assert not lines.line.str.contains("begin").any()


def test_middle_start_that_suits_no_supply():
    """Both halves too long for one piece, or both from one ball: said, with the way out."""
    wide = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    for asked, words in (
        ({"habits": Habits(10, 20, 120, table=False)}, "both halves are too long for one piece"),
        ({"choices": (OwnChoice("supply", "B", 1, 63, "whole", BALL),)}, "fed from one ball"),
    ):
        plan = plan_of(wide, **asked)
        assert plan.strands.set_index("strand").middle_start["B1"]
        notes = [note for note in plan.notes if note.startswith("B1 is begun from its middle")]
        assert len(notes) == 1
        assert words in notes[0]
        assert "Switch middle starts off for B" in notes[0]
    off = plan_of(wide, by_yarn={"B": CarryLimits(middle_start=False)}, **asked)
    assert not off.traced.has_middle.any()
    both = plan_of(wide, **(asked | {"habits": Habits(both_ends=True)}))
    assert not [note for note in both.notes if "middle" in note]


# The winding list


def listed(plan):
    """Every label on the list with its line."""
    return [
        (label, line)
        for line in plan.winding_list.itertuples()
        for label in line.labels.split(", ")
    ]


@every_random_plan
def test_every_strand_is_listed_once(number):
    plan = random_plan(number)
    labels = [label for label, _ in listed(plan)]
    assert len(labels) == len(set(labels)) == plan.winding_list.pieces.sum()
    bases = [label for label in labels if "refill" not in label]
    wholes = {label for label in bases if "half" not in label}
    halves = {}
    for label in bases:
        if "half" in label:
            halves.setdefault(label.split()[0], []).append(label)
    assert wholes | set(halves) == set(plan.traced.labels)
    assert not wholes & set(halves)
    assert all(len(pair) == 2 for pair in halves.values())
    refills = plan.supplies.groupby("strand").refills.sum()
    assert sum("refill" in label for label in labels) == refills.sum()


@every_random_plan
def test_in_the_order_of_first_need(number):
    """By row, and within a row as it is worked: from stitch 1 on where it runs from right to left,
    else towards it."""
    plan = random_plan(number)
    works = plan.rows.set_index("row").works
    order = []
    for line in plan.winding_list.itertuples():
        stitch = (
            10_000
            if pd.isna(line.first_stitch)
            else line.first_stitch
            if works[line.first_row] == "right to left"
            else -line.first_stitch
        )
        order.append((line.first_row, stitch))
    assert order == sorted(order)
    first = plan.strands.set_index("strand")
    for label, line in listed(plan):
        if label in first.index and label == line.labels.split(", ")[0]:
            assert (line.first_row, line.first_side, line.first_stitch) == tuple(
                first.loc[label, ["first_row", "first_side", "first_stitch"]]
            )


@every_random_plan
def test_alike_pieces_stand_on_one_line(number):
    table = random_plan(number).winding_list
    unit = "m" if "length_m" in table else "yd"
    middle = table.line.str.extract(r"begin ([\d.]+)")[0].fillna("")
    wound = table.assign(middle=middle)[table.supply != BALL]
    assert not wound.duplicated(["yarn", "supply", f"length_{unit}", "middle"]).any()
    for line in wound.itertuples():
        length = getattr(line, f"length_{unit}")
        assert line.line.startswith(
            f"{line.pieces} × {line.yarn}, {length:.2f} {unit}: {line.labels}"
        )


@every_random_plan
def test_rounded_up_never_down(number):
    """To 5 cm or a quarter of a yard, never short of the piece, never a whole step too long."""
    plan = random_plan(number)
    unit, unit_cm, step = ("m", 100, 5) if plan.project.units == "cm" else ("yd", 91.44, 22.86)
    exact = pieces_of(plan).set_index("label").length_cm
    for label, line in listed(plan):
        length = getattr(line, f"length_{unit}") * unit_cm
        assert length / step == pytest.approx(round(length / step), abs=1e-6)
        assert exact[label] - 1e-6 <= length < exact[label] + step, label


@every_random_plan
def test_wraps_and_weights(number):
    plan = random_plan(number)
    unit, unit_m = ("m", 1) if plan.project.units == "cm" else ("yd", 0.9144)
    for line in plan.winding_list.itertuples():
        metres = getattr(line, f"length_{unit}") * unit_m
        yarn = plan.project.yarns[line.yarn]
        assert line.weight_g == pytest.approx(metres * 25 / yarn.metres_per_ball, abs=0.051)
        if line.supply == BALL:
            assert pd.isna(line.wraps)
        else:
            assert line.wraps * 0.20 >= metres - 1e-6 > (line.wraps - 1) * 0.20


def test_winding_list_by_eye():
    """Three spots alike on one line, in the place of the first; 4 × 4 stitches of 2 cm and two
    tails are 0.62 m."""
    spots = ["A" * 12] + ["AABBBBAAAAAA"] * 4 + ["A" * 12] * 3 + ["ABBBBABBBBAA"] * 4 + ["A" * 12]
    yarns = {"B": Yarn("B", "Rust", metres_per_ball=100, grams_per_ball=50)}
    table = plan_of(spots, yarns, by_yarn={"A": CarryLimits(across=4)}).winding_list
    line = table[table.yarn == "B"].iloc[0]
    assert line.line == "3 × B, 0.65 m: B1, B2, B3"
    assert (line["name"], line.supply, line.length_m, line.weight_g, line.wraps) == (
        "Rust",
        LOOSE,
        0.65,
        0.3,
        4,
    )
    assert (line.first_row, line.first_side, line.first_stitch) == (2, "WS", 11)
    assert line.rule_of_three_m == pytest.approx(16 * 0.005 * 3 + 0.3, abs=0.006)
    assert len(table) == 2
    with_thicker_card = plan_of(
        spots, yarns, by_yarn={"A": CarryLimits(across=4)}, habits=Habits(wrap_cm=10)
    ).winding_list
    assert with_thicker_card[with_thicker_card.yarn == "B"].wraps.tolist() == [7]


def test_winding_list_in_yards():
    plan = plan_of(
        ["ABBBBA"] * 4, {"B": Yarn("B", metres_per_ball=100, grams_per_ball=50)}, units="in"
    )
    line = plan.winding_list[plan.winding_list.yarn == "B"].iloc[0]
    assert line.line == "1 × B, 0.75 yd: B1"
    assert line.length_yd == 0.75
    assert line.weight_g == pytest.approx(0.75 * 0.9144 / 2, abs=0.051)


# Ways side by side


@every_random_plan
def test_stretches_cover_all_rows_once(number):
    plan = random_plan(number)
    stretches = list(dict.fromkeys(plan.ways.rows))
    rows = [
        row
        for text in stretches
        for row in range(int(text.split("–")[0]), int(text.split("–")[1]) + 1)
    ]
    assert rows == plan.rows.row.tolist()
    ways = [
        "each a loose strand",
        "each a butterfly",
        "each a bobbin",
        "all from the ball",
        "suggested mix",
    ]
    assert plan.ways.way.tolist() == ways * len(stretches)
    habits = plan.project.habits
    for text, some in plan.ways.groupby("rows"):
        first, last = map(int, text.split("–"))
        most = plan.rows.live[first - 1 : last].max()
        word = (
            "easy"
            if most <= habits.comfortable
            else "busy"
            if most <= habits.crowded
            else "crowded"
        )
        assert set(some.load) == {word}


@every_random_plan
def test_ways_by_a_plain_count(number):
    """Most hanging, balls and narrowest areas, by going through the rows of each stretch; refills
    by the fewest pieces."""
    plan = random_plan(number)
    habits, tail, held = plan.project.habits, plan.project.allow.tail_cm, exact_parts(plan)
    holds = dict(
        zip(
            SUPPLIES,
            (habits.loose_up_to_cm, habits.butterfly_up_to_cm, habits.bobbin_up_to_cm),
            strict=False,
        )
    )
    for way in plan.ways.itertuples():
        first, last = map(int, way.rows.split("–"))
        here = held[(held.first_row <= last) & (held.last_row >= first)]
        kind = next((supply for supply in SUPPLIES if way.way.endswith(supply)), None)
        kinds = here.supply if kind is None else pd.Series(kind, index=here.index)
        ball = [[y for y, k, a, b in zip(here.yarn, kinds, here.first_row, here.last_row, strict=True) if k == BALL and a <= r <= b]
                for r in range(first, last + 1)]  # fmt: skip
        hang = [sum(k != BALL and a <= r <= b for k, a, b in zip(kinds, here.first_row, here.last_row, strict=True))
                for r in range(first, last + 1)]  # fmt: skip
        ends = 2 if habits.both_ends else 1
        assert way.balls_on_table == max(
            sum(math.ceil(fed.count(y) / ends) for y in set(fed)) for fed in ball
        )
        assert way.most_hanging == max(hang)
        assert way.narrowest_stitches == here.narrowest_stitches.min()
        if kind is None:
            refills = here.refills
        else:
            metres = {yarn.letter: yarn.metres_per_ball for yarn in plan.project.yarns.values()}
            refills = [
                fewest_pieces(p.cm, holds.get(kind, 100 * metres[p.yarn]), tail) - 1
                for p in here.itertuples()
            ]
        assert way.refills == sum(refills)
        if not plan.traced.has_middle.any():
            assert way.pieces_to_wind == sum(
                n + 1 for n, k in zip(refills, kinds, strict=True) if k != BALL
            )


def test_pieces_to_wind_are_those_of_the_winding_list():
    """One stretch, so the suggested mix winds what the list winds: the A ground, and the V as one
    length from its middle."""
    plan = plan_of(V, limits=CarryLimits(across=1))
    assert plan.winding_list.pieces.sum() == 2
    mix = plan.ways[plan.ways.way == "suggested mix"]
    assert mix.pieces_to_wind.tolist() == [2]


def test_reasons_by_eye():
    """Three stripes of A and B, one ball of each, a table for one: what speaks for and against each
    way."""
    rows = stripes(30, 2, 30, rows=60, letters="ABA")
    yarns = {y: Yarn(y, metres_per_ball=500, balls_in_hand=1) for y in "AB"}
    ways = plan_of(rows, yarns, habits=Habits(balls_on_table=1, rewinding=False)).ways.set_index(
        "way"
    )
    assert ways.rows.tolist() == ["1–60"] * 5
    loose, butterfly, bobbin, ball, mix = (ways.loc[way] for way in ways.index)
    assert (loose.pieces_to_wind, loose.most_hanging, loose.balls_on_table) == (
        loose.refills + 3,
        3,
        0,
    )
    assert "refill" in loose.against
    assert "good at 2 stitches" in butterfly["for"]
    assert "cannot be rewound" in butterfly.against
    assert "swings on areas of 2 stitches" in bobbin.against
    assert "rather not rewind" in bobbin.against
    assert (ball.pieces_to_wind, ball.most_hanging, ball.balls_on_table, ball.refills) == (
        0,
        0,
        3,
        0,
    )
    assert "3 balls at once, you have room for 1" in ball.against
    assert "not enough balls: 2 of A at once, 1 to be had" in ball.against
    assert (mix.balls_on_table, mix.most_hanging) == (1, 2)
    assert "room" not in mix.against
    assert "balls" not in mix.against


# The shopping list


@every_random_plan
def test_shopping_list_arithmetic(number):
    plan = random_plan(number)
    allow, unit_cm = plan.project.allow, 100 if plan.project.units == "cm" else 91.44
    unit = "m" if unit_cm == 100 else "yd"
    pieces = pieces_of(plan).groupby("yarn").length_cm.sum()
    assert plan.shopping_list.yarn.tolist() == list(plan.traced.chart.letters)
    for line in plan.shopping_list.itertuples():
        yarn = plan.project.yarns[line.yarn]
        piece, swatch, spare, total = (
            getattr(line, f"{name}_{unit}") * unit_cm
            for name in ("piece", "swatch", "spare", "total")
        )
        assert piece == pytest.approx(pieces[line.yarn], abs=0.6)
        assert swatch == pytest.approx(12 / GAUGE.row_cm * 12 * 3.7, abs=0.6)
        assert spare == pytest.approx(0.05 * piece, abs=0.6)
        assert total == pytest.approx(piece + swatch + spare, abs=1.5)
        assert line.grams == pytest.approx(
            total / 100 * yarn.grams_per_ball / yarn.metres_per_ball, abs=0.55
        )
        balls = total / (100 * yarn.metres_per_ball * (1 - allow.label_error))
        assert line.balls_used == pytest.approx(balls, abs=0.006)
        assert line.balls_in_hand == yarn.balls_in_hand
        assert line.balls_in_hand + line.balls_to_buy >= balls - 0.001
        assert line.balls_to_buy == 0 or line.balls_in_hand + line.balls_to_buy - 1 < balls + 0.001


def test_shopping_list_by_eye():
    """100 stitches × 50 rows of 2 cm are 100 m; tails 0.30 m; spare a tenth of that; a swatch of 10
    cm is 28 rows of 40 cm."""
    allow = Allowances(tail_cm=15, cast_on=0, bind_off=0, swatch_cm=10, spare=0.1, label_error=0.2)
    yarn = Yarn(
        "A",
        "Rust",
        metres_per_ball=50,
        grams_per_ball=25,
        balls_in_hand=0.5,
        dye_lot="007",
        feltable=True,
    )
    line = plan_of(
        stripes(100, rows=50),
        {"A": yarn},
        allow=allow,
        habits=Habits(table=False, bobbin_up_to_cm=20_000),
    ).shopping_list.iloc[0]
    assert line[["yarn", "name", "dye_lot"]].tolist() == ["A", "Rust", "007"]
    assert line[["piece_m", "swatch_m", "spare_m", "total_m"]].tolist() == pytest.approx(
        [100.3, 11.2, 10.03, 121.53]
    )
    assert line.grams == 61  # 121.53 m at half a gram a metre
    assert line.balls_used == 3.04  # of 40 m, a fifth short of what the band says
    assert line.balls_to_buy == 3  # beside the half ball in hand
    bare = replace(allow, swatch_cm=0, spare=0, label_error=0)
    assert (
        plan_of(
            stripes(100, rows=50),
            {"A": yarn},
            allow=bare,
            habits=Habits(table=False, bobbin_up_to_cm=20_000),
        ).shopping_list.balls_used[0]
        == 2.01
    )


def test_balls_in_hand_are_enough():
    plan = plan_of(["AAAA"] * 4, {"A": Yarn("A", metres_per_ball=100, balls_in_hand=3)})
    assert plan.shopping_list.balls_to_buy.tolist() == [0]


def test_unknown_metres():
    """The band is lost: lengths are planned all the same, balls and grams are left open, one ball
    is taken to be there."""
    yarns = {"A": Yarn("A", grams_per_ball=50), "B": Yarn("B", metres_per_ball=100)}
    plan = plan_of(stripes(40, 40, rows=60), yarns)
    table = plan.shopping_list.set_index("yarn")
    assert pd.isna(table.loc["A", ["grams", "balls_used", "balls_to_buy"]]).all()
    assert pd.isna(table.grams["B"])
    assert table.balls_to_buy["B"] == 1
    assert table.total_m["A"] == table.total_m["B"]
    assert supplies_of(plan) == {"A1": BALL, "B1": BALL}
    assert plan.winding_list.weight_g.isna().all()
    assert plan_of(["AA"]).shopping_list.balls_to_buy.isna().all()


# The demo


def test_the_demo_shows_all_four_supplies():
    plan = make_plan(open_project(DEMO))
    assert set(plan.supplies.supply) == set(SUPPLIES)


def test_a_half_has_no_tail_where_it_begins():
    """Legs of 20 stitches, 40 cm of yarn a row by hand, bobbins of 120 cm: the second half lasts
    105 cm, then 90, then 90."""
    rows = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=120, table=False)
    plan = plan_of(rows, habits=habits, allow=Allowances(tail_cm=15, cast_on=0, bind_off=0))
    held = plan.supplies[(plan.supplies.strand == "B1") & (plan.supplies.part == "second half")]
    assert held.refill_rows.tolist() == ["4, 6, 9"]


def test_a_bobbin_that_holds_only_tails_is_refused():
    with pytest.raises(PlanError, match="at least four tails"):
        plan_of(
            ["A" * 20] * 10, habits=Habits(10, 20, 30, table=False), allow=Allowances(tail_cm=15)
        )


def test_own_choice_of_more_balls_than_there_are_is_kept_and_noted():
    own = tuple(OwnChoice("supply", "A", 1, stitch, "whole", "from the ball") for stitch in (1, 9))
    plan = plan_of(["AAAABBBBAAAA"] * 6, choices=own)
    assert (plan.supplies.supply[plan.supplies.yarn == "A"] == "from the ball").all()
    assert any("want 2 balls of A at once; 1 are in hand" in note for note in plan.notes)


@pytest.mark.parametrize("supply", [LOOSE, BUTTERFLY, BOBBIN])
def test_a_length_that_just_fits_is_held_so(supply):
    """Each supply holds what is exactly as long as it may be, and nothing longer."""
    length_cm = plan_of(["A" * 30] * 30).parts[0].wound_cm
    order = [LOOSE, BUTTERFLY, BOBBIN]
    names = ["loose_up_to_cm", "butterfly_up_to_cm", "bobbin_up_to_cm"]
    for up_to, fits in ((length_cm, True), (length_cm - 0.01, False)):
        shorter = {name: 10 * (i + 1) for i, name in enumerate(names)}
        longer = {name: up_to for name in names[order.index(supply) :]}
        plan = plan_of(["A" * 30] * 30, habits=Habits(**shorter | longer, balls_on_table=4))
        assert (plan.held[0].supply == supply) is fits
