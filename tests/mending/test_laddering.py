"""Laddering: where a column may be let down, by eye and by brute force; rungs by their words."""

import re

import pytest

from planner import CarryLimits, Construction, Yarn
from planner.mending import DROPPED, HOLE, LADDER, SPLIT, TWISTED, WRONG_YARN, Stitch, Work, cures
from planner.mending.cure import PICK_UP, SECURE
from planner.mending.easing import easing_of
from planner.mending.laddering import ladder
from planner.piece import JOINED, Entry, Habits
from tests.helpers.knitter import draw_chart
from tests.helpers.mending import cure_named, fault, noted, with_rows
from tests.helpers.plans import GAUGE, plan_of

# From the bottom: four plain rows, then B over columns 3 to 6 of ten.
BLOCK = ["AAABBBBAAA"] * 4 + ["AAAAAAAAAA"] * 4
WIDE_BLOCK = ["AAA" + "B" * 14 + "AAA"] * 4 + ["A" * 20] * 4


def why_not(plan, stitch, what=TWISTED, **more):
    return ladder(Work(plan), fault(what, stitch, **more)).barred


def may_be_let_down(rows, row, column, done):
    """By the fabric alone: in each row the same yarn lies on both sides; `rows` bottom row first.

    A rung must come from the stitch on one side and go to that on the other: a fact of knitting.
    """
    for cells in rows[row:done]:
        left, right = column - 1, column + 1
        if left < 0 or right >= len(cells):
            return False
        if not cells[left] == cells[column] == cells[right]:
            return False
    return True


@pytest.mark.parametrize("number", range(8))
def test_columns_by_brute_force(number):
    rows = draw_chart(number, stitches=16, rows=12, yarns=3, smooth=(1, 2)[number % 2])
    plan = with_rows(plan_of(rows, how=Construction(hand=("right", "left")[number % 2])), 9)
    from_below = rows[::-1]
    allowed = 0
    for row in range(9):
        for column in range(16):
            is_allowed = not why_not(plan, Stitch(row, column))
            assert is_allowed == may_be_let_down(from_below, row, column, 9)
            allowed += is_allowed
    assert allowed


def test_reasons_by_eye():
    plan = with_rows(plan_of(BLOCK), 7)
    assert "edge stitch" in why_not(plan, Stitch(1, 0))
    # Column 3 is inside A below, and at the left border of B above.
    assert "In row 5 (RS) it stands at the border of" in why_not(plan, Stitch(1, 3))
    assert why_not(plan, Stitch(1, 4)) == ""
    assert "the crossing there would be lost" in why_not(plan, Stitch(5, 4), HOLE)


def test_beside_a_selvedge_nothing_is_an_edge():
    plan = with_rows(plan_of(BLOCK, how=Construction(selvedge=1)), 7)
    assert why_not(plan, Stitch(1, 0)) == ""


def test_where_stitches_are_taken_away_beside_it():
    """Row 4 takes the stitch of column 3 away: columns 2 and 4 stand beside each other then."""
    plan = with_rows(plan_of(["AAA.AAA"] * 3 + ["AAAAAAA"] * 3), 5)
    for column in (2, 4):
        assert why_not(plan, Stitch(1, column)) == "Row 4 (WS) is shaped beside it."
        # Over that row nothing changes any more.
        assert why_not(plan, Stitch(4, column)) == ""
    assert why_not(plan, Stitch(1, 3)) == "In row 4 (WS) the column has no stitch."
    assert why_not(plan, Stitch(1, 1)) == ""


def test_in_rounds_nothing_is_an_edge_and_in_turned_ones_the_join_is():
    rows = ["A" * 8] * 5
    rounds = with_rows(plan_of(rows, how=Construction(worked="rounds")), 4)
    assert why_not(rounds, Stitch(1, 0)) == ""
    turned = with_rows(plan_of(rows, how=Construction(worked="turned")), 4)
    assert "edge stitch" in why_not(turned, Stitch(1, 0))


