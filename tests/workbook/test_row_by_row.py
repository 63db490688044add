"""The forms of notebook 4: the row on the needles, without a browser."""

from dataclasses import replace

import pytest

from planner import Chart, PlanError, Project, make_plan, open_project
from planner.folder import read_progress
from planner.twists import twist_ledger
from planner.workbook import Desk, changes_pane, left_form, row_form, stops_pane, twist_form
from planner.workbook.row_by_row import (
    below_html,
    busiest_rows,
    card_now_html,
    cm_per_unit,
    coming_html,
    good_rows_to_stop,
    order_now_html,
    stretches_in_words,
    tangled_stretches,
)
from tests.helpers.forms import box, said


def test_marking_rows_moves_the_card_and_opens_there_again(desk):
    form = row_form(desk)
    assert "Row 1 (RS), right to left: 72 T1 (72 stitches)" in said(form)
    for _ in range(12):
        box(form, "Row worked").click()
    assert "Row 13 (RS), right to left: 28 K1, 44 T1" in said(form)
    assert "Below it: row 12 (WS), 44 T1, 28 K1" in said(form)
    again = row_form(Desk(open_project(desk.project.folder)))
    assert "Row 13 (RS), right to left: 28 K1, 44 T1" in said(again)
    box(form, "Take the last row back").click()
    assert "Row 12 (WS)" in said(form)
    assert [entry.what for entry in read_progress(desk.project.folder)] == ["row worked"] * 12 + [
        "row undone"
    ]


def test_two_notebooks_on_one_piece_do_not_lose_their_place(desk):
    """The other notebook has marked row 1 meanwhile: this one says so and shows row 2, unmarked."""
    here, other = row_form(desk), row_form(Desk(open_project(desk.project.folder)))
    box(other, "Row worked").click()
    box(here, "Row worked").click()
    assert "row 1 worked. Look at the card again" in said(here)
    assert "Row 2 (WS)" in said(here)
    assert len(read_progress(desk.project.folder)) == 1


def test_what_is_left_can_be_measured_or_weighed(desk):
    rows, form = row_form(desk), left_form(desk)
    for _ in range(12):
        box(rows, "Row worked").click()
    box(form, "strand").value, box(form, "tail included").value = "T1", 3.5
    box(form, "Note it").click()
    assert read_progress(desk.project.folder)[-1].length_cm == 350
    box(form, "measured in").value, box(form, "tail included").value = "g", 5
    box(form, "Note it").click()
    last = read_progress(desk.project.folder)[-1]
    assert (last.what, last.row, last.length_cm) == ("left", 12, 1000)  # 100 m in 50 g
    assert "10.00" in rows.children[-2].value


def test_what_is_typed_is_in_the_unit_shown(desk):
    """9.144 m are 10 yd, also when the unit is changed between typing and noting."""
    rows, form = row_form(desk), left_form(desk)
    box(rows, "Row worked").click()
    box(form, "strand").value, box(form, "tail included").value = "T1", 9.144
    desk.change(units="in")
    assert (box(form, "measured in").value, box(form, "tail included").value) == ("yd", 10)
    box(form, "Note it").click()
    assert read_progress(desk.project.folder)[-1].length_cm == 914.4
    assert "T1: 10 yd noted after row 1" in said(form)


def test_the_other_panes_speak(desk):
    assert "Good rows to stop at: after 1–10" in said(stops_pane(desk))
    changes = changes_pane(desk)
    assert "Nothing has changed" in changes.value
    form = twist_form(desk)
    assert "Balls on the table: K1, T1, R1. " in said(form)


# The functions behind the forms


@pytest.mark.parametrize(
    ("rows", "words"),
    [([], ""), ([4], "4"), ([1, 2, 3], "1–3"), ([1, 2, 4, 7, 8], "1–2, 4, 7–8")],
)
def test_stretches_in_words(rows, words):
    assert stretches_in_words(rows) == words


def test_the_row_on_the_needles(desk):
    plan = desk.plan
    ledger, rows = twist_ledger(plan), len(plan.cards)
    assert "Row 1 (RS)" in card_now_html(plan, ledger, 0)
    assert "Time for a pause" in card_now_html(plan, ledger, 20)
    assert "Time for a pause" not in card_now_html(plan, ledger, 21)
    assert "All 96 rows are worked" in card_now_html(plan, ledger, rows)
    assert (below_html(plan, 0), order_now_html(plan, rows)) == ("", "")
    assert below_html(plan, rows).startswith("Below it: row 96")
    assert coming_html(plan, 0).count("<br>") == 2
    assert coming_html(plan, rows - 2).startswith("<b>row 96 (WS)</b>")
    assert coming_html(plan, rows) == ""


def test_rows_to_stop_at_and_busy_ones(desk):
    """As the plan's own table and ledger have them, row by row."""
    plan = desk.plan
    ledger, rows = twist_ledger(plan), plan.rows.set_index("row")
    for row in good_rows_to_stop(plan, ledger):
        assert ledger[row - 1].clear
        assert rows.live[row] <= max(plan.project.habits.comfortable, rows.live.quantile(0.25))
        assert row == len(rows) or rows.starts[row + 1] == 0
    busy = busiest_rows(plan)
    to_do = rows.borders + 2 * (rows.starts + rows.ends)
    assert len(busy) == 6
    assert to_do[busy].min() >= to_do.drop(busy).max()


def with_many_balls(desk):
    """The plan of a knitter who does not like to wind anything up."""
    no_rewinding = replace(desk.project.habits, rewinding=False)
    return make_plan(replace(desk.project, habits=no_rewinding))


def test_balls_are_spoken_of_where_several_lie_on_the_table(desk):
    plan = with_many_balls(desk)
    ledger = twist_ledger(plan)
    for tangle in ledger:
        card = card_now_html(plan, ledger, tangle.row - 1)
        assert ("Balls:" in card) == (len(tangle.table) > 1)


def test_tangled_stretches_are_longer_than_two_rows(desk):
    ledger = twist_ledger(with_many_balls(desk))
    stretches = tangled_stretches(ledger)
    assert stretches
    for first, last, best in stretches:
        assert last - first >= 2
        assert first <= best <= last
        assert not any(tangle.clear for tangle in ledger[first - 1 : last])


@pytest.mark.parametrize(("unit", "length"), [("m", 100), ("yd", 91.44), ("g", 200)])
def test_cm_per_unit(desk, unit, length):
    """100 m in 50 g."""
    assert cm_per_unit(desk.plan, "T1", unit) == pytest.approx(length)


def test_a_gram_of_a_yarn_without_a_band_is_no_length():
    plan = make_plan(Project("x", Chart.from_rows(["AA"])))
    with pytest.raises(PlanError, match="so measure its length"):
        cm_per_unit(plan, "A1", "g")
