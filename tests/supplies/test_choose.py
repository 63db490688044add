"""The supply of each part: by length, by the knitter's ways and choices, and its refills."""

import pytest

from planner import CarryLimits, PlanError, Yarn
from planner.piece import (
    BALL,
    BOBBIN,
    BUTTERFLY,
    LOOSE,
    SUPPLIES,
    Allowances,
    Habits,
    OwnChoice,
)
from tests.helpers.parts import exact_parts, fewest_pieces, supplies_of, why
from tests.helpers.plans import every_random_plan, plan_of, random_plan, stripes


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
    plan = plan_of(stripes(40, rows=3), habits=Habits(loose_up_to_cm=limit))
    assert supplies_of(plan) == {"A1": supply}


@pytest.mark.parametrize("supply", [LOOSE, BUTTERFLY, BOBBIN])
def test_a_length_that_just_fits_is_held_so(supply):
    """Each supply holds what is exactly as long as it may be, and nothing longer."""
    length_cm = plan_of(["A" * 30] * 30).parts[0].wound_cm
    order = [LOOSE, BUTTERFLY, BOBBIN]
    names = ["loose_up_to_cm", "butterfly_up_to_cm", "bobbin_up_to_cm"]
    for up_to, fits in ((length_cm, True), (length_cm - 0.01, False)):
        shorter = {name: 10 * (i + 1) for i, name in enumerate(names)}
        longer = dict.fromkeys(names[order.index(supply) :], up_to)
        plan = plan_of(["A" * 30] * 30, habits=Habits(**shorter | longer, balls_on_table=4))
        assert (plan.held[0].supply == supply) is fits


def test_no_table():
    plan = plan_of(stripes(40, rows=60), habits=Habits(place="train"))
    assert supplies_of(plan) == {"A1": BOBBIN}
    assert "no table" in why(plan)
    assert plan.supplies.refills[0] == 1


def test_long_drops():
    """By eye: 4.3 m hangs free where long drops would wrap each other, 5.1 m does not; with short
    drops a butterfly."""
    for rows, drop, supply in ((5, "short", BUTTERFLY), (5, "long", LOOSE), (6, "long", BUTTERFLY)):
        plan = plan_of(stripes(40, rows=rows), habits=Habits(drop=drop))
        assert supplies_of(plan) == {"A1": supply}
        if drop == "long":
            assert "long drops wrap each other" in (why(plan) + plan.supplies.against[0])


def test_long_drops_up_to_what_a_butterfly_would_hold():
    """4.3 m, all that a butterfly holds here, hangs free still; what is longer is wound."""
    for up_to, supply in ((430, LOOSE), (429, BOBBIN)):
        habits = Habits(drop="long", butterfly_up_to_cm=up_to)
        assert supplies_of(plan_of(stripes(40, rows=5), habits=habits)) == {"A1": supply}


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
    bobbin = plan_of(stripes(40, rows=20), habits=Habits(rewinding=False, place="train"))
    assert supplies_of(bobbin) == {"A1": BOBBIN}
    assert "rather not rewind" in bobbin.supplies.against[0]


def test_a_yarn_that_must_not_be_cut():
    """A variegated yarn is fed from its ball however short, before longer strands of others; where
    it cannot be, that is said."""
    yarns = {"A": Yarn("A", may_be_cut=False)}
    plan = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(balls_on_table=1))
    assert supplies_of(plan) == {"A1": BALL, "B1": BOBBIN}
    without = plan_of(stripes(2, 60, rows=40), yarns, habits=Habits(place="train"))
    assert supplies_of(without)["A1"] != BALL
    words = ("A1", "must not be cut", "no table")
    assert [note for note in without.notes if all(word in note for word in words)]


def test_a_bobbin_that_holds_only_tails_is_refused():
    with pytest.raises(PlanError, match="at least four tails"):
        plan_of(
            ["A" * 20] * 10, habits=Habits(10, 20, 30, place="train"), allow=Allowances(tail_cm=15)
        )


def test_small_bobbins_do_no_harm_where_nothing_is_joined():
    """By eye: 10 stitches of 2 cm and two tails are 50 cm, all that a bobbin holds here; 11 are
    too long for one, and two would hold little but tails."""
    small = Habits(10, 20, 50, place="train")
    assert supplies_of(plan_of(["A" * 10], habits=small)) == {"A1": BOBBIN}
    with pytest.raises(PlanError, match="at least four tails"):
        plan_of(["A" * 11], habits=small)
    # Four tails are enough.
    assert plan_of(["A" * 100], habits=Habits(10, 20, 60, place="train")).supplies.refills[0] > 0