def test_not_where_a_tail_is_caught():
    """Tails are caught along their next 8 stitches; row 1 goes from right to left."""
    plan = with_rows(plan_of(["A" * 14] * 5, habits=Habits(tails_caught=True)), 4)
    assert "the tail of A1 is caught there" in why_not(plan, Stitch(0, 8))
    assert why_not(plan, Stitch(0, 4)) == ""
    assert why_not(plan, Stitch(1, 8)) == ""


def test_not_where_a_piece_was_joined():
    plan = with_rows(plan_of(["A" * 14] * 5), 4)
    join = Entry(9, "2025-03-02", JOINED, 3, strand="A1", length_cm=90, stitch=5)
    plan = noted(plan, join)
    # After the 5th stitch of row 3, from the right: between columns 9 and 8.
    barred = [c for c in range(1, 13) if why_not(plan, Stitch(2, c))]
    assert barred == [8, 9]
    assert "A1 is joined there" in why_not(plan, Stitch(2, 9))


# ---- what each cure is for


def test_a_wrong_yarn_is_mended_only_where_the_right_one_lies_behind():
    """Where B goes on over both sides of a wrong stitch, it lies behind that; beside, it ends."""
    plan = with_rows(plan_of(WIDE_BLOCK), 7)
    assert why_not(plan, Stitch(5, 10), WRONG_YARN, in_yarn="A") == ""
    plan = with_rows(plan_of(BLOCK), 7)
    # Three stitches of B beside it: they cannot give what a stitch lacks.
    assert "draw tight" in why_not(plan, Stitch(5, 4), WRONG_YARN, in_yarn="A")
    wrong = fault(WRONG_YARN, *(Stitch(5, column) for column in (3, 4, 5, 6)), in_yarn="A")
    assert "border" in ladder(Work(plan), wrong).barred
    # The whole of a row of A from edge to edge in B: no A was worked in it at all.
    whole_row = fault(WRONG_YARN, *(Stitch(1, column) for column in range(10)), in_yarn="B")
    assert ladder(Work(plan), whole_row).barred


def test_how_many_stitches_give_what_one_lacks_by_hand():
    """A stitch takes 2 cm and is 0.5 cm wide, so it lacks 1.5 cm; a stitch gives 2 mm: 8 of them.

    That a tenth is eased out of a stitch, and over at most 8 on a side, is judgement.
    """
    plan = with_rows(plan_of(["A" * 20] * 4, {"B": Yarn("B")}), 3)
    work = Work(plan)
    assert plan.multipliers["A"].value * GAUGE.stitch_cm == 2

    def easing(column, *beside):
        wrong = [Stitch(1, each) for each in (column, *beside)]
        return easing_of(work, wrong, wrong[0])

    middle = easing(10)
    assert (middle.lacks_cm, middle.left, middle.right) == (1.5, 4, 4)
    # Near the edge there are fewer on one side.
    assert (easing(1).left, easing(1).right) == (1, 7)
    # Of two together each takes from its own side.
    assert (easing(10, 11).left, easing(10, 11).right) == (8, 0)
    assert "there are 7" in easing(7, 8).barred
    # Six stitches lie up to the next wrong one, and three of them are for that.
    assert (easing(10, 17).left, easing(10, 17).right) == (5, 3)


def test_a_strand_that_is_only_as_long_as_the_stitches_are_wide():
    plan = with_rows(plan_of(["A" * 20] * 4, {"B": Yarn("B")}), 3)
    two = fault(WRONG_YARN, Stitch(1, 9), Stitch(1, 10), in_yarn="B")
    three = fault(WRONG_YARN, *(Stitch(1, column) for column in (9, 10, 11)), in_yarn="B")
    assert not ladder(Work(plan), two).barred
    assert "only as long as they are wide" in ladder(Work(plan), three).barred


