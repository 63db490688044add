"""The lines of the logs: corrections, what a line refuses to say, and which rows are worked."""

from dataclasses import replace

import pytest

from planner import PlanError
from planner.piece.log import (
    JOINED,
    LEFT,
    SHORT,
    STOPPED,
    SUPPLY,
    TAKEN_OUT,
    UNDONE,
    UNRAVELLED,
    WAYS,
    WEIGHED,
    WORKED,
    WRAPS,
    Entry,
    check_mark,
    in_force,
    notes_by_row,
    notes_in_row,
    rows_worked,
    standing,
)
from tests.helpers.measurements import corrected, measured
from tests.helpers.progress import DAY, log_of

# Corrections


def test_a_correction_is_a_new_line_that_names_the_old():
    old = measured(note="typed late")
    new = corrected(old, 2, stitches=56, note="counted again")
    assert (new.number, new.corrects, new.stitches, new.length_cm) == (2, 1, 56, 100)
    assert (old.stitches, old.note, new.note) == (54, "typed late", "counted again")
    assert in_force([old, new]) == [new]


def test_in_force():
    one, two, three = (measured(number=n) for n in (1, 2, 3))
    again = corrected(two, 4, stitches=60)
    once_more = corrected(again, 5, stitches=58)
    assert in_force([]) == []
    assert in_force([three, one, two]) == [one, two, three]  # in the order of their numbers
    assert in_force([again, one, two, three]) == [one, three, again]
    assert in_force([once_more, three, again, two, one]) == [one, three, once_more]


def test_left_out_is_in_force():
    believed, left_out = measured(number=1), measured(number=2, use="no")
    assert in_force([believed, left_out]) == [believed, left_out]


@pytest.mark.parametrize("corrects", [5, 6, 99])
def test_a_line_corrects_an_older_one(corrects):
    """One that named itself would drop out of the log without a word."""
    with pytest.raises(PlanError, match=f"5.*{corrects}"):
        measured(number=5, corrects=corrects)


# What is impossible

NAN, INF = float("nan"), float("inf")


@pytest.mark.parametrize(
    ("make", "words"),
    [
        (lambda: measured(stitches=0), ["Measurement 1", "stitches", "0", "more than 0"]),
        (lambda: measured(stitches=-54), ["stitches", "-54", "0 or more"]),
        (lambda: measured(stitches=NAN), ["stitches", "nan"]),
        (lambda: measured(stitches="54"), ["stitches", "'54'", "a number"]),
        (lambda: measured(stitches=True), ["stitches", "True"]),
        (lambda: measured(UNRAVELLED, stitches=0), ["stitches", "more than 0"]),
        (lambda: measured(WEIGHED, stitches=0), ["stitches", "more than 0"]),
        (lambda: measured(SUPPLY, stitches=0), ["stitches", "more than 0"]),
        (lambda: measured(length_cm=None), ["length (cm)", "more than 0"]),
        (lambda: measured(length_cm=0), ["length (cm)", "more than 0"]),
        (lambda: measured(length_cm=-1), ["length (cm)", "-1"]),
        (lambda: measured(length_cm=INF), ["length (cm)", "inf"]),
        (lambda: measured(length_cm=1e12), ["length (cm)", "1e+12", "at most"]),
        (lambda: measured(length_step_cm=-0.1), ["length", "step", "-0.1"]),
        (lambda: measured(UNRAVELLED, length_cm=None), ["length (cm)", "more than 0"]),
        (lambda: measured(WRAPS, length_cm=0), ["length (cm)", "more than 0"]),
        (lambda: measured(WRAPS, wraps=None), ["wraps", "more than 0"]),
        (lambda: measured(WRAPS, wraps=0), ["wraps", "more than 0"]),
        (lambda: measured(WRAPS, wraps=-10), ["wraps", "-10"]),
        (lambda: measured(WEIGHED, grams=None), ["grams", "more than 0"]),
        (lambda: measured(WEIGHED, grams=0), ["grams", "more than 0"]),
        (lambda: measured(WEIGHED, grams=-8), ["grams", "-8"]),
        (lambda: measured(WEIGHED, grams_step=-1), ["grams step", "-1"]),
        (
            lambda: measured(WEIGHED, metres_per_gram=None),
            ["yarn A has no length in a gram", "its band", "weigh a measured length"],
        ),
        (lambda: measured(WEIGHED, metres_per_gram=0), ["yarn A has no length in a gram"]),
        (lambda: measured(WEIGHED, metres_per_gram=-2), ["metres per gram", "-2"]),
        (
            lambda: measured(WEIGHED, metres_per_gram_from="guess"),
            ['"guess"', "label or weighed length"],
        ),
        (lambda: measured(SUPPLY, wound_cm=None), ["wound (cm)", "more than 0"]),
        (
            lambda: measured(SUPPLY, left_cm=1261),
            ["more was left over than was wound", "exchanged"],
        ),
        (lambda: measured(SUPPLY, left_cm=-1), ["left (cm)", "-1"]),
        (lambda: measured(SUPPLY, carried_cm=-1), ["carried (cm)", "-1"]),
        (lambda: measured(SUPPLY, tails_cm=-1), ["tails (cm)", "-1"]),
        (lambda: measured(SUPPLY, edges_cm=-1), ["edges (cm)", "-1"]),
        (
            lambda: measured(gauge_stitches=0),
            ["gauge", "stitches", "of the same fabric", "more than 0"],
        ),
        (lambda: measured(gauge_stitches=None), ["gauge", "stitches", "None"]),
        (lambda: measured(gauge_stitches=NAN), ["gauge", "stitches", "nan"]),
        (lambda: measured(gauge_over_cm=0), ["gauge", "over", "more than 0"]),
        (lambda: measured(needle_mm=-4), ["needle", "mm", "-4"]),
        (lambda: measured(yarn=""), ["names no yarn", "letter"]),
        (lambda: measured(yarn=" "), ["names no yarn"]),
        (lambda: measured(date=""), ["Measurement 1", "date", "2026-03-14"]),
        (lambda: measured(date="2 March"), ["date", '"2 March"', "2026-03-14"]),
        (lambda: replace(measured(), way="guess"), ["way", '"guess"', *WAYS]),
        (lambda: measured(fabric="ribbing"), ["fabric", '"ribbing"', "stockinette", "garter"]),
        (lambda: measured(state="wet"), ['"wet"', "as knitted", "blocked"]),
        (lambda: measured(gauge_state="wet"), ["gauge", '"wet"']),
        (lambda: measured(use="perhaps"), ["use", '"perhaps"', "yes", "no"]),
    ],
)
def test_wrong_arguments(make, words):
    with pytest.raises(PlanError) as caught:
        make()
    message = str(caught.value)
    assert [word for word in words if word not in message] == [], message


