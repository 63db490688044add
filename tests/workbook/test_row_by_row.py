"""The forms of notebook 4: the row on the needles, without a browser."""

import re
from dataclasses import replace
from datetime import datetime, timedelta

import pytest

from planner import Chart, Construction, PlanError, Project, Yarn, make_plan, open_project
from planner.edition import make_lesson
from planner.finishing import ends_in_words
from planner.folder import read_progress
from planner.knitting import rows_tonight, time_in_words, time_left
from planner.piece import STOPPED, Allowances, Habits, rows_worked
from planner.twists import advise
from planner.units import listed
from planner.workbook import (
    Desk,
    balls_form,
    changes_fold,
    ends_pane,
    in_row_form,
    lasts_pane,
    pattern_pane,
    row_form,
    several_rows_form,
    stops_pane,
    stretches_pane,
    ways_form,
)
from planner.workbook.beside_the_card import (
    as_written,
    balls_now,
    busiest_rows,
    ends_by_now,
    ends_html,
    evening,
    lasting,
    lasts_html,
    notes_made,
    order_around,
    order_now_html,
    rows_marked,
    stops_html,
    tonight_html,
    worth_reading,
)
from planner.workbook.in_the_row import (
    BETWEEN_ROWS,
    Happened,
    cm_per_unit,
    note_in_row,
    take_out,
    write_note,
)
from planner.workbook.row_by_row import (
    around_html,
    card_now_html,
    mark_rows,
    rows_to_stop,
    sitting_html,
    what_marking_does,
)
from tests.helpers.folders import marked, write
from tests.helpers.forms import box, option, said, words_of, work_rows
from tests.helpers.plans import demo, plan_of
from tests.helpers.progress import knitted, small_piece

# A1 is begun from its middle: A1a works the left side of the patch and A1b the right one.
PATCH = ["AAAAAAAA", "AABBBAAA", "AABBBAAA", "AABBBAAA", "AAAAAAAA"]


@pytest.fixture
def patch(tmp_path):
    """A desk with the small patch, in a folder."""
    return Desk(open_project(small_piece(tmp_path, PATCH)))


def plain(form) -> str:
    """What a form says, its words parted by single spaces."""
    return " ".join(said(form).split())


# ---- marking


def test_marking_rows_moves_the_card_and_opens_there_again(desk):
    form = row_form(desk)
    # What is cut off its ball is cut before the ball is laid out.
    cast_on = plain(form).partition("Row 1 (RS)")[0]
    assert cast_on.index("T2: loose strand") < cast_on.index("Lay ball T1 on the table.")
    assert "Row 1 (RS), knit, right to left 72 T Sea green T1" in plain(form)
    assert "= 72 stitches" in plain(form)
    for _ in range(12):
        box(form, "Row worked").click()
    for words in ("Row 13 (RS), knit, right to left", "28 K Rock K1", "44 T Sea green T1"):
        assert words in plain(form)
    assert "Below it row 12 (WS) 44 T1, 28 K1" in plain(form)
    again = row_form(Desk(open_project(desk.project.folder)))
    assert "Row 13 (RS), knit, right to left" in plain(again)
    box(form, "Take the last row back").click()
    assert "Row 12 (WS)" in plain(form)
    assert [entry.what for entry in read_progress(desk.project.folder)] == ["row worked"] * 12 + [
        "row undone"
    ]


def mark_as(form, row):
    box(form, "the last row worked is").value = row
    box(form, "Mark it so").click()


def test_several_rows_are_marked_and_taken_back_at_once(patch):
    """By eye: B1 is begun in row 2; A1a and B1 are cut in row 4."""
    card, form = row_form(patch), several_rows_form(patch)
    box(form, "the last row worked is").value = 4
    assert "Rows 1 to 4 are then worked." in plain(form)
    box(form, "Mark it so").click()
    assert "rows 1 to 4 are worked." in plain(form)
    assert "Row 5 (RS)" in plain(card)
    assert [entry.row for entry in read_progress(patch.project.folder)] == [1, 2, 3, 4]

    box(form, "the last row worked is").value = 1
    undone = [
        *("row 4: A1a was cut, and hangs again", "row 4: B1 was cut, and hangs again"),
        "row 2: B1 was begun; take it out and keep it for later",
    ]
    assert f"Rows 2 to 4 are then ripped back. {' '.join(undone)}" in plain(form)
    box(form, "Mark it so").click()
    # It stays to be read, needles in hand.
    assert f"rows 2 to 4 are taken back. {' '.join(undone)}" in plain(form)
    assert "Row 2 (WS)" in plain(card)
    [*_, last] = read_progress(patch.project.folder)
    assert (last.what, last.row) == ("row undone", 2)