def test_nothing_to_make_it_of_where_the_run_is_wrong_to_its_end():
    """By eye: columns 1 and 2 of A lie left of all that was rightly knitted in that row."""
    plan = with_rows(plan_of(["A" * 20] * 4, {"B": Yarn("B")}), 3)
    wrong = [Stitch(1, column) for column in (0, 1)]
    assert "No A lies behind" in easing_of(Work(plan), wrong, wrong[1]).barred
    assert ladder(Work(plan), fault(WRONG_YARN, *wrong, in_yarn="B")).barred


def test_carried_yarn_behind_is_told_of():
    """B is carried behind three stitches of A in row 3: rows of 2 B, 3 A, 2 B, then A round it."""
    rows = ["AAAAAAAAA"] * 2 + ["ABBAAABBA"] * 3
    plan = with_rows(plan_of(rows, limits=CarryLimits(across=5)), 4)
    cure = ladder(Work(plan), fault(TWISTED, Stitch(1, 4)))
    assert not cure.barred
    (said,) = [step for step in cure.steps if "is carried past" in step]
    assert re.match(r"In row 2 \(WS\) B\d is carried past; In row 3 \(RS\) B\d is carried", said)


def rungs_told(cure):
    """The strand of each rung by row, from the words of a cure."""
    found = {}
    for step in cure.steps:
        drawn = re.match(r"In rows? (\S+) draw the rungs? of (\S+) through", step)
        if drawn:
            ends = [int(number) for number in drawn[1].split("–")]
            for row in range(ends[0], ends[-1] + 1):
                found[row] = drawn[2]
    return found


def test_rungs_followed_from_the_foot_up():
    """Who draws the rungs through in that order has each row's own strand there, by its card."""
    plan = with_rows(plan_of(BLOCK), 7)
    cure = ladder(Work(plan), fault(TWISTED, Stitch(1, 4)))
    assert cure.rungs == 6
    told = rungs_told(cure)
    assert sorted(told) == [2, 3, 4, 5, 6, 7]
    for row, strand in told.items():
        on_card = {line.strand: line for line in plan.cards[row - 1].lines}
        assert on_card[strand].yarn == ("A" if row < 5 else "B")


def test_a_dropped_stitch_has_no_rung_of_its_own():
    """It hung open in row 3, so rows 4 to 7 lie over it; in the last row it only slipped off."""
    plan = with_rows(plan_of(BLOCK), 7)
    cure = cure_named(cures(plan, fault(DROPPED, Stitch(2, 4))), PICK_UP)
    assert sorted(rungs_told(cure)) == [4, 5, 6, 7]
    slipped = cures(plan, fault(DROPPED, Stitch(6, 4)))
    assert slipped[0].name == PICK_UP
    assert slipped[0].rungs == 0
    assert "goes back on the needle" in cure_named(slipped, SECURE).barred


def test_a_dropped_stitch_at_a_border_is_sewn_fast_and_made_good_for():
    plan = with_rows(plan_of(BLOCK), 7)
    found = cures(plan, fault(DROPPED, Stitch(4, 3)))
    assert cure_named(found, PICK_UP).barred
    secured = cure_named(found, SECURE)
    assert found[0] is secured
    assert "In the next row make 1 stitch above that place" in " ".join(secured.steps)


def test_the_row_that_is_begun_is_a_rung_where_it_is_worked_already():
    plan = with_rows(plan_of(BLOCK), 6)
    stop = Entry(9, "2025-03-02", "stopped", 7, stitch=5)
    plan = noted(plan, stop)
    # Row 7 goes from right to left: its first five stitches are columns 9 to 5.
    assert ladder(Work(plan), fault(SPLIT, Stitch(4, 5))).rungs == 3
    assert ladder(Work(plan), fault(SPLIT, Stitch(4, 4))).rungs == 2


def test_garter_is_picked_up_from_both_sides():
    plan = with_rows(plan_of(BLOCK, how=Construction(fabric="garter")), 9)
    cure = cure_named(cures(plan, fault(TWISTED, Stitch(2, 4))), LADDER)
    assert cure.rungs == 7
    assert "one of a WS row to the wrong side" in " ".join(cure.steps)