# Rows worked


def test_rows_worked_counts_back_and_forth():
    lines = [
        (WORKED, 1),
        (WORKED, 2),
        (UNDONE, 2),
        (WORKED, 2),
        (WORKED, 3),
        (UNDONE, 3),
        (UNDONE, 2),
    ]
    done = [rows_worked(log_of(*lines[:number])) for number in range(len(lines) + 1)]
    assert done == [0, 1, 2, 1, 2, 3, 2, 1]


def test_lines_count_by_their_number_not_their_place():
    lines = log_of((WORKED, 1), (WORKED, 2), (UNDONE, 2))
    assert rows_worked(lines[::-1]) == 1


def test_notes_of_rows_taken_back_are_gone():
    lines = [
        Entry(1, DAY, WORKED, 1, runs="4 A1"),
        Entry(2, DAY, WORKED, 2, runs="4 A1 cut"),
        Entry(3, DAY, UNDONE, 2),
    ]
    assert notes_by_row(lines) == {1: "4 A1"}
    assert notes_by_row([*lines, Entry(4, DAY, WORKED, 2, runs="4 A2")]) == {1: "4 A1", 2: "4 A2"}


def test_a_row_taken_back_takes_the_later_ones_and_their_notes_with_it():
    """What was noted before it holds: before the first row, after row 1, and in row 2."""
    lines = [
        Entry(1, DAY, LEFT, 0, strand="A1", length_cm=300.0),
        Entry(2, DAY, WORKED, 1),
        Entry(3, DAY, LEFT, 1, strand="A1", length_cm=200.0),
        Entry(4, DAY, SHORT, 2, strand="A1", stitch=3),
        Entry(5, DAY, WORKED, 2),
        Entry(6, DAY, STOPPED, 2),
        Entry(7, DAY, WORKED, 3),
        Entry(8, DAY, JOINED, 4, strand="A1", length_cm=900.0, stitch=1),
    ]
    for row, hold in ((4, 7), (3, 6), (2, 3), (1, 1)):
        undone = [*lines, Entry(9, DAY, UNDONE, row)]
        assert standing(undone) == lines[:hold]
        assert rows_worked(undone) == row - 1
        assert standing(undone[::-1]) == lines[:hold]  # wherever they stand in the file
    assert [entry.rows_done for entry in lines] == [0, 1, 1, 1, 2, 2, 3, 3]
    assert notes_in_row(lines, 2) == [lines[3]]
    assert notes_in_row(lines, 3) == []