def test_a_message_goes_when_what_it_says_is_no_longer_so(patch):
    """Marked in one form, then taken back or gone beyond in another."""
    form, several = row_form(patch), several_rows_form(patch)
    box(form, "Row worked").click()
    assert "row 1 is worked" in said(form)
    box(several, "the last row").value = 3
    box(several, "Mark it so").click()
    assert "row 1 is worked" not in said(form)
    assert "rows 2 to 3 are worked" in said(several)
    # What is noted in mid-row takes nothing back.
    marked(patch.project, STOPPED, 4, stitch=2)
    patch.look()
    assert "rows 2 to 3 are worked" in said(several)
    work_rows(patch, -1)
    assert "are worked" not in said(several)


def test_the_last_row_taken_back_says_what_comes_undone(patch):
    form = row_form(patch)
    work_rows(patch, 2)
    box(form, "Take the last row back").click()
    assert "row 2 is taken back. row 2: B1 was begun; take it out" in plain(form)


def test_what_is_typed_stays_while_something_else_is_changed(patch):
    form = several_rows_form(patch)
    last_row = box(form, "the last row worked is")
    last_row.value = 4
    patch.change(habits=replace(patch.project.habits, sew_every=4))
    assert last_row.value == 4
    work_rows(patch)
    assert last_row.value == 1


@pytest.mark.parametrize(
    ("worked", "row", "words"),
    [
        (0, 0, "No row is marked as worked, so there is none to take back."),
        (0, -1, "No row is marked as worked, so there is none to take back."),
        (2, 2, "Row 2 is the last one marked as worked already."),
        (2, -1, "Row -1 cannot be the last one that stays: row 2 is the last one worked."),
        (2, 6, "Row 6 cannot be the last one worked: the next is row 3, and the piece has 5 rows."),
        (5, 6, "The piece has 5 rows, and all are worked."),
    ],
)
def test_rows_that_cannot_be_marked(patch, worked, row, words):
    work_rows(patch, worked) if worked else None
    with pytest.raises(PlanError) as refused:
        mark_rows(patch, row)
    assert str(refused.value) == words
    assert len(read_progress(patch.project.folder)) == worked


@pytest.mark.parametrize(
    ("worked", "row", "words"),
    [
        (0, 0, "No row is worked yet."),
        (2, 2, "Row 2 is the last one worked."),
        (2, 3, "Row 3 is then worked."),
        (2, 1, "Row 2 is then ripped back."),
        (2, 6, "The piece has 5 rows."),
        (2, -1, "The piece has 5 rows."),
    ],
)
def test_what_marking_would_do(worked, row, words):
    plan = plan_of(PATCH, progress=knitted(plan_of(PATCH), worked))
    assert words_of(what_marking_does(plan, row)).startswith(words)


def test_rounds_are_called_rounds(tmp_path):
    folder = write(
        tmp_path,
        piece='format = 1\n[construction]\nworked = "rounds"\n',
        chart="\n".join(PATCH) + "\n",
        yarns=None,
    )
    desk = Desk(open_project(folder))
    form, in_row = row_form(desk), in_row_form(desk)
    assert box(in_row, "where").options[0][0] == "between two rounds"
    box(form, "Round worked").click()
    assert "round 1 is worked." in plain(form)
    box(form, "Take the last round back").click()
    assert "round 1 is taken back." in plain(form)
    assert "No round is worked yet." in plain(several_rows_form(desk))
    desk.change(how=Construction())
    assert box(form, "Row worked").description == "Row worked"


def test_a_piece_without_a_folder_says_so():
    desk = Desk(Project("x", Chart.from_rows(PATCH)))
    for press in ("Row worked", "Note it"):
        form = row_form(desk) if press == "Row worked" else in_row_form(desk)
        box(form, press).click()
        assert "no folder to keep its progress in. Open one that lies in data." in plain(form)


def test_two_notebooks_on_one_piece_do_not_lose_their_place(desk):
    """The other notebook has marked row 1 meanwhile: this one says so and shows row 2, unmarked."""
    here, other = row_form(desk), row_form(Desk(open_project(desk.project.folder)))
    box(other, "Row worked").click()
    box(here, "Row worked").click()
    assert "row 1 worked. Look at the card again" in said(here)
    assert "Row 2 (WS)" in said(here)
    assert len(read_progress(desk.project.folder)) == 1