def test_a_choice_that_is_no_supply_is_refused():
    with pytest.raises(PlanError) as caught:
        plan_of(["AA"], choices=(OwnChoice("supply", "A", 1, 1, "whole", "hat"),))
    message = str(caught.value)
    assert [word for word in ("A1", '"hat"', *SUPPLIES) if word not in message] == []


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
        assert ("long to draw free" in plan.supplies.against[0]) is (choice == LOOSE)


def test_own_choice_without_a_table_is_kept():
    plan = plan_of(
        ["AAAA"] * 4,
        choices=(OwnChoice("supply", "A", 1, 1, "whole", BALL),),
        habits=Habits(place="train"),
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


# Refills


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
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train"),
    )
    needs = [(row, 80) for row in range(1, 21)]
    assert rows_when_out(needs, 400, 15) == [5, 10, 14, 19]
    assert plan.supplies.refill_rows.tolist() == ["5, 10, 14, 19"]
    assert plan.rows.loc[plan.rows.refills > 0, "row"].tolist() == [5, 10, 14, 19]


def test_rows_where_a_piece_runs_out_at_the_end_of_a_row():
    """A bobbin that gives 4 rows to the last centimetre is out before row 5, not in row 4."""
    plan = plan_of(
        stripes(40, rows=12),
        habits=Habits(bobbin_up_to_cm=350, butterfly_up_to_cm=300, place="train"),
    )
    assert plan.supplies.refill_rows.tolist() == ["5, 9"]


def test_rows_where_a_piece_runs_out_in_uneven_rows():
    """A triangle, by hand: rows of 4, 8, 12 … stitches in A, 2 cm to the stitch, beside B."""
    widths = [4 * row for row in range(1, 13)]
    rows = ["B" * (60 - w) + "A" * w for w in reversed(widths)]
    habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=130, place="train")
    plan = plan_of(rows, habits=habits, limits=CarryLimits(sideways=4))
    assert plan.strands.set_index("strand").carried_m["A1"] == 0.12
    # Four stitches are carried to every other row.
    needs = [(row, 2 * w + 2 * (row % 2 == 0)) for row, w in enumerate(widths, start=1)]
    due = ", ".join(map(str, rows_when_out(needs, 130, 15)))
    assert plan.supplies.set_index("strand").refill_rows["A1"] == due


def test_cast_on_and_bind_off_take_their_yarn_when_they_are_worked():
    """The cast-on, 4 widths, is gone before row 1, the bind-off, 6 widths, is wanted after the
    last: rows of 20 cm width."""
    allow = Allowances(tail_cm=15, cast_on=4, bind_off=6)
    plan = plan_of(
        stripes(40, rows=20),
        allow=allow,
        habits=Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train"),
    )
    needs = [(1, 4 * 20), *((row, 80) for row in range(1, 21)), (20, 6 * 20)]
    assert rows_when_out(needs, 400, 15) == [4, 9, 13, 18]
    assert plan.supplies.refill_rows.tolist() == ["4, 9, 13, 18"]


def test_a_half_has_no_tail_where_it_begins():
    """Legs of 20 stitches, 40 cm of yarn a row by hand, bobbins of 120 cm: the second half lasts
    105 cm, then 90, then 90."""
    rows = ["A" * 36 + "B" * 20 + "AA" + "B" * 20 + "A" * 42] * 9 + ["A" * 38 + "B" * 20 + "A" * 62]
    habits = Habits(loose_up_to_cm=50, butterfly_up_to_cm=60, bobbin_up_to_cm=120, place="train")
    plan = plan_of(rows, habits=habits, allow=Allowances(tail_cm=15, cast_on=0, bind_off=0))
    held = plan.supplies[(plan.supplies.strand == "B1") & (plan.supplies.part == "second half")]
    assert held.refill_rows.tolist() == ["4, 6, 9"]


def test_feltable_yarn_is_spliced():
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    for feltable, ends, words in (
        (True, 0, "4 refills (spliced, no ends)"),
        (False, 8, "4 refills (8 more ends)"),
    ):
        plan = plan_of(stripes(40, rows=20), {"A": Yarn("A", feltable=feltable)}, habits=habits)
        assert plan.supplies.refill_ends.tolist() == [ends]
        assert words in plan.supplies.against[0]
        assert len(plan.ends) == 2 + ends
