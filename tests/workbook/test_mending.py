"""The form of mending, without a browser: marks, cures, and rows taken back from it."""

import pytest

from planner import PlanError, make_plan, open_project
from planner.finishing import TO_COVER, ends_to_run, to_cover
from planner.folder import read_progress
from planner.knitting import left_on_supplies
from planner.mending import DROPPED, HOLE, TWISTED, WRONG_YARN, Fault, Stitch
from planner.piece import LEFT, NOTED, STOPPED, WORKED, notes_in_row, rows_worked, standing
from planner.workbook import Desk, Piece
from planner.workbook.finishing import left_html, mark_ends, to_finish
from planner.workbook.mending import MendChart, keep_to_cover, mending_form, mending_title
from tests.helpers.folders import marked
from tests.helpers.forms import (
    box,
    boxes,
    by_label,
    press,
    press_on,
    said,
    said_html,
    small,
    work_rows,
)
from tests.helpers.progress import small_piece

# 20 stitches in 12 rows: 12 A at the left, 8 B at the right.
ROWS = ["A" * 12 + "B" * 8] * 12


@pytest.fixture
def knitted_desk(tmp_path):
    """A desk with the small piece, nine rows of it worked."""
    desk = Desk(open_project(small_piece(tmp_path, ROWS)))
    work_rows(desk, 9)
    return desk


def chart_of(form):
    (chart,) = boxes(form, MendChart)
    return chart


def touch(form, row, column):
    """Touch a cell, both counted from 0 from the bottom left, as a browser tells it."""
    press_on(chart_of(form), "touch", str(row * 20 + column))


def is_shown(form, label):
    return by_label(form)[label].layout.display != "none"


def test_a_touched_stitch_has_its_cures(knitted_desk):
    form = mending_form(knitted_desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 4, 5)
    assert [item["what"] for item in chart_of(form).items] == [
        "the 7th of 12 A A1 in row 5 (RS), after 8 B B1"
    ]
    # Boxes follow the touch, so that the next stitch may be typed from there.
    assert (box(form, "row").value, box(form, "stitch, as").value) == (5, 15)
    assert "Down the ladder and up again" in said(form)
    assert "Rip back to row 4" in by_label(form)
    # It is forgotten when it is touched once more.
    touch(form, 4, 5)
    assert chart_of(form).items == []
    assert "ladder" not in said(form)
    assert chart_of(form).answered == 1


def test_a_typed_stitch_is_the_one_that_the_card_counts(knitted_desk):
    form = mending_form(knitted_desk)
    box(form, "what is wrong").value = DROPPED
    box(form, "row").value, box(form, "stitch, as").value = 6, 3
    press(form, "Mark this stitch")
    assert chart_of(form).items[0]["what"].startswith("the 3rd of 12 A A1 in row 6 (WS)")
    press(form, "Forget all marks")
    assert chart_of(form).items == []


def test_several_are_counted_together_and_the_yarn_is_asked_for(knitted_desk):
    form = mending_form(knitted_desk)
    touch(form, 4, 5)
    assert is_shown(form, "it was knitted in")
    assert "In which yarn was it knitted? Choose it." in said(form)
    box(form, "it was knitted in").value = "A"
    assert "is in A. Choose the yarn" in said(form)
    box(form, "it was knitted in").value = "B"
    touch(form, 5, 5)
    assert "2 stitches in A" in said(form)
    box(form, "what is wrong").value = HOLE
    assert not is_shown(form, "it was knitted in")
    assert "No border is near" in said(form)


def test_what_is_not_knitted_is_said_in_words(knitted_desk):
    form = mending_form(knitted_desk)
    touch(form, 10, 5)
    assert "Row 11 is not knitted yet; the chart can still be changed." in said(form)
    assert chart_of(form).items == []