def test_several_rows_are_not_marked_on_a_log_that_has_changed(patch):
    """Rows 1 and 2 are marked elsewhere: neither up to row 4 nor back to row 0 without looking."""
    form = several_rows_form(patch)
    other = Desk(open_project(patch.project.folder))
    mark_rows(other, 2)
    mark_as(form, 4)
    assert "Look at the card again before you mark a row." in plain(form)
    assert rows_worked(read_progress(patch.project.folder)) == 2
    mark_rows(other, 3)
    mark_as(form, 0)
    assert "Look at the card again before you mark a row." in plain(form)
    assert rows_worked(read_progress(patch.project.folder)) == 3


# ---- in mid-row


def fill_in(form, what, where="", **values):
    """Choose what happens and the run in which it does, and fill in the rest, by label."""
    box(form, "what happens").value = option(box(form, "what happens"), what)
    if where:
        box(form, "where").value = option(box(form, "where"), where)
    for label, value in values.items():
        # Lengths are typed; whatever else is chosen.
        typed = str(value) if label == "length" else value
        box(form, label.replace("_", " ")).value = typed


def press(form):
    box(form, "Note it").click()
    return plain(form)


def test_a_row_is_left_and_found_again_where_it_was(patch):
    """Worked up to row 1; B1 runs short in row 2 and is joined; a stop; closed, and opened."""
    rows, form = row_form(patch), in_row_form(patch)
    box(rows, "Row worked").click()
    fill_in(form, "ran short", "3 B B1", after=2, supply="B1")
    assert "B1 ran short after 2 of 3 B B1 in row 2 (WS)." in press(form)
    fill_in(form, "a new length is joined", "3 B B1", after=2, supply="B1", length=1.5)
    assert "1.50 m are joined to B1 after 2 of 3 B B1 in row 2 (WS)." in press(form)
    assert "That makes 2 more ends to sew in." in plain(form)
    fill_in(form, "I stop here", "3 A A1b", after=1, in_your="bed time")
    assert "You stop after 1 of 3 A A1b in row 2 (WS)." in press(form)

    again = plain(row_form(Desk(open_project(patch.project.folder))))
    card = again[again.index("Row 2 (WS)") :]
    for words in (
        "B1 ran short after 2 of 3 B B1 in row 2 (WS).",
        "1.50 m were joined to B1 after 2 of 3 B B1 in row 2 (WS).",
        "You stopped after 1 of 3 A A1b in row 2 (WS): bed time.",
    ):
        assert words in card
    assert patch.plan.ends_in_all == 6
    # With its row they go.
    box(rows, "Row worked").click()
    assert "You stopped" not in plain(rows)
    box(rows, "Take the last row back").click()
    assert "row 2: a new length was joined to B1; open the join" in plain(rows)
    box(rows, "Row worked").click()
    assert patch.plan.ends_in_all == 4


def test_the_notes_of_a_row_that_is_begun_are_taken_back(patch):
    rows, form = several_rows_form(patch), in_row_form(patch)
    work_rows(patch, 2)
    fill_in(form, "joined", "3 B B1", supply="B1", length=2)
    press(form)
    anew = "Row 3 has notes. Marked so, it is begun anew and they are taken back."
    assert anew in plain(rows)
    mark_as(rows, 2)
    assert "row 3 is taken back. row 3: a new length was joined to B1; open the join" in plain(rows)
    assert rows_worked(read_progress(patch.project.folder)) == 2
    assert patch.plan.ends_in_all == 4


def test_a_felted_join_adds_no_ends(tmp_path):
    folder = write(tmp_path, chart="\n".join(PATCH) + "\n", yarns="letter,feltable\nA,no\nB,yes\n")
    desk = Desk(open_project(folder))
    work_rows(desk, 2)
    form = in_row_form(desk)
    fill_in(form, "joined", supply="B1", length=2)
    assert "2.00 m are joined to B1 after row 2." in press(form)
    assert "ends" not in plain(form)


def test_what_hangs_is_offered_and_a_run_by_its_row(patch):
    form = in_row_form(patch)
    fill_in(form, "ran short")
    assert box(form, "supply").options == ("A1a", "A1b")
    work_rows(patch, 1)
    assert box(form, "supply").options == ("A1a", "A1b", "B1")
    where = box(form, "where")
    assert [label for label, _ in where.options] == [
        *("between two rows", "2 A A1a", "3 B B1", "3 A A1b")
    ]
    fill_in(form, "I stop here", "3 B B1")
    work_rows(patch, 1)
    assert where.value == (2, BETWEEN_ROWS)  # not the second run of another row
    work_rows(patch, 3)
    assert where.options == (("between two rows", (5, BETWEEN_ROWS)),)


