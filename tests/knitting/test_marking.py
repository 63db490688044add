"""Marking: several rows at once, what ripping back meets, and what is noted in mid-row."""

import pytest

from planner import CarryLimits, Construction, PlanError
from planner.knitting import (
    check_supply,
    hanging_parts,
    row_notes,
    run_in_words,
    taken_back_to,
    what_comes_undone,
    worked_up_to,
)
from planner.piece import (
    CLEARED,
    EXCHANGED,
    JOINED,
    LEFT,
    SHORT,
    STOPPED,
    UNDONE,
    WORKED,
    Allowances,
    Entry,
    Habits,
)
from tests.helpers.plans import PLAIN, plan_of, stripes
from tests.helpers.progress import DAY, knitted, worked

# A1 is begun from its middle: A1a works the left side of the patch and A1b the right one.
PATCH = ["AAAAAAAA", "AABBBAAA", "AABBBAAA", "AABBBAAA", "AAAAAAAA"]
ROUNDS = Construction(worked="rounds")


# Rows worked and taken back


def test_rows_are_marked_one_by_one_as_they_are_knitted():
    marks = worked_up_to(plan_of(PATCH), worked(1), 3)
    assert [(mark.what, mark.row) for mark in marks] == [(WORKED, 2), (WORKED, 3)]
    assert marks[1].runs == "3 A1 second half, 3 B1, 2 A1"


def test_rows_are_taken_back_by_one_line():
    plan = plan_of(PATCH)
    for row in (0, 1, 3):
        mark = taken_back_to(plan, worked(4), row)
        assert (mark.what, mark.row) == (UNDONE, row + 1)


def test_a_row_that_is_begun_is_taken_back_with_its_notes():
    plan = plan_of(PATCH)
    log = worked(2, (SHORT, 3, 4))
    mark = taken_back_to(plan, log, 2)
    assert (mark.what, mark.row) == (UNDONE, 3)
    assert row_notes(plan, (*log, Entry(9, DAY, UNDONE, 3))) == []


REFUSED = {  # what is marked, and what is said
    "up to a row that is worked": (
        lambda plan: worked_up_to(plan, worked(2), 2),
        "Row 2 cannot be the last one worked: the next is row 3, and the piece has 5 rows.",
    ),
    "beyond the last": (lambda plan: worked_up_to(plan, worked(2), 6), "the piece has 5 rows."),
    "when all are": (
        lambda plan: worked_up_to(plan, worked(5), 6),
        "The piece has 5 rows, and all are worked.",
    ),
    "back from nothing": (
        lambda plan: taken_back_to(plan, worked(0), 0),
        "No row is marked as worked, so there is none to take back.",
    ),
    "back to the last": (
        lambda plan: taken_back_to(plan, worked(2), 2),
        "Row 2 cannot be the last one that stays: row 2 is the last one worked.",
    ),
    "back to before the first": (
        lambda plan: taken_back_to(plan, worked(2), -1),
        "Row -1 cannot be the last one that stays",
    ),
    "a strand that is not there": (
        lambda plan: check_supply(plan, worked(2), "W9"),
        "No W9 hangs from the work in this row. There hang A1a, A1b, B1.",
    ),
    "a strand whose half it is": (
        lambda plan: check_supply(plan, worked(2), "A1"),
        "No A1 hangs from the work in this row.",
    ),
    "no strand chosen": (
        lambda plan: check_supply(plan, worked(5), None),
        "No supply is chosen that hangs from the work in this row. None hangs now.",
    ),
}


@pytest.mark.parametrize("name", REFUSED)
def test_what_cannot_be(name):
    act, words = REFUSED[name]
    with pytest.raises(PlanError) as refused:
        act(plan_of(PATCH))
    assert words in str(refused.value)


def test_rounds_are_called_so():
    plan = plan_of(PATCH, how=ROUNDS)
    with pytest.raises(PlanError, match="Round 9 cannot be the last one worked: the next is round"):
        worked_up_to(plan, worked(2), 9)
    with pytest.raises(PlanError, match="No round is marked"):
        taken_back_to(plan, (), 0)
    assert what_comes_undone(plan, worked(2), 1)[0].startswith("round 2: ")


# What comes undone


@pytest.mark.parametrize(
    ("done", "to", "met"),
    [
        (3, 2, []),
        (2, 1, ["row 2: B1 was begun; take it out and keep it for later"]),
        (4, 3, ["row 4: A1a was cut, and hangs again", "row 4: B1 was cut, and hangs again"]),
        (
            5,
            0,
            [
                "row 5: A1b was cut, and hangs again",
                "row 4: A1a was cut, and hangs again",
                "row 4: B1 was cut, and hangs again",
                "row 2: B1 was begun; take it out and keep it for later",
                "row 1: A1 was begun; take it out and keep it for later",
            ],
        ),
    ],
)
def test_what_was_begun_and_cut_comes_undone(done, to, met):
    """By eye: A1 begins in row 1 from its middle, B1 works rows 2 to 4, as A1a does."""
    assert what_comes_undone(plan_of(PATCH), worked(done), to) == met


def test_what_is_cast_on_and_bound_off_with_is_neither_begun_nor_cut_in_a_row():
    plan = plan_of(PATCH, allow=Allowances())
    assert what_comes_undone(plan, worked(5), 4) == []
    assert what_comes_undone(plan, worked(1), 0) == []