@pytest.mark.parametrize(
    ("values", "words"),
    [
        ({"what": "joined up"}, ['"joined up"', "joined", "ran short", "exchanged", "stopped"]),
        ({"row": -1}, ["row is -1"]),
        ({"what": WORKED, "row": 0}, ["row is 0", "count from 1"]),
        ({"what": JOINED}, ["length of A1", "None"]),
        ({"what": LEFT, "length_cm": -1}, ["length of A1", "-1"]),
        ({"part": "half"}, ['part is "half"', "first half", "second half"]),
        ({"stitch": -3}, ["stitch is -3"]),
        ({"stitch": "3"}, ["stitch", "'3'", "a number"]),
        ({"row": 0, "stitch": 3}, ["stitch is 3", "row is 0"]),
    ],
)
def test_a_line_that_cannot_be(values, words):
    given = {"what": SHORT, "row": 1, "strand": "A1"} | values
    with pytest.raises(PlanError) as refused:
        Entry(7, DAY, **given)
    assert [word for word in ["number 7", *words] if word not in str(refused.value)] == []


TWO_WORKED = [(WORKED, 1), (WORKED, 2)]
REFUSED = {  # log, what is marked, row, what the message names
    "twice": (TWO_WORKED, WORKED, 2, ["Row 2", "already", "row 3"]),
    "an early row twice": (TWO_WORKED, WORKED, 1, ["Row 1", "already", "row 3"]),
    "out of turn": (TWO_WORKED, WORKED, 4, ["Row 4", "row 3", "not marked"]),
    "the first out of turn": ([], WORKED, 2, ["Row 2", "row 1", "not marked"]),
    "past the end": ([(WORKED, n) for n in range(1, 6)], WORKED, 6, ["5 rows", "all are worked"]),
    "back past the start": ([], UNDONE, 1, ["No row", "none to take back"]),
    "row 0 taken back": ([(WORKED, 1), (UNDONE, 1)], UNDONE, 0, ["No row", "none to take back"]),
    "a row to come taken back": (TWO_WORKED, UNDONE, 3, ["last row worked", "row 2"]),
}


@pytest.mark.parametrize("name", REFUSED)
def test_marks_that_cannot_be(name):
    before, what, row, named = REFUSED[name]
    with pytest.raises(PlanError) as refused:
        check_mark(log_of(*before), what, row, 5)
    for word in named:
        assert word in str(refused.value)


def test_marks_that_can_be():
    check_mark(log_of(), WORKED, 1, 5)
    check_mark(log_of(*TWO_WORKED), WORKED, 3, 5)
    check_mark(log_of(*TWO_WORKED), UNDONE, 2, 5)
    check_mark(log_of(*TWO_WORKED), UNDONE, 1, 5)  # the later one goes with it
    # A row that is begun, by what was noted in it.
    begun = (*log_of(*TWO_WORKED), Entry(3, DAY, STOPPED, 3, stitch=4))
    check_mark(begun, UNDONE, 3, 5)
    check_mark(log_of(*TWO_WORKED, (UNDONE, 2), (LEFT, 1, "A1", 50.0)), WORKED, 2, 5)


def test_a_note_that_is_taken_out_holds_no_more_and_rows_stay():
    """By its number, wherever it stands in the file; a row is never taken out so."""
    log = (*log_of((WORKED, 1), (SHORT, 1, "A1", None), (LEFT, 1, "A1", 50.0)),)
    out = Entry(4, DAY, TAKEN_OUT, 1, other="2")
    assert [entry.number for entry in standing((out, *log))] == [1, 3]
    row = Entry(5, DAY, TAKEN_OUT, 1, other="1")
    assert [entry.number for entry in standing((*log, out, row))] == [1, 3]


def test_a_log_from_another_piece_is_refused():
    """By its stitches: they are noted with each row."""
    entries = [Entry(1, DAY, WORKED, 1, stitches=60)]
    with pytest.raises(
        PlanError, match="row 1 was worked with 60 stitches, but the chart has 20 stitches there"
    ):
        rows_worked(entries, [20] * 4)
    with pytest.raises(PlanError, match="no such row"):
        rows_worked([Entry(1, DAY, WORKED, 5, stitches=20)], [20] * 4)
    assert rows_worked([Entry(1, DAY, WORKED, 1, stitches=20)], [20] * 4) == 1