def test_two_that_were_exchanged_are_noted(patch):
    work_rows(patch, 2)
    form = in_row_form(patch)
    fill_in(form, "exchanged", supply="A1a", the_other="A1b")
    assert "A1a and A1b are exchanged after row 2." in press(form)
    last = read_progress(patch.project.folder)[-1]
    assert (last.strand, last.part, last.other, last.row) == ("A1", "first half", "A1b", 2)


def test_nothing_is_noted_twice(patch):
    work_rows(patch, 1)
    form = in_row_form(patch)
    fill_in(form, "joined", "3 B B1", supply="B1", length=2, in_your="a knot")
    press(form)
    assert (box(form, "length").value, box(form, "in your words").value) == ("", "")
    assert "How long is B1?" in press(form)
    assert len(read_progress(patch.project.folder)) == 2


def test_one_note_alone_is_taken_out(patch):
    """Of two, the one that was a mistake; the other and the rows stay, and the plan follows."""
    work_rows(patch, 1)
    form = in_row_form(patch)
    notes = box(form, "all notes")
    assert notes.layout.display == "none"
    fill_in(form, "joined", "3 B B1", supply="B1", length=2)
    press(form)
    assert notes.value == patch.project.progress[-1].number
    fill_in(form, "I stop here", "3 B B1", after=2)
    press(form)
    assert notes.layout.display == ""
    assert patch.plan.ends_in_all == 6
    notes.value = option(notes, "2.00 m were joined to B1")
    box(form, "Take this note out").click()
    assert "the note is taken out." in plain(form)
    assert patch.plan.ends_in_all == 4
    assert [label for label, _ in notes.options] == ["You stopped after 2 of 3 B B1 in row 2 (WS)."]
    box(form, "Take this note out").click()
    assert notes.layout.display == "none"
    assert rows_worked(read_progress(patch.project.folder)) == 1
    assert len(read_progress(patch.project.folder)) == 5


def test_a_note_of_an_older_row_is_not_taken_out_by_itself(patch):
    """Another notebook goes on meanwhile: what came after the note is not known here."""
    work_rows(patch, 1)
    note_in_row(patch, Happened("stopped", (1, 1)))
    (*_, stopped) = patch.project.progress
    work_rows(patch, 1)
    with pytest.raises(PlanError, match="none of the row on the needles any more"):
        take_out(patch, stopped.number)


def test_another_piece_on_the_desk_is_shown_and_nothing_typed_for_the_first_is_kept(
    patch, tmp_path
):
    """Its card, its supplies, its rows; nothing has changed in it since it was opened."""
    folder = tmp_path / "other"
    folder.mkdir()
    other = small_piece(folder, ["CCCC", "CCDD", "CCDD"])
    card, several, in_row = row_form(patch), several_rows_form(patch), in_row_form(patch)
    changes, ends, balls = changes_fold(patch), ends_pane(patch), balls_form(patch)
    changes.heading.click()
    work_rows(patch, 3)
    fill_in(in_row, "joined", supply="B1", length=2)
    patch.go_to(other)
    assert "Row 1 (RS), knit, right to left" in plain(card)
    assert "2 C C C1" in plain(card)
    assert "is worked" not in plain(card)
    assert box(several, "the last row worked is").value == 0
    assert set(box(in_row, "supply").options) <= {"C1", "C1a", "C1b", "D1"}
    assert box(in_row, "length").value == ""
    assert changes.heading.description == "Changing the plan on the way: as it was"
    assert "Nothing has changed" in plain(changes)
    assert "No row is worked yet" in ends.value
    assert box(balls, "row").max == 3


@pytest.mark.parametrize(
    ("typed", "words"),
    [
        ("", "How long is B1? Measure or weigh it, tail included."),
        ("0", "How long is B1?"),
        ("2,500", 'The length is "2,500", which is not a number. Write a decimal point: "2.500"; '),
        ("a lot", 'The length is "a lot", which is not a number.'),
    ],
)
def test_a_length_is_typed_and_never_nothing(patch, typed, words):
    work_rows(patch, 1)
    form = in_row_form(patch)
    fill_in(form, "joined", "3 B B1", supply="B1", length=typed)
    patch.change(units="in")
    assert words in press(form)
    assert len(read_progress(patch.project.folder)) == 1