def test_ripping_back_asks_first_and_the_card_goes_on(knitted_desk):
    desk = knitted_desk
    form = mending_form(desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 6, 5)
    press(form, "Rip back to row 6")
    assert "Take back rows 7 to 9, with what was noted there?" in said(form)
    assert rows_worked(desk.project.progress) == 9
    press(form, "No, leave it")
    assert not is_shown(form, "Yes, take them back")
    press(form, "Rip back to row 6")
    press(form, "Yes, take them back")
    assert rows_worked(desk.project.progress) == 6
    assert rows_worked(read_progress(desk.folder())) == 6
    words = said(form)
    assert "rows 7 to 9 are taken back" in words
    assert "between 8 B B1 and 12 A A1" in words
    # What was marked is not there any more.
    assert chart_of(form).items == []
    assert Piece(desk).card().words().count("Row 7 (RS)")


def test_ends_that_were_sewn_in_are_told_before_rows_are_ripped(tmp_path):
    """By eye: A1 begins at the right edge of row 1, B1 at stitch 13 of row 3; both are run up over
    8 rows, their own the first of them.

    Ripped to row 1, A1's end hangs in a row that stays, and the rows that it lies along go.
    """
    desk = Desk(open_project(small_piece(tmp_path, [*["B" * 8 + "A" * 12] * 10, *["A" * 20] * 2])))
    work_rows(desk, 12)
    ends = [each for each in ends_to_run(desk.plan) if each.end.what == "start"]
    assert [(each.end.strand, each.end.row, each.from_row) for each in ends] == [
        ("A1", 0, 8),
        ("B1", 2, 10),
    ]
    mark_ends(desk, ends, sewn=True)
    form = mending_form(desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 8, 1)
    press(form, "Rip back to row 8")
    assert "an end of B1 was sewn in at stitch 13, along rows that go; draw it out" in said(form)
    assert "an end of A1" not in said(form)
    press(form, "No, leave it")
    press(form, "Forget all marks")
    touch(form, 1, 1)
    press(form, "Rip back to row 1")
    words = said(form)
    assert "Row 3: an end of B1 was sewn in at stitch 13; draw it out, its tick goes." in words
    along = "ow 1: an end of A1 was sewn in at stitch 1, along rows that go; draw it out"
    assert f"R{along}" in words
    press(form, "Yes, take them back")
    assert f"r{along}" in said(form)
    assert not any(each.is_sewn for each in ends_to_run(desk.plan))
    assert standing(read_progress(desk.folder()))[-1].what == WORKED


def test_what_was_measured_is_kept_with_what_comes_back(knitted_desk):
    desk = knitted_desk
    marked(desk.project, LEFT, 9, strand="B1", length_cm=200.0)
    desk.look()
    before = left_on_supplies(desk.plan, desk.project.progress)["B1"]
    assert before == 200
    form = mending_form(desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 6, 5)
    press(form, "Rip back to row 6")
    press(form, "Yes, take them back")
    line = standing(desk.project.progress)[-1]
    assert (line.what, line.row, line.strand) == (LEFT, 6, "B1")
    # Three rows of eight stitches at the plan's own yarn in a stitch.
    plan = desk.plan
    per_stitch = plan.multipliers["B"].value * plan.project.gauge.stitch_cm
    assert line.length_cm == pytest.approx(200 + 24 * per_stitch, abs=0.01)
    # Knitted again, what is left is what it was.
    work_rows(desk, 3)
    again = left_on_supplies(desk.plan, desk.project.progress)["B1"]
    assert again == pytest.approx(200, abs=0.02)


def test_knitting_back_leaves_the_row_begun(knitted_desk):
    """Row 9 goes from right to left: of its 20 stitches column 2 is the 18th."""
    desk = knitted_desk
    form = mending_form(desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 8, 2)
    press(form, "Knitted back to it")
    assert "The row is on the needles again then, 17 stitches worked." in said(form)
    press(form, "Yes, take them back")
    log = desk.project.progress
    assert rows_worked(log) == 8
    (stopped,) = notes_in_row(log, 9)
    assert (stopped.what, stopped.stitch) == (STOPPED, 17)
    assert "You stopped after 9 of 12 A A1 in row 9 (RS)" in Piece(desk).card().words()


def test_another_piece_or_chart_forgets_what_is_not_there(knitted_desk):
    desk = knitted_desk
    form = mending_form(desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 8, 5)
    work_rows(desk, -1)
    assert chart_of(form).items == []