def test_joins_and_exchanges_that_were_noted_come_undone_with_their_rows():
    swap = {"strand": "A1", "part": "first half", "other": "A1b"}
    notes = ((JOINED, 2, 4), (EXCHANGED, 3, 0, swap), (JOINED, 4, 2))
    plan, log = plan_of(PATCH), worked(3, *notes)
    joined = "a new length was joined to B1; open the join"
    swapped = "row 3: A1a and A1b were exchanged; change them back"
    assert what_comes_undone(plan, log, 3) == [f"row 4: {joined}"]  # in the row on the needles
    assert what_comes_undone(plan, log, 2) == [f"row 4: {joined}", swapped]
    assert what_comes_undone(plan, log, 1)[:3] == [f"row 4: {joined}", swapped, f"row 2: {joined}"]


def refilled(rows=22, log=(), **asked):
    """A on bobbins of 4 m, refilled in rows 5, 10, 14 and 19: 40 stitches of 2 cm a row."""
    habits = Habits(bobbin_up_to_cm=400, butterfly_up_to_cm=300, place="train")
    settings = {"habits": habits, "progress": log, "allow": PLAIN} | asked
    return plan_of(stripes(40, 40, rows=rows), **settings)


def test_a_join_that_was_planned_comes_undone_unless_one_was_noted_in_its_place():
    planned = "A1 was to be joined to its next length; open the join"
    noted = "a new length was joined to A1; open the join"
    log = knitted(refilled(), 6)
    assert f"row 5: {planned}" in what_comes_undone(refilled(log=log), log, 3)
    log = (*log, Entry(7, DAY, JOINED, 4, strand="A1", length_cm=300.0, stitch=30))
    met = what_comes_undone(refilled(log=log), log, 3)
    assert [words for words in met if "A1" in words] == [f"row 4: {noted}"]


def test_what_is_measured_off_in_mid_strand_stays_wound():
    """From the ball in rows 1 to 6, in the train from row 7 on."""
    plan = plan_of(["A" * 20] * 14, habits=Habits(elsewhere="7-14 train"))
    [held] = plan.held
    assert held.measured_off.row == 6
    met = what_comes_undone(plan, worked(7), 6)
    stays = "it stays as it is wound, and is not measured off again"
    assert met == [f"row 7: A1 was measured off its ball; {stays}"]
    assert what_comes_undone(plan, worked(6), 5) == []


# What hangs


@pytest.mark.parametrize(
    ("done", "hang"),
    [
        (0, ["A1a", "A1b"]),
        (1, ["A1a", "A1b", "B1"]),  # B1 begins in the row on the needles
        (3, ["A1a", "A1b", "B1"]),
        (4, ["A1b"]),
        (5, []),
    ],
)
def test_what_hangs_is_offered_each_half_by_itself(done, hang):
    assert hanging_parts(plan_of(PATCH), worked(done)) == hang


def test_what_is_bound_off_with_hangs_until_then():
    assert hanging_parts(plan_of(PATCH, allow=Allowances()), worked(5)) == ["A1b"]


# Notes in mid-row


@pytest.mark.parametrize(
    ("done", "note", "words"),
    [
        (0, (STOPPED, 0, 0), "You stopped before row 1."),
        (2, (STOPPED, 2, 0), "You stopped after row 2."),
        (5, (STOPPED, 5, 0), "You stopped after the last row."),
        (1, (STOPPED, 2, 3), "You stopped after 1 of 3 B B1 in row 2 (WS)."),
        (1, (STOPPED, 2, 5), "You stopped after 3 of 3 B B1 in row 2 (WS)."),
        (1, (STOPPED, 2, 6), "You stopped after 1 of 3 A A1b in row 2 (WS)."),
        (1, (SHORT, 2, 3), "B1 ran short after 1 of 3 B B1 in row 2 (WS)."),
        (1, (JOINED, 2, 3), "1.00 m were joined to B1 after 1 of 3 B B1 in row 2 (WS)."),
        (1, (LEFT, 1, 0), "1.00 m of B1 were left after row 1."),
        (
            1,
            (EXCHANGED, 1, 0, {"other": "A1b", "note": " in the dark. "}),
            "B1 and A1b were exchanged after row 1: in the dark.",
        ),
        # Another chart has come since it was noted.
        (1, (SHORT, 2, 99), "B1 ran short after 99 stitches of row 2."),
    ],
)
def test_a_note_is_told_by_its_place(done, note, words):
    """By eye, row 2 (WS) from left to right: 2 A1a, 3 B1, 3 A1b."""
    assert row_notes(plan_of(PATCH), worked(done, note)) == [words]


def test_notes_are_shown_in_their_row_only_and_of_several_pauses_the_last():
    plan = plan_of(PATCH)
    log = worked(1, (STOPPED, 1, 0), (SHORT, 2, 3), (STOPPED, 2, 4))
    short = "B1 ran short after 1 of 3 B B1 in row 2 (WS)."
    assert row_notes(plan, log) == [short, "You stopped after 2 of 3 B B1 in row 2 (WS)."]
    assert row_notes(plan, (*log, Entry(9, DAY, WORKED, 2))) == []


def test_balls_that_were_cleared_are_told():
    """Noted with the row on the needles, and read when that is worked."""
    log = (*worked(2), Entry(9, DAY, CLEARED, 2))
    assert row_notes(plan_of(PATCH), log) == ["The balls were cleared after row 2."]


def test_lengths_of_notes_are_in_the_units_shown():
    note = (LEFT, 1, 0, {"length_cm": 91.44})
    assert row_notes(plan_of(PATCH, units="in"), worked(1, note)) == [
        "1.00 yd of B1 were left after row 1."
    ]


def test_of_runs_that_are_alike_it_is_said_which():
    """By eye, row 1 (RS) from right to left: B is taken along behind C."""
    plan = plan_of(["ABBCBBCBB"], limits=CarryLimits(across=1, middle_start=False))
    words = [run_in_words(plan, 0, number) for number in range(6)]
    assert words[0] == "2 B B1 (1st of 3)"
    assert words[2] == "2 B B1 (2nd of 3)"
    assert words[5] == "1 A A1"