B1 = {"supply": "B1", "length": 1.0}
WRONG = {  # what is filled in when row 1 is worked, and what is said
    "a strand that does not exist": (
        ("ran short", (1, 1), {"supply": "W9"}),
        "No W9 hangs from the work in this row. There hang A1a, A1b, B1.",
    ),
    "a strand by its halves' name": (
        ("ran short", (1, 1), {"supply": "A1"}),
        "No A1 hangs from the work in this row. There hang A1a, A1b, B1.",
    ),
    "no strand": (
        ("ran short", (1, 1), {}),
        "No supply is chosen that hangs from the work in this row.",
    ),
    "no length": (
        ("joined", (1, 1), {"supply": "B1"}),
        "How long is B1? Measure or weigh it, tail included.",
    ),
    "less than none": (
        ("left", (1, BETWEEN_ROWS), B1 | {"length": -1}),
        "How long is B1? Measure or weigh it, tail included.",
    ),
    "no number": (("joined", (1, 1), B1 | {"length": float("nan")}), "How long is B1?"),
    "endless": (("joined", (1, 1), B1 | {"length": float("inf")}), "length of B1 is inf"),
    "by weight without a band": (
        ("left", (1, 1), B1 | {"measured": "g"}),
        "Yarn B has no length and weight of a ball in yarns.csv, so measure its length.",
    ),
    "more stitches than the run has": (
        ("stopped", (1, 1), {"after": 4}),
        "3 B B1 are worked in row 2 (WS); after how many of them is it? You gave 4.",
    ),
    "before its first stitch": (("stopped", (1, 1), {"after": 0}), "You gave 0."),
    "another row": (
        ("stopped", (0, 0), {}),
        "Another row is on the needles by now. Look at the card again.",
    ),
    "exchanged for itself": (
        ("exchanged", (1, 1), {"supply": "A1a", "other": "A1a"}),
        "Which supply was taken for A1a? Choose another than A1a itself.",
    ),
    "exchanged for another colour": (
        ("exchanged", (1, 1), {"supply": "A1a", "other": "B1"}),
        "A1a is of yarn A and B1 of yarn B: the stitches would have another colour. Take the row",
    ),
    "exchanged for nothing": (
        ("exchanged", (1, 1), {"supply": "A1a"}),
        "No supply is chosen that hangs from the work in this row.",
    ),
}


@pytest.mark.parametrize("name", WRONG)
def test_wrong_arguments(patch, name):
    (what, where, values), words = WRONG[name]
    work_rows(patch, 1)
    with pytest.raises(PlanError) as refused:
        note_in_row(patch, Happened(what, where, **values))
    assert words in str(refused.value)
    assert len(read_progress(patch.project.folder)) == 1


def test_a_note_is_not_made_on_a_piece_that_has_changed(patch):
    other = Desk(open_project(patch.project.folder))
    work_rows(other, 1)
    form = in_row_form(patch)
    fill_in(form, "I stop here")
    assert "The piece has changed meanwhile. Look at the card again." in press(form)
    assert len(read_progress(patch.project.folder)) == 1


def test_what_is_left_can_be_measured_or_weighed(desk):
    card, rows, form = row_form(desk), lasts_pane(desk), in_row_form(desk)
    work_rows(desk, 12)
    fill_in(form, "left of it", supply="T1", length=3.5)
    assert "3.50 m of T1 are left after row 12." in press(form)
    assert read_progress(desk.project.folder)[-1].length_cm == 350
    fill_in(form, "left of it", supply="T1", measured_in="g", length=5)
    press(form)
    last = read_progress(desk.project.folder)[-1]
    assert (last.what, last.row, last.length_cm) == ("left", 12, 1000)  # 100 m in 50 g
    assert "10.00" in said(rows)
    assert "10.00 m of T1 were left after row 12." in plain(card)


def test_what_is_typed_is_in_the_unit_shown(desk):
    """9.144 m are 10 yd, also when the unit is changed between typing and noting."""
    form = in_row_form(desk)
    work_rows(desk)
    fill_in(form, "left of it", supply="T1", length=9.144)
    desk.change(units="in")
    assert (box(form, "measured in").value, box(form, "length").value) == ("yd", "10")
    assert "10.00 yd of T1 are left after row 1" in press(form)
    assert read_progress(desk.project.folder)[-1].length_cm == 914.4


@pytest.mark.parametrize(("unit", "length"), [("m", 100), ("yd", 91.44), ("g", 200)])
def test_cm_per_unit(desk, unit, length):
    """100 m in 50 g."""
    assert cm_per_unit(desk.plan, "T", unit) == pytest.approx(length)


def test_a_gram_of_a_yarn_without_a_band_is_no_length():
    plan = make_plan(Project("x", Chart.from_rows(["AA"])))
    with pytest.raises(PlanError, match="so measure its length"):
        cm_per_unit(plan, "A", "g")