def test_nothing_is_knitted_yet():
    desk = small()
    assert mending_title(desk.plan).endswith("nothing is knitted yet")
    form = mending_form(desk)
    assert "Nothing is knitted yet; the chart can still be changed." in said(form)
    press_on(chart_of(form), "touch", "0")
    assert "Row 1 is not knitted yet" in said(form)
    assert "<details" not in said_html(form)


def test_wrong_stitches_are_kept_for_after_blocking(knitted_desk):
    """Row 5, columns 5 and 6 of 20 from the left: stitches 14 and 15 from the right."""
    desk = knitted_desk
    form = mending_form(desk)
    assert "Keep for after blocking" not in by_label(form)
    touch(form, 4, 5)
    box(form, "it was knitted in").value = "B"
    touch(form, 4, 6)
    press(form, "Keep for after blocking")
    assert "kept, and listed in notebook 6" in said(form)
    assert len(chart_of(form).items) == 2
    (kept,) = to_cover(desk.plan)
    place = "2 stitches in A over B, chart row 5 stitches 14–15 from the right"
    # By the plan B hangs in row 5, so that it was not begun for these stitches.
    assert kept == f"{place}: cut 0.40 m, 2 ends to sew in"
    assert "Bring the needle up from the wrong side" in left_html(desk.plan)
    assert to_cover(make_plan(open_project(desk.folder()))) == [kept]
    assert f"Wrong stitches: {kept}." in left_html(desk.plan)
    assert to_finish(desk.plan).endswith("· wrong stitches to cover in 1 place")
    # Kept once, however often it is pressed.
    press(form, "Keep for after blocking")
    assert "That is kept already" in said(form)
    assert len(to_cover(desk.plan)) == 1


def test_a_note_that_was_kept_without_a_length_is_known_again(knitted_desk):
    desk = knitted_desk
    fault = Fault(WRONG_YARN, (Stitch(4, 5),), "B")
    place = "1 stitch in A over B, chart row 5 stitch 15 from the right"
    marked(desk.project, NOTED, 5, note=TO_COVER + place)
    desk.look()
    assert to_cover(desk.plan) == [place]
    with pytest.raises(PlanError, match="kept already"):
        keep_to_cover(desk, fault)
    assert to_cover(desk.plan) == [place]


def test_each_touch_says_what_is_marked_now(knitted_desk):
    """Row 5 goes from right to left: of 20 stitches column 5 is the 15th, column 6 the 14th."""
    form = mending_form(knitted_desk)
    touch(form, 4, 5)
    assert "1 stitch marked: row 5, the 15th, as the card counts." in said(form)
    touch(form, 4, 6)
    assert "2 stitches marked: row 5, the 14th and 15th, as the card counts." in said(form)
    box(form, "it was knitted in").value = "B"
    touch(form, 4, 6)
    assert "taken off again: row 5, the 14th." in said(form)
    assert "1 stitch marked: row 5, the 15th" in said(form)
    touch(form, 5, 5)
    assert "taken off" not in said(form)
    assert "2 stitches marked: row 5, the 15th; row 6, the 6th, as the card counts." in said(form)
    press(form, "Forget all marks")
    assert "marked:" not in said(form)


def test_what_is_ripped_is_not_to_be_covered_any_more(knitted_desk):
    desk = knitted_desk
    wrong = [Stitch(row, 5) for row in (2, 6)]
    keep_to_cover(desk, Fault(WRONG_YARN, tuple(wrong), "B"))
    assert len(to_cover(desk.plan)) == 2
    work_rows(desk, -4)
    (kept,) = to_cover(desk.plan)
    assert "chart row 3" in kept


def test_a_rung_is_explained_and_how_well_it_is_known_stands_apart(knitted_desk):
    form = mending_form(knitted_desk)
    box(form, "what is wrong").value = TWISTED
    touch(form, 4, 5)
    assert "A rung is the bar of yarn between two stitches" in said(form)
    assert "<summary>How well is this known?</summary>" in said_html(form)
    assert "common practice" not in said(form)