# ---- what is shown


def test_the_other_panes_speak(desk):
    assert "Good rows to stop at: after 2, 4, 6, 8, 10" in said(stops_pane(desk))


def test_a_row_has_the_moment_at_which_it_was_marked(desk):
    before = datetime.now().replace(microsecond=0)
    mark_rows(desk, 3)
    moments = {datetime.fromisoformat(each.moment) for each in read_progress(desk.project.folder)}
    (moment,) = moments  # three at once
    assert before <= moment <= datetime.now()


def test_the_hours_left_and_how_far_tonight(desk):
    """Ten rows of 72 stitches in six minutes each: by hand, ten more in an hour."""
    plan = desk.plan
    start = datetime(2026, 3, 14, 19)
    log = [
        replace(entry, moment=(start + timedelta(minutes=6 * entry.row)).isoformat())
        for entry in knitted(plan, 10)
    ]
    slow = make_plan(replace(plan.project, progress=tuple(log)))
    left = time_left(slow, log)
    assert evening(slow).startswith(f"Evenings: {time_in_words(left)} left; next, stop after row ")
    assert "learnt from 9 rows" in tonight_html(slow, 60)
    until = rows_tonight(left, 10, 60)
    assert 14 <= until <= 20
    assert f"In 60 minutes you come to the end of row {until}" in tonight_html(slow, 60)
    assert "less than the next row takes" in tonight_html(slow, 1)
    assert "once 5 are timed" in said(stops_pane(desk))


def test_a_fold_says_what_has_changed_since_the_piece_was_opened(patch):
    folded = changes_fold(patch)
    assert folded.heading.description == "Changing the plan on the way: as it was"
    folded.heading.click()
    assert "Nothing has changed since this notebook was opened." in plain(folded)
    patch.change(allow=replace(patch.project.allow, tail_cm=30))
    assert folded.heading.description == "Changing the plan on the way: 2 lengths otherwise"
    assert "Nothing has changed" not in plain(folded)


def test_headings_say_how_things_stand(desk):
    """As the demo is before its first row, in row 36 (of nine runs), and when all is worked."""
    plan = desk.plan
    states = {}
    for done in (0, 35, len(plan.cards)):
        here = make_plan(replace(desk.project, progress=knitted(plan, done)))
        headings = (notes_made, lasting, rows_marked, order_around, balls_now, evening)
        headings += (worth_reading, ends_by_now, as_written)
        states[done] = [heading(here) for heading in headings]
    assert states[0] == [
        "Notes, and what happens in the row: none",
        "Will it last: as far as can be told, yes; to be safe the shopping list has 1 ball of N",
        "Rows worked: 0 of 96",
        "Where the strands lie: rows 1 to 8",
        "Balls on the table: 1 in row 1",
        "Evenings: next, stop after row 10",
        "Worth reading before their turn: 4 stretches, the next from row 11",
        f"Ends: 0 of {len(plan.ends)} can be sewn in now",
        "As a pattern writes it: 96 rows in words",
    ]
    assert states[35][2:6] == [
        "Rows worked: 35 of 96",
        "Where the strands lie: rows 33 to 40",
        "Balls on the table: none in row 36",
        "Evenings: next, stop after row 54",
    ]
    assert states[96][3:7] == [
        "Where the strands lie: rows 89 to 96",
        "Balls on the table: all rows are worked",
        "Evenings: all rows are worked",
        "Worth reading before their turn: 4 stretches",
    ]


def test_where_no_balls_are_noted_nothing_is_said_to_be_short():
    """Of A no ball is noted in hand, of B one, which is more than enough for 24 stitches."""
    yarns = {
        "A": Yarn("A", metres_per_ball=100),
        "B": Yarn("B", metres_per_ball=100, balls_in_hand=1),
    }
    plan = make_plan(Project("piece", Chart.from_rows(["AAAABBBB"] * 6), yarns))
    noted = "no balls noted in hand: tell in notebook 1, Yarns"
    assert lasting(plan) == f"Will it last: A: {noted}"
    told = re.sub(r"<[^>]+>", " ", lasts_html(plan, ()))
    assert told.count(noted) == 1
    assert not re.search(r"[-−]\d", told)


def test_a_supply_that_may_not_last_is_named_in_the_heading(patch):
    """Of B1 ten centimetres are left, of A1a plenty; of the balls in hand nothing is known."""
    work_rows(patch, 2)
    note_in_row(patch, Happened("left", (2, BETWEEN_ROWS), supply="B1", length=0.1))
    note_in_row(patch, Happened("left", (2, BETWEEN_ROWS), supply="A1a", length=9))
    assert lasting(patch.plan).startswith(
        "Will it last: look at B1; yarn in hand of A, B: not known"
    )
    assert notes_made(patch.plan) == "Notes, and what happens in the row: 2 in this row"


def test_the_balls_in_any_row(desk):
    """The slider goes with the row on the needles; what is said of it is what is advised."""
    form = balls_form(desk)
    assert "No balls have to be cleared" in plain(form)
    work_rows(desk, 20)
    assert box(form, "row").value == 21
    box(form, "row").value = 25
    for sentence in advise(desk.plan)[24].before:
        assert sentence in plain(form)


def test_the_row_on_the_needles(desk):
    plan = desk.plan
    rows = len(plan.cards)
    assert "Row 1 (RS)" in card_now_html(plan, 0)
    assert "Time for a pause" in card_now_html(plan, 20)
    assert "Time for a pause" not in card_now_html(plan, 21)
    assert "All 96 rows are worked" in card_now_html(plan, rows)
    around = [words_of(around_html(plan, done)).split() for done in (0, 1, rows - 1, rows)]
    assert [words[0] for words in around] == ["Then", "Below", "Below", "Below"]
    assert [words.count("Then") for words in around] == [2, 2, 0, 0]
    assert " ".join(around[1][:5]) == "Below it row 1 (RS)"
    assert " ".join(around[3][:5]) == "Below it row 96 (WS)"


def test_casting_on_comes_before_the_first_row_and_binding_off_after_the_last():
    edged, plain_edges = plan_of(PATCH, allow=Allowances()), plan_of(PATCH)
    for plan, has_edges in ((edged, True), (plain_edges, False)):
        cards = [words_of(card_now_html(plan, done)) for done in range(6)]
        assert ("Cast on" in cards[0]) == has_edges
        assert "Row 1 (RS)" in cards[0]
        assert ("Bind off" in cards[5]) == has_edges
        assert ("Sew the ends in." in cards[5]) != has_edges
        assert not any("Cast on" in card or "Bind off" in card for card in cards[1:5])


def test_this_sitting_and_its_end():
    """By eye: B begins in row 2, WS rows are good to stop after: up to row 4, the last of them."""
    plan = plan_of(PATCH)

    def told(done):
        log = knitted(plan, done)
        return " ".join(words_of(sitting_html(plan_of(PATCH, progress=log))).split())

    first = told(0)
    assert "From row 1 to row 4, a good one to stop after." in first
    assert "To wind and lay out, each before its row: 1 A1" in first
    assert "2 B1" in first
    assert "This sitting From row 1 to row 4" in told(3)
    assert told(4) == (
        "The next sitting Row 4 is worked: the last sitting is over. From row 5 to the end. "
        "Nothing more to wind or lay out."
    )
    assert told(5) == "To finish 4 ends to sew in: where, stands below."


def test_a_note_of_ones_own_is_kept_with_its_row(patch):
    """It stands on the card of its row, before and when its turn comes, and stays though rows are
    taken back; the file has it in plain words."""
    form, card = in_row_form(patch), row_form(patch)
    assert box(form, "row").value == 1
    box(form, "your note").value = "  begin the buttonhole here "
    box(form, "row").value = 3
    box(form, "Keep the note").click()
    assert "kept with row 3: begin the buttonhole here" in plain(form)
    assert box(form, "your note").value == ""
    assert "Then row 3 (RS) 3 A1b, 3 B1, 2 A1a · Your note: begin" in plain(card)
    work_rows(patch, 2)
    assert "Row 3 (RS), knit, right to left Your note: begin the buttonhole here" in plain(card)
    assert notes_made(patch.plan) == "Notes, and what happens in the row: 1 in this row"
    # A free note is none that begins its row, and it is not taken back with it.
    work_rows(patch, 1)
    work_rows(patch, -3)
    assert notes_made(patch.plan) == "Notes, and what happens in the row: 1 about other rows"
    last = read_progress(patch.project.folder)[0]
    assert (last.what, last.row, last.note) == ("note", 3, "begin the buttonhole here")
    assert "note,3," in (patch.project.folder / "progress.csv").read_text()
    assert "Your note: begin" in str(plain(row_form(Desk(open_project(patch.project.folder)))))
    box(form, "Take this note out").click()
    assert notes_made(patch.plan) == "Notes, and what happens in the row: none"


def test_a_note_is_about_a_row_of_the_piece_and_not_empty(patch):
    with pytest.raises(PlanError, match="empty"):
        write_note(patch, 2, "  ")
    with pytest.raises(PlanError, match="no row 6: the piece has 5 rows"):
        write_note(patch, 6, "too far")


def test_a_chance_is_told_only_where_there_is_something_to_say():
    """As planned every supply has the same: 95 in 100 tell nobody anything."""
    plan = plan_of(PATCH)
    table, _ = lasts_html(plan, knitted(plan, 2)).split("</table>", 1)
    assert "chance" not in table
    assert "out in row" not in table
    assert "left planned (m)" in table
    assert lasts_html(plan, ()).startswith("<p>No supply is on the needles now.")


def test_the_row_on_the_needles_is_marked_in_the_picture(desk):
    work_rows(desk, 20)
    assert 'alt="Rows 18 to 25, row 21 marked"' in order_now_html(desk.plan)
    plan = plan_of(PATCH)
    for done, alt in ((4, "Rows 1 to 5, row 5 marked"), (5, "Rows 1 to 5")):
        worked = plan_of(PATCH, progress=knitted(plan, done))
        assert f'alt="{alt}"' in order_now_html(worked)


def test_ends_that_can_be_sewn_in_come_first(desk):
    html = ends_html(desk.plan)
    assert "No row is worked yet, so there are no ends to sew in now." in html
    assert f"{desk.plan.ends_in_all} ends to come" in html
    pane = ends_pane(desk)
    work_rows(desk, 60)
    ends = ends_in_words(desk.plan)
    now = (ends.from_row <= 60).sum()
    assert 0 < now < len(ends)
    assert f"{now} ends can be sewn in now, when row 60 is worked." in pane.value
    assert f"{len(ends) - now} ends to come" in pane.value


def test_what_is_embroidered_has_its_ends_when_all_is_worked(desk):
    """The demo's own choices may embroider; ends of it wait for the last row."""
    ends = ends_in_words(desk.plan)
    assert (ends.from_row[ends.end == "embroidery"] == len(desk.plan.cards)).all()
    assert (ends.from_row <= ends.sew_after_row).all()
    assert (ends.from_row >= ends.row).all()


def test_tails_caught_is_a_habit_that_is_kept(patch):
    """Ticked in notebook 3, it stands in piece.toml. B1 begins with three stitches, too few to
    catch its tail, and A1 from its middle: so the ends stay as many."""
    form = ways_form(patch)
    before = patch.plan.ends_in_all
    box(form, "tails are caught").value = True
    assert "tails_caught = true" in (patch.project.folder / "piece.toml").read_text()
    assert open_project(patch.project.folder).habits == replace(Habits(), tails_caught=True)
    assert patch.plan.ends_in_all == before


def test_stretches_are_shown_under_their_reason(desk):
    words = plain(stretches_pane(desk))
    assert "begins" in words
    assert "the busiest row" in words
    assert "in every row" in plain(stretches_pane(Desk(Project("x", Chart.from_rows(["AA"] * 3)))))


def test_the_chart_in_words(desk):
    words = plain(pattern_pane(desk))
    assert words.startswith("Row 1 (RS): 72 T")
    assert "Row 96 (WS): " in words


def test_busy_rows(desk):
    """As the plan's own table has them."""
    rows = desk.plan.rows.set_index("row")
    busy = busiest_rows(desk.plan)
    to_do = rows.borders + 2 * (rows.starts + rows.ends)
    assert len(busy) == 6
    assert to_do[busy].min() >= to_do.drop(busy).max()


def test_a_busy_row_that_is_good_to_stop_after_is_named_as_both():
    """On the practice piece, rows 14, 18 and 24: the two lines must not gainsay each other."""
    plan = make_lesson(demo().project).plan
    words = stops_html(plan)
    good = rows_to_stop(plan)
    both = [str(row) for row in busiest_rows(plan) if row in good]
    assert len(both) > 1
    told = f"begin none of these late in an evening. After {listed(both)}, once worked, it is good"
    assert told in words


def with_many_balls(desk):
    """The plan of a knitter who does not like to wind anything up."""
    no_rewinding = replace(desk.project.habits, rewinding=False)
    return make_plan(replace(desk.project, habits=no_rewinding))


def test_balls_are_spoken_of_on_the_card(desk):
    """What is said before the row and after it, word for word as it is advised."""
    plan = with_many_balls(desk)
    said = 0
    for balls in advise(plan):
        card = words_of(card_now_html(plan, balls.row - 1))
        for sentence in (*balls.before, *balls.after):
            assert sentence in card
            said += 1
    assert said > len(plan.cards)
